package timetable

import (
	"time"

	"bandbell/scheduler/plan"
)

// Next is the first nudge due strictly after an instant, in the order of
// [Nudges], of those planned for local days up to horizonDays after the day of
// that instant (0: that day itself). It is false where there is none.
//
// It plans day after day and stops once no later day can bring an earlier
// nudge: a day's nudges are never due before the day begins. It begins with the
// earliest day whose last nudge, moved by quiet hours, may still be to come.
func Next(p *plan.Plan, loc *time.Location, after time.Time, horizonDays int) (plan.Nudge, bool) {
	t := newTable(p, loc)
	last := plan.DateOf(after, loc).AddDays(horizonDays)
	d := plan.DateOf(after.Add(-spill(p)), loc)
	if first := firstDay(p); d.Before(first) {
		d = first
	}
	var best plan.Nudge
	found := false
	for ; !d.After(last) && !p.Ended(d); d = d.AddDays(1) {
		if found && plan.DayStart(d, loc).After(best.Due) {
			break
		}
		if p.Paused(d) {
			continue // a long pause costs next to nothing
		}
		t.nudges, t.dropped = t.nudges[:0], t.dropped[:0]
		t.plan(d)
		for _, n := range t.nudges {
			if n.Due.After(after) && (!found || compareNudges(n, best) < 0) {
				best, found = n, true
			}
		}
	}
	return best, found
}

// spill is how long after the end of a day one of its nudges may be due at the
// latest: a meal begun before midnight ends, and quiet hours move a nudge no
// further than its until.
func spill(p *plan.Plan) time.Duration {
	longest := 0
	for _, m := range p.Meals {
		longest = max(longest, m.Minutes)
	}
	return max(minutes(longest+p.UsefulMin), SoreUseful)
}

// firstDay is the first day that can hold a nudge.
func firstDay(p *plan.Plan) plan.Date {
	first := p.Start().AddDays(-3)
	for _, r := range p.Restarts {
		if r.Before(first) {
			first = r
		}
	}
	return first
}
