package compliance

import (
	"math"
	"testing"
)

// Newcombe, Stat Med 1998;17:857-872, method 3, prints four decimals.
func TestWilsonAgainstNewcombe(t *testing.T) {
	tests := []struct {
		k, n      int
		low, high float64
	}{
		{81, 263, .2553, .3662},
		{15, 148, .0624, .1605},
		{0, 20, .0000, .1611},
		{1, 29, .0061, .1718},
		// The mirror of 0/20, by symmetry of the method.
		{20, 20, .8389, 1},
		// Timm et al., J Clin Med 2021;10:3103: 953 of 2,644, computed from the
		// method's definition.
		{953, 2644, .3424, .3789},
	}
	for _, tt := range tests {
		w := Wilson(tt.k, tt.n)
		if math.Abs(float64(w.Low)-tt.low) > 5e-5 || math.Abs(float64(w.High)-tt.high) > 5e-5 {
			t.Errorf("%d/%d: got %.5f-%.5f, want %.4f-%.4f", tt.k, tt.n, w.Low, w.High, tt.low, tt.high)
		}
		if want := float64(tt.k) / float64(tt.n); float64(w.Value) != want {
			t.Errorf("%d/%d: value %v, want %v", tt.k, tt.n, w.Value, want)
		}
	}
	if w := Wilson(0, 20); math.Signbit(float64(w.Low)) || w.Low != 0 {
		t.Errorf("0/20: low is %v, want a plain 0", w.Low)
	}
	if Wilson(0, 0) != nil {
		t.Error("a share of nothing is known")
	}
}
