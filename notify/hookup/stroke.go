package hookup

import "math"

// dashGap is the gap after a dash, as a share of its length.
const dashGap = 0.75

// flatness is how many straight pieces stand for a curve: the longest curve of
// the picture is some 60 units, where they stay within 0.1 of it.
const flatness = 16

// contours are the points a path goes through, a list for each part of it that
// begins with a move; a closed one ends where it began.
func (p path) contours() [][]point {
	var all [][]point
	var now []point
	for _, s := range p {
		switch s.how {
		case move:
			if len(now) > 0 {
				all = append(all, now)
			}
			now = []point{s.p[0]}
		case line:
			now = append(now, s.p[0])
		case curve:
			a := now[len(now)-1]
			for i := 1; i <= flatness; i++ {
				now = append(now, bezier(a, s.p, float64(i)/flatness))
			}
		case shut:
			now = append(now, now[0])
		}
	}
	if len(now) > 0 {
		all = append(all, now)
	}
	return all
}

// bezier is a point of a cubic Bezier curve.
func bezier(a point, p [3]point, t float64) point {
	u := 1 - t
	return a.times(u * u * u).plus(p[0].times(3 * u * u * t)).plus(p[1].times(3 * u * t * t)).plus(p[2].times(t * t * t))
}

// dashed cuts a line into its dashes.
func dashed(points []point, dash float64) [][]point {
	var out [][]point
	on, left := true, dash
	now := []point{points[0]}
	for i := 0; i+1 < len(points); i++ {
		a, b := points[i], points[i+1]
		for {
			way := b.minus(a).length()
			if way < left {
				left -= way
				if on {
					now = append(now, b)
				}
				break
			}
			a = between(a, b, left/way)
			if on {
				out = append(out, append(now, a))
			}
			if on = !on; on {
				left = dash
			} else {
				left = dash * dashGap
			}
			now = []point{a}
		}
	}
	if on && len(now) > 1 {
		out = append(out, now)
	}
	return out
}

// pieces are the polygons that cover a line of a width: a rectangle a piece
// and, where it is round, a disc a joint. All turn the same way, as the
// rasteriser adds up what they cover with its sign.
func pieces(points []point, width float64, round bool) [][]point {
	var out [][]point
	for i := 0; i+1 < len(points); i++ {
		way := points[i+1].minus(points[i])
		l := way.length()
		if l == 0 {
			continue
		}
		n := point{-way.y, way.x}.times(width / 2 / l)
		a, b := points[i], points[i+1]
		out = append(out, []point{a.plus(n), a.minus(n), b.minus(n), b.plus(n)})
	}
	if !round {
		return out
	}
	const corners = 24
	for _, c := range points {
		var ring []point
		for i := range corners {
			s, co := math.Sincos(2 * math.Pi * float64(i) / corners)
			ring = append(ring, c.plus(point{co, s}.times(width/2)))
		}
		out = append(out, ring)
	}
	for i, ring := range out {
		if signed(ring) < 0 {
			for a, b := 0, len(ring)-1; a < b; a, b = a+1, b-1 {
				out[i][a], out[i][b] = ring[b], ring[a]
			}
		}
	}
	return out
}

// signed is twice the area of a polygon, negative where it turns the other way.
func signed(ring []point) float64 {
	sum := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		sum += a.x*b.y - b.x*a.y
	}
	return sum
}
