package chart

import (
	"strconv"
	"time"

	"bandbell/store/compliance"
)

// The raster's measures. An hour is 15 units, so a minute is a quarter of one
// and each whole minute has an exact place.
const (
	rasterLeft  = 126
	hourWidth   = 15
	rasterPlot  = 24 * hourWidth
	rasterRight = 84
	rasterWidth = rasterLeft + rasterPlot + rasterRight
)

// pitch is the height of a row: the more days there are, the less.
func (m *raster) pitch() float64 {
	switch {
	case m.rows <= 45:
		return 15
	case m.rows <= 130:
		return 8
	}
	return 5
}

// labelled is the least pitch at which a row has room for writing of its own.
const labelled = 13

// across is where a time of day stands, in hundredths of a unit.
func across(wall int64) int64 {
	const hour = 60 * microMinute
	return rasterLeft*100 + (wall*hourWidth*100+hour/2)/hour
}

func (m *raster) svg(r *compliance.Record, p Picture) string {
	d := newDrawing("raster", p)
	if len(m.days) == 0 {
		y := d.paragraph(0, lineHeight, rasterWidth, p.Desc)
		return d.finish(rasterWidth, y, p.Title, p.Desc)
	}
	pitch := m.pitch()
	bar := pitch - 3
	if pitch < labelled {
		bar = pitch - 1.5
	}
	y := d.legend(0, lineHeight, rasterWidth, m.keys(d, r))
	top := y + lineHeight + 2
	bottom := top + pitch*float64(m.rows)
	m.clockFace(d, top, bottom)

	var solid, open, dotted, none, stated []byte
	y = top
	row := func(lane []piece) {
		for _, p := range lane {
			x1, x2 := across(p.from), across(p.to)
			switch p.state {
			case compliance.On:
				solid = appendBar(solid, x1, x2, y, bar)
			case compliance.Off:
				open = appendBar(open, x1, x2, y+.5, bar-1)
			default:
				dotted = appendLine(dotted, x1, x2, y+bar/2)
			}
		}
		y += pitch
	}
	now := r.AsOf.UnixMicro()
	nowX, nowY := int64(-1), 0.0
	for i := range m.days {
		day := &m.days[i]
		for _, k := range day.missing {
			none = appendCross(none, across(k.from), across(k.to), y, bar)
		}
		if day.Stated != nil {
			stated = append(stated, diamond(rasterLeft+rasterPlot+9, y+bar/2, min(4, bar/2))...)
		}
		if w, lane, ok := day.place(now, r); ok {
			nowX, nowY = across(w), y+float64(lane)*pitch
		}
		m.label(d, i, y, pitch, bar, r)
		for _, lane := range day.lanes {
			row(lane)
		}
	}
	if len(solid) > 0 {
		d.mark("path", "class", "chart-worn", "d", string(solid))
	}
	if len(open) > 0 {
		stroke := "1"
		if pitch < labelled {
			stroke = ".8"
		}
		d.mark("path", "class", "chart-off", "fill", "none", "stroke", "currentColor", "stroke-width", stroke, "d", string(open))
	}
	if len(dotted) > 0 {
		d.mark("path", append([]string{"class", "chart-unknown", "d", string(dotted)}, dots(pitch)...)...)
	}
	if len(none) > 0 {
		d.mark("path", "class", "chart-no-hour", "fill", "none", "stroke", "currentColor", "d", string(none))
	}
	if len(stated) > 0 {
		d.mark("path", "class", "chart-stated", "d", string(stated))
	}
	if nowX >= 0 {
		x := float64(nowX) / 100
		d.line("chart-now", x, nowY-3, x, nowY+bar+3, "stroke-width", "2.5")
	}
	y = d.paragraph(0, bottom+2*lineHeight, rasterWidth, "Local time of "+r.Zone.String()+". "+m.beside(pitch)+reported)
	return d.finish(rasterWidth, y-lineHeight/2, p.Title, p.Desc)
}

func (m *raster) beside(pitch float64) string {
	if pitch < labelled {
		return ""
	}
	return "At the right, hours worn: at least and at most. " + ifTrue + " "
}

// label writes what stands beside a day's rows.
func (m *raster) label(d *drawing, i int, y, pitch, bar float64, r *compliance.Record) {
	day := &m.days[i]
	base := y + bar/2 + 4
	odd := day.odd()
	if pitch < labelled {
		// A week of rows is higher than a line of writing, a single one is not.
		if day.Day.Weekday() == time.Monday {
			name := short(day.Day)
			if before := day.Day.AddDays(-7); i < 7 || before.Year != day.Day.Year {
				name += " " + strconv.Itoa(day.Day.Year)
			}
			d.write(rasterLeft-6, base, "end", name)
		}
		if odd != "" {
			d.write(rasterLeft+rasterPlot+16, base, "start", strconv.Itoa(day.Day.Day)+" "+month(day.Day)+": "+odd)
		}
		return
	}
	name := short(day.Day)
	if odd != "" {
		name += ", " + odd
	}
	d.write(rasterLeft-6, base, "end", name)
	for n := 1; n < len(day.lanes); n++ {
		d.write(rasterLeft-6, base+float64(n)*pitch, "end", "again")
	}
	switch {
	case day.Stated != nil:
		d.write(rasterLeft+rasterPlot+18, base, "start", day.bounds("")+" h")
	case !day.ahead(r):
		d.write(rasterLeft+rasterPlot+6, base, "start", day.bounds("\u2013")+" h")
	}
}

// clockFace draws the hours above and below the rows and the guides between.
func (m *raster) clockFace(d *drawing, top, bottom float64) {
	for h := 0; h <= 24; h += 3 {
		x := float64(rasterLeft + h*hourWidth)
		d.guide(x, top-4, x, bottom+2)
		if h%6 == 0 {
			d.write(x, top-8, "middle", clock(int64(h)*60*microMinute))
			d.write(x, bottom+lineHeight-1, "middle", clock(int64(h)*60*microMinute))
		}
	}
}

// dots is the stroke of what was not reported: a dot each twenty minutes along
// the middle of the row. It is a dashed line and not a pattern, which browsers
// print as a coarse image.
func dots(pitch float64) []string {
	width := "1.6"
	if pitch >= labelled {
		width = "2.2"
	}
	return []string{"fill", "none", "stroke", "currentColor", "stroke-width", width,
		"stroke-linecap", "round", "stroke-dasharray", "0 5", "stroke-dashoffset", "-1.25"}
}

// place finds an instant of the day on the clock.
func (d *rasterDay) place(at int64, r *compliance.Record) (wall int64, lane int, ok bool) {
	if at >= d.to || at < d.to-int64(float64(d.Length)*float64(microMinute)) {
		return 0, 0, false
	}
	for _, w := range dayOnWall(d.Day, r.Zone).walls {
		if at >= w.at && at < w.at+w.n {
			return w.wall + at - w.at, w.lane, true
		}
	}
	return 0, 0, false
}
