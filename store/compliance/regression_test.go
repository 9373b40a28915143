package compliance

import (
	"math"
	"testing"
)

func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if math.Abs(got-want) > relative*math.Abs(want) {
		t.Errorf("%s: got %.15g, want %.15g", what, got, want)
	}
}

// NIST StRD, linear regression, Norris: certified B0, B1 and residual s.d.
func TestRegressionAgainstNorris(t *testing.T) {
	x := []float64{.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, .4, .6, 775.5, 666.9, 338.0, 447.5, 11.6,
		556.0, 228.1, 995.8, 887.6, 120.2, .3, .3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, .5}
	y := []float64{.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1, 778.1, 668.8, 339.3, 448.9, 10.8,
		557.7, 228.3, 998.0, 888.8, 119.6, .3, .6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2}
	g := regression{unknowns: 2}
	for i := range x {
		g.add([2]float64{1, x[i]}, y[i], 1)
	}
	b := g.mean()
	within(t, "B0", b[0], -0.262323073774029, 1e-10)
	within(t, "B1", b[1], 1.00211681802045, 1e-10)
	within(t, "residual s.d.", g.residualSD(), 0.884796396144373, 1e-10)
}

// NIST StRD, NoInt1 (x 60..70, y 130..140) and NoInt2 (x 4 5 6, y 3 4 4):
// lines through the origin with slopes 251/121 and 8/11.
func TestRegressionAgainstNoInt(t *testing.T) {
	one := regression{unknowns: 1}
	for i := range 11 {
		one.add([2]float64{60 + float64(i)}, 130+float64(i), 1)
	}
	within(t, "NoInt1", one.mean()[0], 251.0/121, 1e-10)
	two := regression{unknowns: 1}
	for _, p := range [][2]float64{{4, 3}, {5, 4}, {6, 4}} {
		two.add([2]float64{p[0]}, p[1], 1)
	}
	within(t, "NoInt2", two.mean()[0], 8.0/11, 1e-10)
}

// The posterior of a normal mean with a normal prior is the average of the two
// weighted by their precisions (Gelman et al., Bayesian Data Analysis, 3rd ed.,
// section 2.5, from memory).
func TestPosteriorOfOneMean(t *testing.T) {
	g := regression{unknowns: 1}
	g.add([2]float64{1}, 2, 0.5) // prior N(2, 0.5), precision 4
	g.add([2]float64{1}, 5, 1)   // one reading, precision 1
	within(t, "mean", g.mean()[0], (4*2+5)/5.0, 1e-14)
	within(t, "s.d.", g.draw([2]float64{1})[0]-g.mean()[0], 1/math.Sqrt(5), 1e-14)
}

// The covariance of the draws is the inverse of X'X. For rows (1,0), (1,1) and
// (1,2) with unit errors X'X is [[3 3] [3 5]], its inverse [[5 -3] [-3 3]]/6.
func TestDrawsHaveThePosteriorCovariance(t *testing.T) {
	g := regression{unknowns: 2}
	for i := range 3 {
		g.add([2]float64{1, float64(i)}, float64(7-i), 1)
	}
	m := g.mean()
	within(t, "B0", m[0], 7, 1e-12)
	within(t, "B1", m[1], -1, 1e-12)
	// Draws are mean + A z; A A' must be the covariance.
	p, q := g.draw([2]float64{1, 0}), g.draw([2]float64{0, 1})
	a := [2][2]float64{{p[0] - m[0], q[0] - m[0]}, {p[1] - m[1], q[1] - m[1]}}
	want := [2][2]float64{{5.0 / 6, -0.5}, {-0.5, 0.5}}
	for i := range 2 {
		for j := range 2 {
			if got := a[i][0]*a[j][0] + a[i][1]*a[j][1]; math.Abs(got-want[i][j]) > 1e-12 {
				t.Errorf("covariance %d,%d: got %v, want %v", i, j, got, want[i][j])
			}
		}
	}
}
