package compliance

import (
	"math"
	"testing"
)

// The arithmetic by hand: a cusp is 7 mm, so a quarter is 1.75 and a half 3.5.
func TestTaken(t *testing.T) {
	for _, tt := range []struct {
		name string
		Taken
		left, sd float64
	}{
		{"overjet 6 mm, target 2", Taken{6, Millimetres, 2}, 4, 0},
		{"overjet at the target", Taken{2, Millimetres, 2}, 0, 0},
		{"a crossed front, 1 mm behind", Taken{-1, Millimetres, 2}, -3, 0},
		{"half a cusp in quarters", Taken{2, QuarterCusps, 0}, 3.5, 0.5},
		{"half a cusp in halves", Taken{1, HalfCusps, 0}, 3.5, 1},
		{"a full cusp", Taken{4, QuarterCusps, 0}, 7, 0.5},
		{"a quarter the other way", Taken{-1, QuarterCusps, 0}, -1.75, 0.5},
		{"a target of its own", Taken{2, QuarterCusps, 1}, 2.5, 0.5},
	} {
		left, err := tt.Left()
		if err != nil || math.Abs(left-tt.left) > 1e-12 || tt.SD() != tt.sd {
			t.Errorf("%s: %v mm still to correct with s.d. %v (%v), want %v with %v", tt.name, left, tt.SD(), err, tt.left, tt.sd)
		}
	}
	if _, err := (Taken{1, "inches", 0}).Left(); err == nil {
		t.Error("a measure in inches was taken")
	}
}
