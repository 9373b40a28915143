package chart

import (
	"strings"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// The fan's measures.
const (
	fanWidth = 548
	fanLeft  = 8
	fanPlot  = fanWidth - 2*fanLeft
	fanBar   = 12
)

func (m *fan) svg(p Picture) string {
	d := newDrawing("fan", p)
	if !m.known {
		y := float64(lineHeight)
		for _, s := range []string{m.why, m.endWords(), reported} {
			y = d.paragraph(0, y, fanWidth, s)
		}
		return d.finish(fanWidth, y-lineHeight/2, p.Title, p.Desc)
	}
	y := d.legend(0, lineHeight, fanWidth, m.keys(d))
	if m.f.Forecast.Basis == compliance.Assumption {
		y = d.paragraph(0, y, fanWidth, m.basisWords())
	}
	top := y - lineHeight/2
	bottom := top
	for _, r := range m.rows {
		bottom += r.height()
	}
	x := func(day plan.Date) float64 { return fanLeft + fanPlot*m.share(day) }
	m.axis(d, bottom, x)
	for _, r := range m.rows {
		m.row(d, r, top, x)
		top += r.height()
	}
	y = bottom + 2*lineHeight + 6
	words := []string{m.prescribedWords() + " Lag: " + m.f.LagWords() + "."}
	if m.f.Forecast.Basis == compliance.Readings {
		words = append(words, m.basisWords())
	}
	for _, s := range append(words, credited+" "+reported) {
		y = d.paragraph(0, y, fanWidth, s)
	}
	return d.finish(fanWidth, y-lineHeight/2, p.Title, p.Desc)
}

// The strokes of the two upright lines, which must differ without colour.
var (
	nowStroke = []string{"stroke-width", "1.5", "stroke-dasharray", "1.5 2.5"}
	endStroke = []string{"stroke-width", "2.5"}
)

// upright draws a part of an upright line. It is drawn in parts, for it must
// not run through the writing above each span.
func (m *fan) upright(d *drawing, x, from, to float64, stroke []string) {
	d.line("chart-upright", x, from, x, to, stroke...)
}

// height is the room a row takes: its words, its span and the space below.
func (r fanRow) height() float64 {
	return lineHeight*float64(len(fold(r.name+": "+r.says(), letters(fanPlot)))) + fanBar + 18
}

// row draws one span with its words above it.
func (m *fan) row(d *drawing, r fanRow, y float64, x func(plan.Date) float64) {
	next := d.paragraph(fanLeft, y+lineHeight-2, fanPlot, r.name+": "+r.says())
	bar := next - lineHeight + 8
	mid := bar + fanBar/2.0
	m.upright(d, x(m.today), bar-4, bar+fanBar+6, nowStroke)
	if !m.end.IsZero() {
		m.upright(d, x(m.end), bar-4, bar+fanBar+6, endStroke)
	}
	right := float64(fanLeft + fanPlot)
	if r.Early.IsZero() {
		d.shape("chart-beyond", []byte(arrow(right, mid)))
		return
	}
	stroke := "1.25"
	if r.whole {
		stroke = "2"
	}
	if r.Late.IsZero() {
		from := x(r.Early)
		open := "M" + number(right-8) + " " + number(bar) + "H" + number(from) + "v" + number(fanBar) + "H" + number(right-8)
		d.shape("chart-span", []byte(open), "fill", "none", "stroke", "currentColor", "stroke-width", stroke)
		d.shape("chart-beyond", []byte(arrow(right, mid)))
	} else {
		d.shape("chart-span", []byte(box(x(r.Early), bar, x(r.Late)-x(r.Early), fanBar)), "fill", "none", "stroke", "currentColor", "stroke-width", stroke)
	}
	if !r.prescribed.IsZero() {
		d.shape("chart-prescribed", []byte(diamond(x(r.prescribed), mid, 8)), "fill", "none", "stroke", "currentColor", "stroke-width", "1.75")
	}
	if !r.Median.IsZero() {
		d.shape("chart-median", []byte(dot(x(r.Median), mid, 3.75)))
	}
}

// arrow is a head that points beyond the picture.
func arrow(x, y float64) string {
	return "M" + number(x-8) + " " + number(y-7) + "l8 7l-8 7z"
}

// axis marks the firsts of months, as many as have room.
func (m *fan) axis(d *drawing, y float64, x func(plan.Date) float64) {
	d.guide(fanLeft, y, fanLeft+fanPlot, y)
	first := plan.NewDate(m.from.Year, m.from.Month+1, 1)
	if m.from.Day == 1 {
		first = m.from
	}
	every := 1
	for _, n := range []int{1, 2, 3, 6, 12, 24, 60} {
		every = n
		if float64(n)*30*fanPlot/float64(m.to.DaysSince(m.from)) > 9*runeWidth {
			break
		}
	}
	for day := first; !day.After(m.to); day = plan.NewDate(day.Year, day.Month+1, 1) {
		at := x(day)
		months := day.Year*12 + int(day.Month) - 1
		if months%every != 0 {
			if every <= 12 {
				d.guide(at, y, at, y+3)
			}
			continue
		}
		d.guide(at, y, at, y+6)
		label := tickLabel(day, true)
		half := breadth(label) / 2
		if at-half < 0 || at+half > fanWidth {
			continue
		}
		d.write(at, y+lineHeight+4, "middle", label)
	}
}

func (m *fan) keys(d *drawing) []key {
	keys := []key{
		{func(x, y float64) {
			d.mark("path", "fill", "none", "stroke", "currentColor", "d", box(x, y-5, sampleWidth, 10))
		}, "1 in 10 to 9 in 10 outcomes"},
		{func(x, y float64) { d.mark("path", "d", dot(x+12, y, 3.75)) }, "median"},
	}
	beyond := false
	for _, r := range m.rows {
		beyond = beyond || r.Late.IsZero()
	}
	if !m.f.Forecast.AsPrescribed.Median.IsZero() {
		keys = append(keys, key{func(x, y float64) {
			d.mark("path", "fill", "none", "stroke", "currentColor", "stroke-width", "1.75", "d", diamond(x+12, y, 8))
		}, "median if worn as prescribed"})
	}
	if beyond {
		keys = append(keys, key{func(x, y float64) { d.mark("path", "d", arrow(x+16, y)) }, "later than three years"})
	}
	keys = append(keys, key{func(x, y float64) { m.upright(d, x+12, y-8, y+8, nowStroke) }, "today, " + long(m.today)})
	if !m.end.IsZero() {
		keys = append(keys, key{func(x, y float64) { m.upright(d, x+12, y-8, y+8, endStroke) }, strings.ToLower(m.endName) + ", " + long(m.end)})
	}
	return keys
}
