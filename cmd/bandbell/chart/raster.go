package chart

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// piece is a stretch of one row of the raster in one state, by the clock.
type piece struct {
	interval
	state compliance.State
}

// rasterDay is one local day of the raster.
type rasterDay struct {
	compliance.DayRecord
	lanes   [][]piece  // what the clock shows first, and below it what it shows again
	missing []interval // times of day that never were
	course  []piece    // in order of time, for words
	again   []bool     // of the course: the clock showed it a second time
	to      int64      // the instant it ends, microseconds since 1970
}

// raster is a window laid out day by day.
type raster struct {
	days   []rasterDay
	absent []plan.Date // dates of the window that do not exist in the zone
	rows   int         // all lanes of all days
}

// Raster draws the wear raster of the record's window: time of day across, a
// row for each day. Each minute of the ledger is drawn once. It fails on a
// record without zone or window.
func Raster(r *compliance.Record) (Picture, error) {
	w := r.Window
	switch {
	case r.Zone == nil:
		return Picture{}, fmt.Errorf("draw wear raster: record has no zone")
	case w.From.IsZero() || w.To.IsZero() || w.To.Before(w.From):
		return Picture{}, fmt.Errorf("draw wear raster: record has no window")
	case w.To.DaysSince(w.From) >= compliance.MaxWindowDays:
		return Picture{}, fmt.Errorf("draw wear raster: window is longer than %d days", compliance.MaxWindowDays)
	}
	spans, err := compliance.Ledger(r, w.From, w.To)
	if err != nil {
		return Picture{}, fmt.Errorf("draw wear raster: %w", err)
	}
	m := newRaster(r, spans)
	p := Picture{
		Title: "Wear by time of day, " + stretchOf(w.From, w.To),
		Desc:  m.words(r),
		Head:  []string{"Day", "Hours in the day", "Hours worn", "Hours not worn", "Hours not reported", "Hours stated", "Course of the day"},
	}
	for i := range m.days {
		p.Rows = append(p.Rows, m.days[i].cells())
	}
	p.Text = m.text(r, p.Title)
	p.SVG = m.svg(r, p)
	return p, nil
}

// newRaster cuts the spans at the days and lays them on the clock.
func newRaster(r *compliance.Record, spans []compliance.Span) *raster {
	m := &raster{}
	for d := r.Window.From; !d.After(r.Window.To); d = d.AddDays(1) {
		if !plan.Exists(d, r.Zone) {
			m.absent = append(m.absent, d)
		}
	}
	next := 0
	for _, rec := range compliance.Fold(r, r.Window.From, r.Window.To) {
		day := rasterDay{DayRecord: rec, to: plan.DayEnd(rec.Day, r.Zone).UnixMicro()}
		l := dayOnWall(rec.Day, r.Zone)
		day.lanes, day.missing = make([][]piece, len(l.taken)), l.missing()
		for _, w := range l.walls {
			for i := next; i < len(spans) && spans[i].From.UnixMicro() < w.at+w.n; i++ {
				from, to := max(w.at, spans[i].From.UnixMicro()), min(w.at+w.n, spans[i].To.UnixMicro())
				if from >= to {
					continue
				}
				day.add(piece{interval{w.wall + from - w.at, w.wall + to - w.at}, spans[i].State}, w.lane)
			}
		}
		for next < len(spans) && spans[next].To.UnixMicro() <= day.to {
			next++
		}
		m.days = append(m.days, day)
		m.rows += len(day.lanes)
	}
	return m
}

// add puts a piece behind the last, as one with it where state and time join.
func (d *rasterDay) add(p piece, lane int) {
	joined := func(list []piece) bool {
		if n := len(list); n > 0 && list[n-1].to == p.from && list[n-1].state == p.state {
			list[n-1].to = p.to
			return true
		}
		return false
	}
	if !joined(d.lanes[lane]) {
		d.lanes[lane] = append(d.lanes[lane], p)
	}
	if n := len(d.again); n > 0 && d.again[n-1] == (lane > 0) && joined(d.course) {
		return
	}
	d.course, d.again = append(d.course, p), append(d.again, lane > 0)
}

var stateWords = map[compliance.State]string{
	compliance.On: "worn", compliance.Off: "not worn", compliance.Unknown: "not reported",
}

// cells are the day's row of the table.
func (d *rasterDay) cells() []string {
	stated := ""
	if d.Stated != nil {
		stated = hours(*d.Stated)
	}
	var course []string
	for i, p := range d.course {
		s := clock(p.from) + "-" + clock(p.to) + " " + stateWords[p.state]
		if d.again[i] {
			s += " (this hour for the second time)"
		}
		course = append(course, s)
	}
	for _, k := range d.missing {
		course = append(course, "no "+clock(k.from)+"-"+clock(k.to)+", clocks went forward")
	}
	return []string{long(d.Day), about(d.Length), hours(d.On), hours(d.Off), hours(d.Unknown), stated, strings.Join(course, ", ")}
}

// odd says how long a day is whose clocks changed; empty for one of 24 hours.
func (d *rasterDay) odd() string {
	if d.Length == 1440 && len(d.missing) == 0 && len(d.lanes) < 2 {
		return ""
	}
	return about(d.Length) + " h"
}

// ahead reports whether all of the day is still to come.
func (d *rasterDay) ahead(r *compliance.Record) bool {
	return d.to-int64(float64(d.Length)*float64(microMinute)) >= r.AsOf.UnixMicro()
}

// bounds are the hours of the day as they stand beside its row.
func (d *rasterDay) bounds(dash string) string {
	if d.Stated != nil {
		return hours(*d.Stated)
	}
	if d.Unknown == 0 {
		return hours(d.On)
	}
	return hours(d.On) + dash + hours(d.On+d.Unknown)
}

// toCome says where the window runs on beyond what can be known.
func (m *raster) toCome(r *compliance.Record) string {
	if n := len(m.days); n == 0 || m.days[n-1].to <= r.AsOf.UnixMicro() {
		return ""
	}
	return " Reckoned at " + moment(r.AsOf, r.Zone) + ": what is later is still to come and stands as not reported."
}

// words say what the raster shows.
func (m *raster) words(r *compliance.Record) string {
	var on, off, unknown, length compliance.Minutes
	var odd []string
	for i := range m.days {
		d := &m.days[i]
		on, off, unknown, length = on+d.On, off+d.Off, unknown+d.Unknown, length+d.Length
		if s := d.odd(); s != "" && len(odd) < 6 {
			odd = append(odd, long(d.Day)+" has "+s)
		}
	}
	if len(m.days) == 0 {
		return "There is nothing to draw: no day of the window exists in the zone " + r.Zone.String() + "."
	}
	s := fmt.Sprintf("One row a day, %s, local time of %s from left to right. Worn %s hours, not worn %s, not reported %s, of %s.",
		plural(len(m.days), "day"), r.Zone, hours(on), hours(off), hours(unknown), hours(length))
	if len(odd) > 0 {
		s += " Where clocks change: " + strings.Join(odd, ", ") + "."
	}
	for _, d := range m.absent {
		s += " " + long(d) + " did not exist there."
	}
	return s + m.toCome(r) + " " + reported
}
