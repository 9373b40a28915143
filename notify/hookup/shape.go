package hookup

import "math"

// Everything is laid out on a sheet this many units wide, whatever the width
// of the picture in pixels.
const sheet = 640.0

// point is a place on the sheet, x to the right, y down.
type point struct{ x, y float64 }

func (a point) plus(b point) point        { return point{a.x + b.x, a.y + b.y} }
func (a point) minus(b point) point       { return point{a.x - b.x, a.y - b.y} }
func (a point) times(f float64) point     { return point{a.x * f, a.y * f} }
func (a point) length() float64           { return math.Hypot(a.x, a.y) }
func between(a, b point, t float64) point { return a.plus(b.minus(a).times(t)) }

// how is the way a path goes on.
type how byte

const (
	move  how = 'M' // one point
	line  how = 'L' // one point
	curve how = 'C' // three points, a cubic Bezier curve
	shut  how = 'Z' // none
)

type step struct {
	how how
	p   [3]point
}

// path is an outline or a line made of steps, as in SVG.
type path []step

// polyline goes through points in turn.
func polyline(closed bool, points ...point) path {
	p := path{{move, [3]point{points[0]}}}
	for _, q := range points[1:] {
		p = append(p, step{line, [3]point{q}})
	}
	if closed {
		p = append(p, step{how: shut})
	}
	return p
}

// circle is drawn with four cubic curves; 0.5523 keeps them within 0.03 % of
// the radius (a well-known approximation).
func circle(c point, r float64) path {
	const k = 0.5522847498
	at := func(x, y float64) point { return point{c.x + r*x, c.y + r*y} }
	return path{
		{move, [3]point{at(1, 0)}},
		{curve, [3]point{at(1, k), at(k, 1), at(0, 1)}},
		{curve, [3]point{at(-k, 1), at(-1, k), at(-1, 0)}},
		{curve, [3]point{at(-1, -k), at(-k, -1), at(0, -1)}},
		{curve, [3]point{at(k, -1), at(1, -k), at(1, 0)}},
		{how: shut},
	}
}

// smooth goes through points as a rounded line (Catmull-Rom as Bezier curves),
// begun by a step of the given kind.
func smooth(first how, points []point) path {
	p := path{{first, [3]point{points[0]}}}
	for i := 0; i+1 < len(points); i++ {
		before, after := points[max(i-1, 0)], points[min(i+2, len(points)-1)]
		a, b := points[i], points[i+1]
		p = append(p, step{curve, [3]point{a.plus(b.minus(before).times(1. / 6)), b.minus(after.minus(a).times(1. / 6)), b}})
	}
	return p
}

// ink is a colour, 0xRRGGBB; none paints nothing.
type ink int

const none ink = -1

// The inks. Contrast on white by WCAG 2.2: black 15.9:1, outline 5.9:1,
// banding 9.5:1; 1.4.3 asks 4.5:1 of writing and 1.4.11 3:1 of marks. They differ in
// lightness, so that a grey print tells them apart.
const (
	white   ink = 0xffffff
	black   ink = 0x1a232e
	outline ink = 0x5b6673
	gum     ink = 0xeedfda
	edge    ink = 0xc9d0d7
	banding ink = 0x14428f
)

// shape is one thing drawn: a path or a line of writing.
type shape struct {
	part   string // what it is: tooth-13, hook-13-cheek-button, band-1
	path   path
	fill   ink
	stroke ink
	width  float64 // of the stroke
	dash   float64 // length of a dash, the gaps being three quarters of it; 0: solid
	text   *writing
}

// box is a rectangle along the axes.
type box struct{ min, max point }

func (b box) meets(o box) bool {
	return b.min.x < o.max.x && o.min.x < b.max.x && b.min.y < o.max.y && o.min.y < b.max.y
}
