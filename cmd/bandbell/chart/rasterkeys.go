package chart

import (
	"bandbell/store/compliance"
)

// keys are the legend: what is in the picture and nothing else.
func (m *raster) keys(d *drawing, r *compliance.Record) []key {
	keys := []key{
		{func(x, y float64) { d.mark("path", "d", box(x, y-5, sampleWidth, 10)) }, "worn"},
		{func(x, y float64) {
			d.mark("path", "fill", "none", "stroke", "currentColor", "d", box(x+.5, y-4.5, sampleWidth-1, 9))
		}, "not worn"},
		{func(x, y float64) {
			d.mark("path", append([]string{"d", "M" + number(x+1) + " " + number(y) + "h22"}, dots(labelled)...)...)
		}, "not reported"},
	}
	var forward, back, stated, now bool
	for i := range m.days {
		day := &m.days[i]
		forward = forward || len(day.missing) > 0
		back = back || len(day.lanes) > 1
		stated = stated || day.Stated != nil
		_, _, here := day.place(r.AsOf.UnixMicro(), r)
		now = now || here
	}
	if forward {
		keys = append(keys, key{func(x, y float64) {
			d.mark("path", "fill", "none", "stroke", "currentColor", "d", string(appendCross(nil, int64(x*100)+400, int64(x*100)+2000, y-5, 10)))
		}, "no such time, clocks went forward"})
	}
	if back {
		keys = append(keys, key{func(x, y float64) {
			d.line("chart-sample", x+3, y-3, x+21, y-3, "stroke-width", "3")
			d.line("chart-sample", x+9, y+3, x+15, y+3, "stroke-width", "3")
		}, "below a day: time the clock showed again"})
	}
	if stated {
		keys = append(keys, key{func(x, y float64) { d.mark("path", "d", diamond(x+12, y, 4)) }, "total stated for the day"})
	}
	if now {
		keys = append(keys, key{func(x, y float64) { d.line("chart-sample", x+12, y-8, x+12, y+8, "stroke-width", "2.5") },
			"reckoned at " + moment(r.AsOf, r.Zone) + ", later is still to come"})
	}
	return keys
}
