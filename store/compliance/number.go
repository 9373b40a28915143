package compliance

import (
	"fmt"
	"math"
	"strconv"
)

// Minutes is a span of elapsed time. It is written to two decimals.
type Minutes float64

// Share is a proportion or another pure number. It is written to six decimals.
type Share float64

// MarshalJSON writes the minutes to two decimals.
func (m Minutes) MarshalJSON() ([]byte, error) { return number(float64(m), 2) }

// MarshalJSON writes the number to six decimals.
func (s Share) MarshalJSON() ([]byte, error) { return number(float64(s), 6) }

// Hours returns the span in hours.
func (m Minutes) Hours() float64 { return float64(m) / 60 }

// number writes v rounded to so many decimals, without trailing zeros and
// without a sign on zero.
func number(v float64, decimals int) ([]byte, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, fmt.Errorf("write figure: %v is not a number", v)
	}
	b := strconv.AppendFloat(nil, v, 'f', decimals, 64)
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b) == "-0" || string(b) == "" {
		b = []byte("0")
	}
	return b, nil
}
