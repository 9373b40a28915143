package chart

import (
	"math"
	"strconv"

	"bandbell/scheduler/plan"
)

// The run's measures.
const (
	runLeft   = 44
	runRight  = 120
	runHour   = 7   // height of an hour
	runPlot   = 380 // width of the days, where they are few enough
	runLeast  = 200
	runWidest = 1000
	hollow    = 4 // width from which a bar is an outline; a narrower one is a line
)

func (m *run) svg(p Picture) string {
	d := newDrawing("hours", p)
	n := float64(max(1, len(m.days)))
	step := max(min(26, runPlot/n), min(2.5, runWidest/n))
	width := runLeft + max(runPlot, step*n) + runRight
	y := d.legend(0, lineHeight, width, m.keys(d, step))
	top := y
	zero := top + float64(m.full)*runHour
	height := func(minutes float64) float64 { return zero - minutes/60*runHour }
	right := runLeft + max(step*n, runLeast)
	for h := 0; h <= 24; h += 6 {
		hy := height(float64(h) * 60)
		d.guide(runLeft-4, hy, right+4, hy)
		d.write(runLeft-8, hy+4, "end", clockHours(h))
	}
	middle := func(i int) float64 { return runLeft + (float64(i)+.5)*step }
	m.dates(d, zero, step, middle)

	wide := min(10, step*.6)
	var bars, points, stated []byte
	for i, day := range m.days {
		if !day.Usable {
			continue
		}
		x := middle(i)
		if day.Stated {
			stated = append(stated, diamond(x, height(float64(day.Worn.Point)), max(1.6, min(5, step*.32)))...)
			continue
		}
		high, low := height(float64(day.Worn.High)), height(float64(day.Worn.Low))
		points = append(points, dot(x, height(float64(day.Worn.Point)), max(1.2, min(3, step*.22)))...)
		if wide < hollow {
			bars = append(bars, "M"+number(x)+" "+number(high)+"V"+number(low)...)
			continue
		}
		bars = append(bars, box(x-wide/2, high, wide, low-high)...)
	}
	if wide < hollow {
		d.shape("chart-bounds", bars, "fill", "none", "stroke", "currentColor", "stroke-width", number(wide), "stroke-opacity", faint)
	} else {
		d.shape("chart-bounds", bars, "fill", "none", "stroke", "currentColor", "stroke-width", "1.25")
	}
	d.shape("chart-target", m.targetLine(step, height), "fill", "none", "stroke", "currentColor", "stroke-width", "1.5", "stroke-dasharray", "7 3")
	d.shape("chart-point", points)
	d.shape("chart-stated", stated)
	m.lastLabels(d, right+10, height)
	if m.last < 0 {
		d.write(runLeft+6, height(12*60)-6, "start", m.lastWords())
	}
	y = zero + 2*lineHeight + 8
	words := []string{m.targetWords(), ifTrue + " " + reported}
	if m.last >= 0 {
		words = []string{m.targetWords(), m.lastWords(), ifTrue + " " + reported}
	}
	for _, s := range words {
		y = d.paragraph(0, y, width, s)
	}
	return d.finish(width, y-lineHeight/2, p.Title, p.Desc)
}

// shape writes a path where there is something of it.
func (d *drawing) shape(class string, path []byte, pairs ...string) {
	if len(path) > 0 {
		d.mark("path", append([]string{"class", class, "d", string(path)}, pairs...)...)
	}
}

// dot is the outline of a circle as two arcs.
func dot(x, y, r float64) string {
	turn := "a" + number(r) + " " + number(r) + " 0 1 0 "
	return "M" + number(x-r) + " " + number(y) + turn + number(2*r) + " 0" + turn + number(-2*r) + " 0z"
}

func clockHours(h int) string { return strconv.Itoa(h) + " h" }

// targetLine steps from day to day and breaks where nothing is prescribed.
func (m *run) targetLine(step float64, height func(float64) float64) []byte {
	var b []byte
	for i, d := range m.days {
		if !m.prescribed(i) {
			continue
		}
		y := number(height(float64(d.Target)))
		if i == 0 || !m.prescribed(i-1) {
			b = append(b, "M"+number(runLeft+step*float64(i))+" "+y...)
		} else if m.days[i-1].Target != d.Target {
			b = append(b, "V"+y...)
		}
		if i+1 == len(m.days) || !m.prescribed(i+1) || m.days[i+1].Target != d.Target {
			b = append(b, "H"+number(runLeft+step*float64(i+1))...)
		}
	}
	return b
}

// lastLabels writes the last value and the hours prescribed last beside the
// picture, each at its height but never one over the other.
func (m *run) lastLabels(d *drawing, x float64, height func(float64) float64) {
	if m.last < 0 {
		return
	}
	last := m.days[m.last]
	value, target := height(float64(last.Worn.Point)), height(float64(last.Target))
	if gap := lineHeight - math.Abs(value-target); gap > 0 {
		if value > target {
			value, target = value+gap/2, target-gap/2
		} else {
			value, target = value-gap/2, target+gap/2
		}
	}
	d.write(x, value+4, "start", "last "+hours(last.Worn.Point)+" h")
	d.write(x, target+4, "start", "prescribed "+about(last.Target)+" h")
}

// dates writes the days below the picture: Mondays, or the firsts of months
// where there are many, and leaves out what would touch its neighbour.
func (m *run) dates(d *drawing, zero, step float64, middle func(int) float64) {
	free := math.Inf(-1)
	for i, day := range m.days {
		if !m.tick(i) {
			continue
		}
		x := middle(i)
		d.guide(x, zero, x, zero+5)
		label := tickLabel(day.Date, len(m.days) > monthsFrom)
		half := breadth(label) / 2
		if x-half < free {
			continue
		}
		d.write(x, zero+lineHeight+2, "middle", label)
		free = x + half + 6
	}
}

// monthsFrom is the number of days from which months are marked and not weeks.
const monthsFrom = 75

func (m *run) tick(i int) bool {
	d := m.days[i].Date
	switch {
	case len(m.days) > monthsFrom:
		return d.Day == 1
	case len(m.days) < 10:
		return true
	}
	return d.Weekday() == 1
}

func tickLabel(d plan.Date, months bool) string {
	if months {
		return month(d) + " " + long(d)[len(long(d))-4:]
	}
	return short(d)[4:]
}

func (m *run) keys(d *drawing, step float64) []key {
	bounds := func(x, y float64) {
		if min(10, step*.6) < hollow {
			d.line("chart-sample", x+12, y-6, x+12, y+6, "stroke-width", "1.5", "stroke-opacity", faint)
			return
		}
		d.mark("path", "fill", "none", "stroke", "currentColor", "d", box(x+8, y-6, 8, 12))
	}
	keys := []key{
		{bounds, "at least to at most"},
		{func(x, y float64) { d.mark("path", "d", dot(x+12, y, 3)) }, "about"},
		{func(x, y float64) {
			d.line("chart-sample", x, y, x+sampleWidth, y, "stroke-width", "1.5", "stroke-dasharray", "7 3")
		}, "prescribed"},
	}
	for _, day := range m.days {
		if day.Usable && day.Stated {
			keys = append(keys, key{func(x, y float64) { d.mark("path", "d", diamond(x+12, y, 5)) }, "total stated by the patient"})
			break
		}
	}
	return append(keys, key{func(x, y float64) {}, "gap: cannot be judged"})
}
