package compliance

import (
	"math"
	"testing"

	"bandbell/scheduler/plan"
)

// The rated force stands at three lumens: 4.5 oz are 127.5728540625 g by the
// definition of the ounce, and three times 1/4 in are 19.05 mm.
func TestPull(t *testing.T) {
	tests := []struct {
		span, want float64
	}{
		{19.05, 127.5728540625},
		{12.7, 127.5728540625 / 2},      // two lumens: half the extension
		{31.75, 127.5728540625 * 2},     // five: twice
		{22.225, 127.5728540625 * 1.25}, // three and a half
	}
	for _, tt := range tests {
		got, err := Pull(4.5, 6.35, tt.span)
		if err != nil {
			t.Errorf("%v mm: %v", tt.span, err)
		}
		within(t, "pull", got, tt.want, 1e-12)
	}
	for _, span := range []float64{0, 12.69, 31.76, math.NaN(), math.Inf(1), -19.05} {
		if got, err := Pull(4.5, 6.35, span); err == nil {
			t.Errorf("%v mm: got %v, want it refused", span, got)
		}
	}
	for _, size := range [][2]float64{{0, 6.35}, {4.5, 0}, {-1, 6.35}} {
		if got, err := Pull(plan.Force(size[0]), plan.Lumen(size[1]), 19.05); err == nil {
			t.Errorf("%v: got %v, want it refused", size, got)
		}
	}
}

// The published tables, at their own points: Kersey et al., Angle Orthod
// 2003;73:181-6; Klabunde and Grunheid, J Orofac Orthop 2022;83:16-24.
func TestDecayTables(t *testing.T) {
	published := map[string][3]float64{
		"latex-static":      {.87, .85, .83},
		"latex-cyclic":      {.77, .76, .75},
		"non-latex-static":  {.83, .78, .69},
		"non-latex-cyclic":  {.65, .63, .53},
		"latex-dynamic":     {.702, .688, .661},
		"non-latex-dynamic": {.480, .408, .295},
	}
	if len(Decays) != len(published) {
		t.Errorf("%d tables, want %d", len(Decays), len(published))
	}
	for name, want := range published {
		d, err := DecayNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, hours := range []float64{4, 8, 24} {
			got, err := d.Left(hours)
			if err != nil {
				t.Error(err)
			}
			within(t, name, got, want[i], 1e-12)
		}
		if got, _ := d.Left(0); got != 1 {
			t.Errorf("%s at 0 h: %v", name, got)
		}
		for _, hours := range []float64{-0.01, 24.01, math.NaN()} {
			if _, err := d.Left(hours); err == nil {
				t.Errorf("%s: %v h was read off the table", name, hours)
			}
			if _, err := d.MeanLeft(hours); err == nil {
				t.Errorf("%s: the mean over %v h was given", name, hours)
			}
		}
	}
	if _, err := DecayNamed("mean of all"); err == nil {
		t.Error("a table that was never published was found")
	}
}

// The exact mean is the limit of the midpoint rule.
func TestMeanLeftAgainstQuadrature(t *testing.T) {
	for _, d := range Decays {
		for _, hours := range []float64{0.5, 4, 5.5, 8, 22, 24} {
			const n = 200000
			var sum float64
			for i := range n {
				v, err := d.Left(hours * (float64(i) + 0.5) / n)
				if err != nil {
					t.Fatal(err)
				}
				sum += v / n
			}
			got, err := d.MeanLeft(hours)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got-sum) > 1e-8 {
				t.Errorf("%s over %v h: got %.10f, midpoint rule %.10f", d.Name, hours, got, sum)
			}
		}
		four, _ := d.MeanLeft(22.0 / 4)
		one, _ := d.MeanLeft(22)
		if !(four > one) {
			t.Errorf("%s: four changes a day keep %v, one %v", d.Name, four, one)
		}
		if v, _ := d.MeanLeft(0); v != 1 {
			t.Errorf("%s over no time: %v", d.Name, v)
		}
	}
}

func TestDecayForMaterial(t *testing.T) {
	if d := DecayFor(plan.Prescription{Latex: true}); d.Name != "latex-dynamic" {
		t.Errorf("latex: %s", d.Name)
	}
	if d := DecayFor(plan.Prescription{}); d.Name != "non-latex-dynamic" {
		t.Errorf("non-latex: %s", d.Name)
	}
}
