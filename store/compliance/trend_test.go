package compliance

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: lambda 0.3, target
// 50, s 2.0539. The handbook prints limits 52.5884 and 47.4115.
func TestEWMAAgainstNIST(t *testing.T) {
	x := []float64{52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11,
		49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	limit := lowerLimit(50, 2.0539, 0.3)
	if math.Abs(limit-47.4115) > 1e-3 {
		t.Errorf("lower limit %v, want 47.4115", limit)
	}
	z := 50.0
	for i := range x {
		z = smooth(z, x[i], 0.3)
		if math.Abs(z-want[i]) > 0.0051 {
			t.Errorf("EWMA at %d: got %.4f, want %.2f", i+1, z, want[i])
		}
		if z < limit {
			t.Errorf("signal at %d, the handbook has none", i+1)
		}
	}
}

// NIST/SEMATECH e-Handbook, 6.3.2.3: target 325, k 0.3175, h 4.1959. The upper
// sum is the lower one of the mirrored values.
func TestCUSUMAgainstNIST(t *testing.T) {
	x := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
		324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	high := []float64{0, 0, 0, 0, .0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035}
	low := map[int]float64{2: .0075, 4: .3325, 7: .5575, 8: .715, 9: .1725, 10: .255, 11: .3125}
	var up, down float64
	signal := 0
	for i, v := range x {
		up = shortfall(up, -325, 0.3175, -v)
		down = shortfall(down, 325, 0.3175, v)
		if math.Abs(up-high[i]) > 0.006 {
			t.Errorf("upper sum at %d: got %.4f, want %.4f", i+1, up, high[i])
		}
		if want, ok := low[i+1]; ok && math.Abs(down-want) > 0.006 {
			t.Errorf("lower sum at %d: got %.4f, want %.4f", i+1, down, want)
		}
		if signal == 0 && (up > 4.1959 || down > 4.1959) {
			signal = i + 1
		}
	}
	if signal != 14 {
		t.Errorf("first signal at %d, the handbook has 14", signal)
	}
}

func repeat(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func TestTrendNeedsFourteenDays(t *testing.T) {
	if diff := cmp.Diff(Trend{}, trend(repeat(0.9, 13))); diff != "" {
		t.Errorf("13 days: -want +got\n%s", diff)
	}
	got := trend(repeat(0.9, 14))
	if got.EWMA == nil || math.Abs(float64(*got.EWMA)-0.9) > 1e-12 || *got.CUSUM != 0 || got.Below || got.CUSUMAlarm {
		t.Errorf("14 days: got %+v", got)
	}
	if *got.BaselineSD != 0.05 {
		t.Errorf("spread of equal days: got %v, want the floor, 0.05", *got.BaselineSD)
	}
}

// With mean 0.9 and s at its floor of 0.05 the lower limit is 0.9 - 0.15/3 =
// 0.85, and a day at 0.5 adds 0.9 - 0.025 - 0.5 = 0.375 to the CUSUM, which is
// cut at 0.3 and alarms over 0.25.
func TestTrendAlarmsAndForgets(t *testing.T) {
	y := append(repeat(0.9, 14), 0.5)
	got := trend(y)
	if math.Abs(float64(*got.LowerLimit)-0.85) > 1e-12 || math.Abs(float64(*got.CUSUM)-0.3) > 1e-12 {
		t.Errorf("limit %v, CUSUM %v; want 0.85 and 0.3", *got.LowerLimit, *got.CUSUM)
	}
	if !got.Below || !got.CUSUMAlarm { // EWMA 0.2 x 0.5 + 0.8 x 0.9 = 0.82
		t.Errorf("one day at 0.5 gave no signal: %+v", got)
	}
	// Each day at 1 takes 0.125 off: one is enough to end the alarm.
	if got := trend(append(y, 1)); got.CUSUMAlarm || math.Abs(float64(*got.CUSUM)-0.175) > 1e-12 {
		t.Errorf("the alarm latched: %+v", got)
	}
}

func TestMeanSD(t *testing.T) {
	if m, s := meanSD([]float64{2, 4, 4, 4, 5, 5, 7, 9}); m != 5 || math.Abs(s-math.Sqrt(32.0/7)) > 1e-15 {
		t.Errorf("got %v, %v", m, s)
	}
	if m, s := meanSD([]float64{3}); m != 3 || s != 0 {
		t.Errorf("one value: got %v, %v", m, s)
	}
}
