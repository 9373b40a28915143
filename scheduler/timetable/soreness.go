package timetable

import (
	"slices"
	"strconv"
	"time"

	"bandbell/scheduler/plan"
)

// How long the sore time is followed, counting the day of the start as the
// first, and how long an evening's question stays useful. Common practice of
// the trade, no source.
const (
	SoreDays          = 7
	SoreDaysRestarted = 3
	SoreUseful        = 180 * time.Minute
)

// soreness plans the evening's question of day d: one for each start of wear,
// the first or a restart, whose sore days d is among. Of several the latest
// start's stands, for the patient is asked once; a restart on the first day of
// wear stands over that day. Restarts count wherever they lie, before the first
// day of wear too.
func (t *table) soreness(d plan.Date) {
	var starts []plan.Date // first those of restarts, each date once
	var latest plan.Date
	for _, r := range t.p.Restarts {
		if soreDay(d, r, SoreDaysRestarted) > 0 && !slices.Contains(starts, r) {
			starts = append(starts, r)
			if r.After(latest) {
				latest = r
			}
		}
	}
	first := soreDay(d, t.start, SoreDays)
	if first == 0 && len(starts) == 0 {
		return
	}
	due := plan.Instant(d, t.p.EveningAt, t.loc)
	add := func(prefix string, k int, stands bool) {
		var reason string
		if !stands {
			reason = plan.DropRestarted
		}
		t.add(plan.Nudge{
			Kind: plan.Soreness, Slot: prefix + "s" + strconv.Itoa(k), Day: d,
			Due: due, Until: due.Add(SoreUseful),
		}, reason)
	}
	firstStands := first > 0 && t.start.After(latest)
	for _, r := range starts {
		add(r.String()+"/", soreDay(d, r, SoreDaysRestarted), r == latest && !firstStands)
	}
	if first > 0 {
		add("", first, firstStands)
	}
}

// soreDay is which sore day d is after a start, 1 being the start itself; 0
// where it is none of the first n.
func soreDay(d, start plan.Date, n int) int {
	if k := d.DaysSince(start) + 1; k >= 1 && k <= n {
		return k
	}
	return 0
}
