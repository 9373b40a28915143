package compliance

import "bandbell/scheduler/plan"

// work fills in the minutes that count for movement.
//
// No tooth moves until light force has lasted for the ramp (4 h, common
// practice, no source; the textbooks' threshold is 4-8 h a day). A run is the
// longest stretch in which no single off-time exceeds the grace; its off-times
// neither count nor break it. The first ramp minutes worn in a run do no work;
// the rest do, each in the local day where it falls. The first day begins a
// run anew, for nothing is known before it.
//
// Low takes unknown time as off, high as on, and the point lies p of the way
// between them. A day with a stated total of T minutes takes part in no run,
// and runs end and begin at its edges: its low is T less one ramp for each
// time the bands were out, changes + 1, and its high T, for the ramp may have
// been paid the day before.
//
// Hours and movement are not proportional: eight hours a day moved rat molars
// 73.7 % as far as continuous force, not 33 % (Hayashi et al., AJODO
// 2004;125:302-9, citation from memory). The ramp is a working rule.
func (v *view) work(days []Day, segments []segment, p float64) {
	low := v.runs(days, segments, func(s State) bool { return s == On })
	high := v.runs(days, segments, func(s State) bool { return s != Off })
	for i := range days {
		d := &days[i]
		if d.Stated {
			total := d.Worn.Low
			ramps := float64(v.changes(d.Date) + 1)
			d.Working = between(max(0, total-Minutes(v.Settings.RampMin*ramps)), total, p)
			continue
		}
		d.Working = between(minutesOf(low[i]), minutesOf(high[i]), p)
	}
}

// changes is how many fresh sets a day are prescribed on d.
func (v *view) changes(d plan.Date) int { return v.Plan.WearOn(d).ChangesPerDay }

// runs returns the working time of each day that has no stated total, where
// worn says which states count as worn.
func (v *view) runs(days []Day, segments []segment, worn func(State) bool) []tick {
	ramp, grace := ticks(v.Settings.RampMin), ticks(v.Settings.GraceMin)
	out := make([]tick, len(days))
	var run, off tick // worn time of the run so far; the off-time now going on
	for _, s := range segments {
		switch {
		case days[s.day].Stated:
			run, off = 0, 0
		case !worn(s.state):
			off += s.length()
		default:
			if off > grace {
				run = 0
			}
			off = 0
			before := max(0, run-ramp)
			run += s.length()
			out[s.day] += max(0, run-ramp) - before
		}
	}
	return out
}
