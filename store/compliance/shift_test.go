package compliance

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// shift moves everything in a record by whole weeks.
func shift(r *Record, weeks int) *Record {
	n := 7 * weeks
	hours := time.Duration(n) * 24 * time.Hour
	day := func(d plan.Date) plan.Date {
		if d.IsZero() {
			return d
		}
		return d.AddDays(n)
	}
	at := func(t time.Time) time.Time {
		if t.IsZero() {
			return t
		}
		return t.Add(hours)
	}
	slot := func(s string) string {
		if len(s) < 10 {
			return s
		}
		d, err := plan.ParseDate(s[:10])
		if err != nil {
			return s
		}
		return day(d).String() + s[10:]
	}
	c := *r
	c.AsOf, c.Window = at(r.AsOf), Window{day(r.Window.From), day(r.Window.To)}
	p := &c.Plan
	p.AlignerStart, p.PlannedEnd, p.BandsStart, p.BandsEnd = day(p.AlignerStart), day(p.PlannedEnd), day(p.BandsStart), day(p.BandsEnd)
	p.Wear, p.Pauses, p.Bands, p.Bags, p.Restarts = slices.Clone(p.Wear), slices.Clone(p.Pauses), slices.Clone(p.Bands), slices.Clone(p.Bags), slices.Clone(p.Restarts)
	for i := range p.Wear {
		p.Wear[i].From = day(p.Wear[i].From)
	}
	for i := range p.Pauses {
		p.Pauses[i].From, p.Pauses[i].To = day(p.Pauses[i].From), day(p.Pauses[i].To)
	}
	for i := range p.Bands {
		p.Bands[i].From, p.Bands[i].To = day(p.Bands[i].From), day(p.Bands[i].To)
	}
	for i := range p.Bags {
		p.Bags[i].Date = day(p.Bags[i].Date)
	}
	for i := range p.Restarts {
		p.Restarts[i] = day(p.Restarts[i])
	}
	c.Flags, c.Nudges, c.Reports, c.Visits = slices.Clone(r.Flags), slices.Clone(r.Nudges), slices.Clone(r.Reports), slices.Clone(r.Visits)
	for i := range c.Flags {
		f := &c.Flags[i]
		f.At, f.Closed, f.Slot = at(f.At), at(f.Closed), slot(f.Slot)
	}
	for i := range c.Nudges {
		e := &c.Nudges[i]
		e.Due, e.Until, e.Slot = at(e.Due), at(e.Until), slot(e.Slot)
	}
	for i := range c.Reports {
		e := &c.Reports[i]
		e.At, e.Since, e.From, e.To, e.Day, e.Slot = at(e.At), at(e.Since), at(e.From), at(e.To), day(e.Day), slot(e.Slot)
	}
	for i := range c.Visits {
		c.Visits[i].Date = day(c.Visits[i].Date)
	}
	return &c
}

// A week's shift of everything shifts every answer by a week.
func TestShiftOfAWeek(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t, fixed...)
		weeks := rapid.IntRange(-60, 60).Draw(t, "weeks")
		want, got := figuresOf(t, r), figuresOf(t, shift(r, weeks))
		day := func(d *plan.Date) {
			if !d.IsZero() {
				*d = d.AddDays(7 * weeks)
			}
		}
		for i := range want.Days {
			day(&want.Days[i].Date)
		}
		for _, m := range []*Measure{want.Forecast.Measures.Overjet, want.Forecast.Measures.Left, want.Forecast.Measures.Right} {
			if m != nil {
				day(&m.Median)
				day(&m.Early)
				day(&m.Late)
			}
		}
		for _, d := range []*plan.Date{&want.Forecast.Finish.Median, &want.Forecast.Finish.Early, &want.Forecast.Finish.Late,
			&want.Forecast.AlignerEnd, &want.Forecast.AsPrescribed.Median, &want.Supply.EmptyOn} {
			day(d)
		}
		for i := range want.Restarts {
			day(&want.Restarts[i])
		}
		want.Why, got.Why = nil, nil // words name dates
		if a, b := written(t, want), written(t, got); a != b {
			t.Fatalf("by %d weeks\n%s\n%s", weeks, a, b)
		}
	})
}
