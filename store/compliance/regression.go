package compliance

import "math"

// regression is linear least squares in one or two unknowns, kept as the
// triangular factor R of the rows so far, so that R x = q. Rows are worked in
// one by one with Givens rotations, which keeps ten digits where normal
// equations lose half of them. A row divided by its standard deviation is an
// observation with that error; a prior N(mean, sd) of one unknown is the row
// that reads it as mean with error sd. With normal priors and normal errors
// the solution is the posterior mean and (R'R)^-1 the posterior covariance:
// conjugate Bayesian linear regression (Gelman et al., Bayesian Data Analysis,
// 3rd ed., section 14.8, from memory).
type regression struct {
	unknowns int // 1 or 2
	r        [2][2]float64
	q        [2]float64
	rss      float64 // residual sum of squares, in units of the rows' s.d.
	rows     int
}

// add works in one reading y of row . x with standard deviation sd, over 0.
func (g *regression) add(row [2]float64, y, sd float64) {
	for i := range row {
		row[i] /= sd
	}
	y /= sd
	for i := range g.unknowns {
		h := math.Hypot(g.r[i][i], row[i])
		if h == 0 {
			continue
		}
		c, s := g.r[i][i]/h, row[i]/h
		for j := i; j < g.unknowns; j++ {
			g.r[i][j], row[j] = c*g.r[i][j]+s*row[j], c*row[j]-s*g.r[i][j]
		}
		g.q[i], y = c*g.q[i]+s*y, c*y-s*g.q[i]
	}
	g.rss += y * y
	g.rows++
}

// solve returns R^-1 b by substitution from the last unknown.
func (g *regression) solve(b [2]float64) [2]float64 {
	var x [2]float64
	for i := g.unknowns - 1; i >= 0; i-- {
		x[i] = b[i]
		for j := i + 1; j < g.unknowns; j++ {
			x[i] -= g.r[i][j] * x[j]
		}
		x[i] /= g.r[i][i]
	}
	return x
}

// mean returns the least-squares solution, the posterior mean.
func (g *regression) mean() [2]float64 { return g.solve(g.q) }

// draw turns two independent standard normal numbers into one draw from the
// posterior.
func (g *regression) draw(z [2]float64) [2]float64 {
	return g.solve([2]float64{g.q[0] + z[0], g.q[1] + z[1]})
}

// residualSD returns the standard deviation of the residuals with the usual
// degrees of freedom, rows less unknowns.
func (g *regression) residualSD() float64 {
	return math.Sqrt(g.rss / float64(g.rows-g.unknowns))
}
