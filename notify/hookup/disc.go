package hookup

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// discReach is the radius of the disc that bears a band's number.
const discReach = 13.0

// shortBand is the length under which a disc on a band would hide too much of
// it, such as the place where it goes through the bite.
const shortBand = 125.0

// disc is a band's number beside or on its path.
type disc struct {
	number int
	at     point
	of     point // the place on the path it belongs to
}

// number puts a disc on each of several bands, where it hides no hook and no
// number of a tooth, touches no other disc and lies on no other band as far as
// there is room; else it stands aside with a line to its band.
func number(m mouth, loops []loop, teeth []shape) []disc {
	if len(loops) < 2 {
		return nil
	}
	var marks []point
	for _, l := range loops {
		for _, c := range l.corners {
			marks = append(marks, c.at)
		}
	}
	var discs []disc
	for _, l := range loops {
		best, least := disc{}, math.Inf(1)
		try := func(d disc, cost float64) {
			cost += crowding(d, l, loops, marks, discs)
			if !m.holds(d.at, discReach, teeth) {
				cost += impossible
			}
			if cost < least {
				best, least = d, cost
			}
		}
		for _, c := range beside(l) {
			try(c.disc, c.cost)
		}
		if least >= impossible { // crowded: anywhere in the mouth
			from := best.of
			for x := 0.0; x <= sheet; x += 9 {
				for y := -60.0; y <= 60; y += 6 {
					at := point{x, biteLine(x) + y}
					try(disc{l.number, at, from}, at.minus(from).length()/20)
				}
			}
		}
		discs = append(discs, best)
	}
	return discs
}

// impossible is the cost of a place that will not do.
const impossible = 1000

// candidate is a place for a disc and how much worse it is than the middle of
// the longest leg.
type candidate struct {
	disc
	cost float64
}

// beside lists places on a band and to the sides of it.
func beside(l loop) []candidate {
	legs := slices.Clone(l.legs)
	slices.SortStableFunc(legs, func(a, b leg) int {
		return cmp.Compare(b.to.minus(b.from).length(), a.to.minus(a.from).length())
	})
	var out []candidate
	for rank, g := range legs {
		way := g.to.minus(g.from)
		if way.length() == 0 {
			continue
		}
		aside := point{-way.y, way.x}.times(1 / way.length())
		for _, t := range []float64{.5, .42, .58, .34, .66, .26, .74} {
			on := between(g.from, g.to, t)
			for _, off := range []float64{0, 30, -30, 45, -45, 60, -60, 75, -75} {
				d := disc{l.number, on.plus(aside.times(off)), on}
				out = append(out, candidate{d, float64(rank)*0.2 + math.Abs(t-.5) + math.Abs(off)/20})
			}
		}
	}
	return out
}

// crowding reckons what a disc would hide: much for a disc or a hook, less for
// another band, since then it is not plain whose number it is.
func crowding(d disc, own loop, loops []loop, marks []point, discs []disc) float64 {
	cost := 0.0
	whole := 0.0
	for _, g := range own.legs {
		whole += g.to.minus(g.from).length()
	}
	if d.at == d.of && whole < shortBand {
		cost += 4
	}
	for _, o := range discs {
		if d.at.minus(o.at).length() < 2*discReach+3 {
			cost += impossible
		}
	}
	for _, m := range marks {
		if d.at.minus(m).length() < discReach+markReach+2 {
			cost += 20
		}
	}
	for _, l := range loops {
		for _, g := range l.legs {
			if l.number != own.number && apart(d.at, g.from, g.to) < discReach+4 {
				cost += 5
			}
		}
	}
	return cost
}

// apart is the distance of a place from a straight piece.
func apart(p, a, b point) float64 {
	way := b.minus(a)
	l2 := way.x*way.x + way.y*way.y
	if l2 == 0 {
		return p.minus(a).length()
	}
	t := ((p.x-a.x)*way.x + (p.y-a.y)*way.y) / l2
	return p.minus(between(a, b, min(1, max(0, t)))).length()
}

func (d disc) draw(part string) []shape {
	var out []shape
	if d.at != d.of {
		out = append(out, shape{part: fmt.Sprintf("%s-%d-line", part, d.number), path: polyline(false, d.at, d.of), fill: none, stroke: black, width: 1.6})
	}
	return append(out,
		shape{part: fmt.Sprintf("%s-%d", part, d.number), path: circle(d.at, discReach), fill: black, stroke: white, width: 2},
		write(fmt.Sprintf("%s-%d-number", part, d.number), writing{at: point{d.at.x, d.at.y + 0.36*discSize}, size: discSize, bold: true, mid: true, caps: true, s: strconv.Itoa(d.number), ink: white}))
}

// write is a shape of one line of writing.
func write(part string, w writing) shape {
	return shape{part: part, fill: none, stroke: none, text: &w}
}
