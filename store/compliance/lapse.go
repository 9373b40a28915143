package compliance

import (
	"slices"

	"bandbell/scheduler/plan"
)

// lapseTime is the unbroken off-time after which teeth are sore anew: one day.
// Common practice, no source.
const lapseTime = 24 * 60 * minute

// restarts lists the plan's restarts and the ledger's as dates, sorted, each
// once. One unbroken off-time of 24 hours or more in the ledger is a lapse,
// unless it lies before the first or after the last day of band wear; the
// local day of the first wear after it is a restart.
func (v *view) restarts(days []frame, segments []segment) []plan.Date {
	out := append([]plan.Date{}, v.Plan.Restarts...)
	begin := tickOf(plan.DayStart(v.Plan.Start(), v.Zone))
	outside := func(from, to tick) bool {
		if to <= begin {
			return true
		}
		return !v.Plan.BandsEnd.IsZero() && from >= tickOf(plan.DayEnd(v.Plan.BandsEnd, v.Zone))
	}
	var from tick  // where the off-time now going on began
	var lapse bool // a lapse ended, and no wear was seen since
	off := false
	for i, s := range segments {
		if s.state == Off {
			if !off {
				from, off = s.from, true
			}
			if next := i + 1; next == len(segments) || segments[next].state != Off {
				lapse = lapse || s.to-from >= lapseTime && !outside(from, s.to)
				off = false
			}
		}
		if s.state == On && lapse {
			out, lapse = append(out, days[s.day].date), false
		}
	}
	slices.SortFunc(out, plan.Date.Compare)
	return slices.Compact(out)
}
