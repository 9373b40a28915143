package compliance

import (
	"cmp"
	"slices"

	"bandbell/scheduler/plan"
)

// Constants of the soreness course. Common practice, no source; for the order
// of things: on a scale of 0-10 soreness peaks at 24 h at a mean of 3.87 and
// is 1.62 on day 7 (Almasoud, Korean J Orthod 2018;48:326-332, appliances; to
// bands begun in week three that is an extrapolation).
const (
	soreAlways  = 8 // a value for the desk on any day
	soreLate    = 4 // a value for the desk from soreLateDay on
	soreLateDay = 8
	trayDays    = 3 // first days of a tray, on which new soreness is expected
)

// SoreDay is the greatest soreness, 0-10, reported on one day of the present
// cycle. Day 1 is the day wear began or began again.
type SoreDay struct {
	Day   int `json:"day"`
	Value int `json:"value"`
}

// cycle is the first day of the present cycle: the latest start or restart
// that is not still to come.
func (v *view) cycle(restarts []plan.Date) plan.Date {
	start := v.Plan.Start()
	for _, d := range restarts {
		if d.After(start) && !d.After(v.today) {
			start = d
		}
	}
	return start
}

// soreness lists the course of the present cycle; earlier cycles are left out.
func (v *view) soreness(start plan.Date) []SoreDay {
	best := map[int]int{}
	for _, e := range v.reports {
		if e.What != plan.ReportSoreness {
			continue
		}
		if day := plan.DateOf(e.At, v.Zone).DaysSince(start) + 1; day >= 1 {
			old, ok := best[day]
			if !ok || e.Value > old {
				best[day] = e.Value
			}
		}
	}
	out := make([]SoreDay, 0, len(best))
	for day, value := range best {
		out = append(out, SoreDay{day, value})
	}
	slices.SortFunc(out, func(a, b SoreDay) int { return cmp.Compare(a.Day, b.Day) })
	return out
}

// newTray reports whether d is one of the first three days of a tray. Braces
// have none.
func (v *view) newTray(d plan.Date) bool {
	p := &v.Plan
	if p.AlignerStart.IsZero() || p.DaysPerTray <= 0 {
		return false
	}
	n := d.DaysSince(p.AlignerStart)
	return n >= 0 && n < p.DaysPerTray*p.Trays && n%p.DaysPerTray < trayDays
}

// alarming says in words why the soreness is for the desk; nil: it is not.
func (v *view) alarming(start plan.Date, course []SoreDay) []string {
	var why []string
	greatest := func(from, to int) (value int, ok bool) {
		for _, s := range course {
			if s.Day >= from && s.Day <= to && (!ok || s.Value > value) {
				value, ok = s.Value, true
			}
		}
		return value, ok
	}
	for _, s := range course {
		date := start.AddDays(s.Day - 1)
		switch {
		case s.Value >= soreAlways:
			why = append(why, words("soreness %d of 10 on %v, day %d of wear", s.Value, date, s.Day))
		case s.Value >= soreLate && s.Day >= soreLateDay && !v.newTray(date):
			why = append(why, words("still sore, %d of 10, on %v, day %d of wear", s.Value, date, s.Day))
		}
	}
	early, ok1 := greatest(2, 3)
	later, ok2 := greatest(5, 7)
	if ok1 && ok2 && later > early {
		why = append(why, words("soreness rose from %d of 10 on days 2-3 to %d on days 5-7", early, later))
	}
	return why
}
