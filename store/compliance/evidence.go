package compliance

import (
	"cmp"
	"slices"

	"bandbell/scheduler/plan"
)

// point is a moment of which a report says that the bands were on or off.
type point struct {
	at       tick
	on       bool
	received tick
	report   int // index in Record.Reports
}

// stretch is a stretch of time that one thing made: a report's explicit off
// span, or a meal.
type stretch struct {
	from, to tick
	report   int           // explicit off span; else none
	meal     plan.MealCode // meal; else empty
}

// none stands where a report's index would, if no report had a part in it.
const none = -1

// evidence turns the seen reports into points in time and explicit off spans.
// Points further than the carry from [from, to) cannot bear on it and are left
// out, which keeps the fold of one day cheap.
//
// An on at t is on at t. An off at t is off at t; with a since s it is also on
// at s, and [s, t) an explicit off span. An off span [a, b) is on at a, on at b
// and an explicit off span. Of two points at one instant the report received
// later stands, and at a tie off.
func (v *view) evidence(from, to, carry tick) ([]point, []stretch) {
	var points []point
	var offs []stretch
	add := func(at tick, on bool, received tick, report int) {
		if at >= from-carry && at <= to+carry {
			points = append(points, point{at, on, received, report})
		}
	}
	off := func(a, b tick, report int) {
		if a < b && a < to && b > from {
			offs = append(offs, stretch{from: a, to: b, report: report})
		}
	}
	for n := range v.Reports {
		e := &v.Reports[n]
		at := tickOf(e.At)
		if e.At.After(v.AsOf) {
			continue
		}
		switch e.What {
		case plan.ReportOn:
			add(at, true, at, n)
		case plan.ReportOff:
			add(at, false, at, n)
			if !e.Since.IsZero() {
				since := tickOf(e.Since)
				add(since, true, at, n)
				off(since, at, n)
			}
		case plan.ReportOffSpan:
			a, b := tickOf(e.From), tickOf(e.To)
			add(a, true, at, n)
			add(b, true, at, n)
			off(a, b, n)
		}
	}
	return settle(points), disjoint(offs)
}

// settle sorts points by time and leaves one at each instant.
func settle(points []point) []point {
	slices.SortFunc(points, func(a, b point) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.received, b.received),
			compareBool(b.on, a.on), cmp.Compare(a.report, b.report))
	})
	out := points[:0]
	for _, p := range points {
		if n := len(out); n > 0 && out[n-1].at == p.at {
			out[n-1] = p
			continue
		}
		out = append(out, p)
	}
	return out
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// disjoint sorts stretches by time and trims each where an earlier one has
// covered it, so that together they cover what they covered before.
func disjoint(in []stretch) []stretch {
	slices.SortFunc(in, func(a, b stretch) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to),
			cmp.Compare(a.report, b.report), cmp.Compare(a.meal, b.meal))
	})
	out := in[:0]
	for _, s := range in {
		if n := len(out); n > 0 && s.from < out[n-1].to {
			s.from = out[n-1].to
		}
		if s.from < s.to {
			out = append(out, s)
		}
	}
	return out
}

// meals lists the meal breaks that touch [from, to): of every meal that takes
// time, on each day from the first to the last of band wear.
func (v *view) meals(from, to tick, days []frame) []stretch {
	var byDay [7][]plan.Meal
	longest := 0
	for _, m := range v.Plan.Meals {
		if m.Minutes > 0 {
			longest = max(longest, m.Minutes)
			for w := range byDay {
				if m.Days.Has(weekday(w)) {
					byDay[w] = append(byDay[w], m)
				}
			}
		}
	}
	if longest == 0 {
		return nil
	}
	var out []stretch
	// A late meal of the day before reaches into the first day.
	first := days[0].date.AddDays(-1 - longest/shortestDay)
	for d := first; !d.After(days[len(days)-1].date); d = d.AddDays(1) {
		if !v.Plan.Worn(d) || len(byDay[d.Weekday()]) == 0 || !plan.Exists(d, v.Zone) {
			continue
		}
		for _, m := range byDay[d.Weekday()] {
			a := tickOf(plan.Instant(d, m.At, v.Zone))
			b := a + tick(m.Minutes)*minute
			if a < to && b > from {
				out = append(out, stretch{from: a, to: b, report: none, meal: m.Code})
			}
		}
	}
	return disjoint(out)
}
