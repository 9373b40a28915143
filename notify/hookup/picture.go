package hookup

import (
	"math"
	"slices"

	"bandbell/scheduler/plan"
)

// Picture is a drawn prescription. It is made by Draw and does not change.
type Picture struct {
	speech *speech
	lang   string
	width  int     // pixels
	height float64 // units of the sheet
	shapes []shape // from the back to the front
	words  []string
	loops  []loop
	mouth  mouth
	discs  []disc
}

// Words tells the picture: a sentence a band, in the order the bands were
// given, the same that stand under the teeth.
func (p Picture) Words() []string { return slices.Clone(p.words) }

// Size is the width and height in pixels.
func (p Picture) Size() (width, height int) {
	return p.width, int(math.Ceil(p.height * float64(p.width) / sheet))
}

// Measures of the head of the picture, in units of the sheet.
const (
	titleAt   = 34.0 // base line of the title
	sidesAt   = 68.0 // base line of "your left", "your right"
	headDepth = 84.0 // where the numbers of the upper teeth may begin
)

// compose lays out the whole picture.
func (p *Picture) compose(bands []plan.Prescription, n plan.Notation) {
	var hooked []plan.Tooth
	for _, b := range bands {
		for _, h := range slices.Concat(b.Upper, b.Lower) {
			hooked = append(hooked, h.Tooth)
		}
	}
	m := layOut(hooked)
	marks := markAll(m, bands)
	for i, b := range bands {
		p.loops = append(p.loops, runs(i+1, b, marks))
	}
	teeth := numberTeeth(m, hooked, n)
	p.mouth, p.discs = m, number(m, p.loops, teeth)

	scene := p.scene(marks, teeth)
	top, bottom := reach(scene)
	down := headDepth - top
	for _, s := range scene {
		p.shapes = append(p.shapes, s.moved(down))
	}
	p.settle(down)
	y := bottom + down + 20

	p.shapes = append(p.shapes, p.speech.head()...)
	p.shapes = append(p.shapes, shape{part: "rule", path: polyline(false, point{margin, y}, point{sheet - margin, y}), fill: none, stroke: edge, width: 1.5})
	key, y := drawKey(p.speech.key(inOrder(marks), p.loops), y+12)
	p.shapes = append(p.shapes, key...)
	words, y := drawSentences(p.words, y+8)
	p.shapes = append(p.shapes, words...)
	p.height = math.Ceil(y + 8)
	page := shape{part: "page", path: polyline(true, point{0, 0}, point{sheet, 0}, point{sheet, p.height}, point{0, p.height}), fill: white, stroke: none}
	p.shapes = slices.Insert(p.shapes, 0, page)
}

// scene draws the mouth and all that is in it, from the back to the front.
func (p *Picture) scene(marks map[plan.Hook]mark, numbers []shape) []shape {
	top, bottom := reach(p.mouth.draw())
	out := []shape{{part: "midline", path: polyline(false, point{middle, top}, point{middle, bottom}), fill: none, stroke: outline, width: 1.4, dash: 6}}
	out = append(out, p.mouth.draw()...)
	for _, behind := range []bool{true, false} {
		for _, l := range p.loops {
			out = append(out, l.draw(behind)...)
		}
		for _, m := range inOrder(marks) {
			if (m.hook.Surface == plan.Tongue) == behind {
				up := 1.0
				if m.hook.Tooth.Upper() {
					up = -1
				}
				out = append(out, m.draw("hook-"+name(m.hook), up)...)
			}
		}
	}
	for _, d := range p.discs {
		out = append(out, d.draw("disc")...)
	}
	return append(out, numbers...)
}

// settle moves what is kept of the layout as the shapes were moved.
func (p *Picture) settle(down float64) {
	d := point{0, down}
	for i := range p.mouth.crowns {
		p.mouth.crowns[i].foot = p.mouth.crowns[i].foot.plus(d)
	}
	for i := range p.loops {
		for j := range p.loops[i].corners {
			p.loops[i].corners[j].at = p.loops[i].corners[j].at.plus(d)
		}
		for j := range p.loops[i].legs {
			g := &p.loops[i].legs[j]
			g.from, g.to = g.from.plus(d), g.to.plus(d)
		}
	}
	for i := range p.discs {
		p.discs[i].at, p.discs[i].of = p.discs[i].at.plus(d), p.discs[i].of.plus(d)
	}
}

// head writes the title and, with an arrow each, which half is which.
func (s *speech) head() []shape {
	left := writing{at: point{margin + 20, sidesAt}, size: sideSize, bold: true, s: s.left, ink: black}
	right := writing{size: sideSize, bold: true, s: s.right, ink: black}
	right.at = point{sheet - margin - 20 - right.width(), sidesAt}
	arrow := func(part string, tip point, way float64) shape {
		return shape{part: part, path: polyline(true, tip, point{tip.x - 13*way, tip.y - 8}, point{tip.x - 13*way, tip.y + 8}), fill: black, stroke: none}
	}
	return []shape{
		write("title", writing{at: point{middle, titleAt}, size: titleSize, bold: true, mid: true, s: s.title, ink: black}),
		write("side-left", left), arrow("arrow-left", point{margin, sidesAt - 7.5}, -1),
		write("side-right", right), arrow("arrow-right", point{sheet - margin, sidesAt - 7.5}, 1),
	}
}

// moved is the shape so far further down.
func (s shape) moved(down float64) shape {
	s.path = slices.Clone(s.path)
	for i := range s.path {
		for j := range s.path[i].p {
			s.path[i].p[j].y += down
		}
	}
	if s.text != nil {
		w := *s.text
		w.at.y += down
		s.text = &w
	}
	return s
}

// reach is how far up and down shapes reach. The handles of curves lie near
// them, so that their reach is near enough.
func reach(shapes []shape) (top, bottom float64) {
	top, bottom = math.Inf(1), math.Inf(-1)
	take := func(y float64) { top, bottom = min(top, y), max(bottom, y) }
	for _, s := range shapes {
		for _, st := range s.path {
			for _, q := range st.p[:st.how.points()] {
				take(q.y)
			}
		}
		if s.text != nil {
			b := s.text.box()
			take(b.min.y)
			take(b.max.y)
		}
	}
	return top, bottom
}

// points is how many points a step of the kind has.
func (h how) points() int {
	switch h {
	case curve:
		return 3
	case shut:
		return 0
	}
	return 1
}
