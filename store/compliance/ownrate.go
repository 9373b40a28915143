package compliance

import (
	"fmt"

	"bandbell/scheduler/plan"
)

// enoughFinished is how many finished patients a clinic needs before its own
// rate replaces the configured one. Common practice, no source.
const enoughFinished = 10

// ObservedRate returns what a record's readings of one measure say of the
// correction by 100 working hours, in mm: the slope of the weighted
// least-squares line, with no prior. ok is false where there are not two
// readings with working hours between them.
func ObservedRate(r *Record, m MeasureName) (rate float64, ok bool, err error) {
	if err := r.check(); err != nil {
		return 0, false, fmt.Errorf("observe rate: %w", err)
	}
	v := newView(r)
	frames := v.frames(r.Window.From, r.Window.To)
	segments := v.segments(frames)
	days := v.tally(frames, segments)
	v.work(days, segments, v.wear(frames, days))
	list := v.readings(m)
	g := regression{unknowns: 2}
	var span float64
	var first plan.Date
	for i, e := range list {
		if i == 0 {
			first = e.date
		}
		h := workedBetween(days, first, e.date)
		g.add([2]float64{1, -h / 100}, e.mm, e.sd)
		span = max(span, h)
	}
	if span == 0 {
		return 0, false, nil
	}
	return g.mean()[1], true, nil
}

// OwnRate returns the mean and spread of the rates of one measure observed in
// a clinic's finished patients, in mm by 100 working hours; ok is false for
// fewer than ten of them, and the configured rate stands.
func OwnRate(finished []float64) (mean, sd float64, ok bool) {
	if len(finished) < enoughFinished {
		return 0, 0, false
	}
	mean, sd = meanSD(finished)
	return mean, sd, sd > 0
}
