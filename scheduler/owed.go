package scheduler

import (
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/scheduler/timetable"
)

// lookAgain is how long a patient is left alone at most. A new release of the
// time zone data can move what was reckoned ahead, so nothing reckoned is
// trusted for longer.
const lookAgain = 24 * time.Hour

// Reasons for which a nudge lapses the moment it is put on file.
const (
	LapsePassed = "its moment passed before it could be sent"
	LapseHold   = "on hold: "
)

// Owed reckons what one patient is owed at now: the nudges due after
// d.Through and not after now, each from the plan version in force on its day,
// and the moment to look again. It is pure.
//
// A patient without consent, or one who said STOP, is owed nothing, and nothing
// is made up for later. On a safety hold nudges go on file as lapsed.
func Owed(d plan.DuePatient, now time.Time) (plan.Owed, error) {
	last := latest(d)
	out := plan.Owed{PatientID: d.Patient.ID, Version: last.Number, Through: now}
	if now.Before(d.Through) {
		// The clock went back: what was put on file stays so, and nothing is
		// owed until the clock has caught up.
		out.Through, out.NextDue = d.Through, d.Through
		return out, nil
	}
	if !d.Patient.Stopped.IsZero() || !slices.ContainsFunc(d.Patient.Recipients, mayBeWritten) {
		return out, nil // consent and resuming set the next look themselves
	}
	through := d.Through
	if first := d.Versions[0].Created; through.Before(first) {
		through = first.Add(-time.Nanosecond)
	}
	next := now.Add(lookAgain)
	open := false
	for i, v := range d.Versions {
		loc, err := time.LoadLocation(v.Zone)
		if err != nil {
			return out, fmt.Errorf("load zone: %w", err)
		}
		// The version's days, and those a nudge moved over midnight may be of.
		from := plan.DateOf(through, loc).AddDays(-1)
		if v.First.After(from) {
			from = v.First
		}
		to := plan.DateOf(next, loc)
		if i+1 < len(d.Versions) && !to.Before(d.Versions[i+1].First) {
			to = d.Versions[i+1].First.AddDays(-1)
		}
		nudges, _ := timetable.Nudges(&v.Plan, loc, from, to)
		for _, n := range nudges {
			switch {
			case !n.Due.After(through) || n.Due.Before(v.Created):
			case n.Due.After(now):
				if n.Due.Before(next) {
					next = n.Due
				}
			default:
				out.Nudges = append(out.Nudges, plan.Owing{Nudge: n, Lapse: lapse(d.Patient, n, now)})
			}
		}
		if i == len(d.Versions)-1 {
			open = !v.Plan.Ended(plan.DateOf(now, loc).AddDays(-1)) || v.First.After(plan.DateOf(now, loc))
		}
	}
	if open || len(out.Nudges) > 0 {
		out.NextDue = next
	}
	return out, nil
}

func lapse(p plan.Patient, n plan.Nudge, now time.Time) string {
	switch {
	case !n.Until.After(now):
		return LapsePassed
	case p.Hold.Held():
		return LapseHold + p.Hold.Reason
	}
	return ""
}

func mayBeWritten(r plan.Recipient) bool {
	return r.Consent.Given() && r.Stopped.IsZero() && r.Bounced.IsZero()
}

func latest(d plan.DuePatient) plan.Version { return d.Versions[len(d.Versions)-1] }
