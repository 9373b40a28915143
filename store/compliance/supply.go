package compliance

import (
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// Supply is how long the bands last.
type Supply struct {
	PerDay  int       `json:"bands_per_day"` // needed on the As-of's day
	EmptyOn plan.Date `json:"empty_on"`      // first day they do not suffice; zero: not known, or never
}

// supply counts one band a prescription: changes times prescriptions in force
// is a day's need. The need runs from the later of the first day of bands and
// the prescription's own to the last day of bands, but not on days on which
// the doctor paused them. A bag counts from its date. Without bags or without
// prescriptions the day they run out is not known, which is not "out".
func (v *view) supply() Supply {
	p := &v.Plan
	s := Supply{PerDay: v.changes(v.today) * len(p.BandsOn(v.today))}
	if len(p.Bags) == 0 || len(p.Bands) == 0 {
		return s
	}
	left := 0
	days := v.turns()
	for i, d := range days {
		for _, e := range p.Bags {
			if e.Date == d || i == 0 && e.Date.Before(d) {
				left += e.Count
			}
		}
		rate := v.need(d)
		if rate == 0 {
			continue
		}
		// left/rate days are covered from d on.
		if i+1 == len(days) || left/rate < days[i+1].DaysSince(d) {
			s.EmptyOn = d.AddDays(left / rate)
			return s
		}
		left -= rate * days[i+1].DaysSince(d)
	}
	return s
}

// turns lists the days, from the first day of bands on, at which a day's need
// or the stock may change. Between two of them nothing does, however far apart
// a slip of the keyboard puts them.
func (v *view) turns() []plan.Date {
	p := &v.Plan
	start := p.Start()
	out := []plan.Date{start}
	add := func(d plan.Date) {
		if d.After(start) {
			out = append(out, d)
		}
	}
	// span adds the ends of a stretch of days; a zero last day is open.
	span := func(first, last plan.Date) {
		add(first)
		if !last.IsZero() {
			add(last.AddDays(1))
		}
	}
	for _, e := range p.Bands {
		span(e.From, e.To)
	}
	for _, e := range p.Wear {
		add(e.From)
	}
	for _, e := range p.Pauses {
		span(e.From, e.To)
	}
	for _, e := range p.Bags {
		add(e.Date)
	}
	span(start, p.BandsEnd)
	for _, d := range v.skipped(start) {
		span(d, d)
	}
	slices.SortFunc(out, plan.Date.Compare)
	return slices.Compact(out)
}

// farYears is how far ahead dates that do not exist are looked for.
const farYears = 20

// skipped lists the dates from start on that do not exist in the zone: those
// over which its clocks jumped by a day.
func (v *view) skipped(start plan.Date) []plan.Date {
	var out []plan.Date
	t := plan.DayStart(start, v.Zone)
	for limit := t.AddDate(farYears, 0, 0); t.Before(limit); {
		_, next := t.ZoneBounds()
		if next.IsZero() {
			break
		}
		// Go's ZoneBounds (1.26) gives the 31 December of a leap year, past the
		// end of the zone's table, a bound that does not lie after it.
		if !next.After(t) {
			next = t.Add(24 * time.Hour)
		}
		_, before := t.Zone()
		if _, after := next.Zone(); after-before >= 24*60*60 {
			if d := v.day(next).AddDays(-1); !plan.Exists(d, v.Zone) {
				out = append(out, d)
			}
		}
		t = next
	}
	return out
}

// need is how many bands day d takes.
func (v *view) need(d plan.Date) int {
	if !v.Plan.Worn(d) || v.Plan.BandsPaused(d) || !plan.Exists(d, v.Zone) {
		return 0
	}
	return v.changes(d) * len(v.Plan.BandsOn(d))
}
