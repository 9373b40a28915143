package scheduler

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/scheduler/timetable"
)

const (
	// lookAgain is how long a patient is left alone at most. A new release of
	// the time zone data can move what was reckoned ahead, so nothing reckoned
	// is trusted for longer.
	lookAgain = 24 * time.Hour

	// catchUp is how much of the past one look puts on file, so that a file
	// restored after a year does not become one transaction. Common practice,
	// no source.
	catchUp = 31 * 24 * time.Hour
)

// Reasons for which a nudge lapses the moment it is put on file.
const (
	LapsePassed = "its moment passed before it could be sent"
	LapseHold   = "on hold: "
)

// Owed reckons what one patient is owed at now: the nudges due after
// d.Through and not after now, each from the plan version in force for it, and
// the moment to look again. It keeps nothing and asks no clock.
//
// In force for a nudge is the latest version that begins on its day or before
// and was written by the moment it came due. So what is owed is the same
// however often, and however late, a patient is looked at.
//
// A patient without consent, or one who said STOP, is owed nothing, and nothing
// is made up for later. On a safety hold nudges go on file as lapsed. Of a past
// longer than a month the first month is returned, with now as the moment to
// look again. The error is a patient without a plan, or a time zone that this
// machine does not know; it quotes neither.
func Owed(d plan.DuePatient, now time.Time) (plan.Owed, error) {
	return owed(d, now, time.LoadLocation)
}

// owed is Owed with the caller's way of loading a time zone.
func owed(d plan.DuePatient, now time.Time, load func(string) (*time.Location, error)) (plan.Owed, error) {
	out := plan.Owed{PatientID: d.Patient.ID, Version: latest(d).Number, Through: now}
	if len(d.Versions) == 0 {
		return out, errors.New("no plan on file")
	}
	if ahead := d.Through.Sub(now); ahead > 0 && ahead <= lookAgain {
		// The clock went back: what was put on file stays so, and nothing is
		// owed until the clock has caught up.
		out.Through, out.NextDue = d.Through, d.Through
		return out, nil
	}
	zones, err := zonesOf(d.Versions, load)
	if err != nil {
		return out, err
	}
	open := false
	for i := range d.Versions {
		open = open || !daysOf(d.Versions, i, zones[i], now).empty()
	}
	if !d.Patient.Stopped.IsZero() || !slices.ContainsFunc(d.Patient.Recipients, mayBeWritten) {
		if open {
			// Consent and resuming set the next look themselves. This one is for
			// those that came between reading the patient and filing this.
			out.NextDue = now.Add(lookAgain)
		}
		return out, nil
	}
	through := since(d, now)
	next := now.Add(lookAgain)
	horizon := next // nothing due later is of interest
	if now.Sub(through) > catchUp {
		out.Through = through.Add(catchUp)
		horizon = out.Through
	}
	for i := len(d.Versions) - 1; i >= 0; i-- {
		v, loc := &d.Versions[i], zones[i]
		days := daysOf(d.Versions, i, loc, through).upTo(plan.DateOf(horizon, loc))
		nudges, _ := timetable.Nudges(&v.Plan, loc, days.from, days.to)
		later := out.Nudges // of newer versions
		for _, n := range nudges {
			switch {
			case !n.Due.After(through) || !inForce(d.Versions, i, n):
			case n.Due.After(now):
				if n.Due.Before(next) {
					next, horizon = n.Due, n.Due
				}
			case n.Due.After(out.Through):
			case slices.ContainsFunc(later, func(o plan.Owing) bool { return sameNudge(o.Nudge, n) }):
				// The change moved its hour: it is one nudge, at the newer one.
			default:
				out.Nudges = append(out.Nudges, plan.Owing{Nudge: n, Lapse: lapse(d.Patient, n, now)})
			}
		}
	}
	slices.SortStableFunc(out.Nudges, func(a, b plan.Owing) int { return compareNudges(a.Nudge, b.Nudge) })
	switch {
	case out.Through.Before(now):
		out.NextDue = now
	case open:
		out.NextDue = next
	}
	return out, nil
}

// since is the instant up to which everything is on file or was never owed:
// nothing is from before the first plan was written, nor from before a moment
// that has not come. A patient handled through a day ahead or more was handled
// by a clock that was wrong; waiting for it could take years.
func since(d plan.DuePatient, now time.Time) time.Time {
	through := d.Through
	if through.After(now) {
		through = now
	}
	first := d.Versions[0].Created
	for _, v := range d.Versions[1:] {
		if v.Created.Before(first) {
			first = v.Created
		}
	}
	if through.Before(first) {
		through = first.Add(-time.Nanosecond)
	}
	return through
}

// days is a stretch of days, both ends included; to is zero where it is open.
type days struct{ from, to plan.Date }

func (d days) empty() bool { return !d.to.IsZero() && d.to.Before(d.from) }

func (d days) upTo(to plan.Date) days {
	if d.to.IsZero() || to.Before(d.to) {
		d.to = to
	}
	return d
}

// daysOf is the stretch of days on which version i may hold nudges due after an
// instant: from its first day, or the first whose nudges may come so late, to
// the last day of wear, or the last that newer versions leave to it.
func daysOf(versions []plan.Version, i int, loc *time.Location, after time.Time) days {
	v := &versions[i]
	d := days{from: plan.DateOf(after.Add(-spill(&v.Plan)), loc), to: v.Plan.BandsEnd}
	if v.First.After(d.from) {
		d.from = v.First
	}
	for _, newer := range versions[i+1:] {
		if !newer.Created.After(after) {
			d = d.upTo(newer.First.AddDays(-1))
		}
	}
	return d
}

// inForce reports whether a nudge that version i holds is owed from it.
func inForce(versions []plan.Version, i int, n plan.Nudge) bool {
	begun := func(v plan.Version) bool { return !v.First.After(n.Day) && !v.Created.After(n.Due) }
	return begun(versions[i]) && !slices.ContainsFunc(versions[i+1:], begun)
}

// spill is how long after the end of its day a nudge may come due: a meal goes
// on past midnight, and quiet hours move a nudge no further than its until.
func spill(p *plan.Plan) time.Duration {
	longest := 0
	for _, m := range p.Meals {
		longest = max(longest, m.Minutes)
	}
	return max(time.Duration(longest+p.UsefulMin)*time.Minute, timetable.SoreUseful)
}

// zonesOf loads the zone of each version. One that is not known and was put
// right by a newer version is read as that one's.
func zonesOf(versions []plan.Version, load func(string) (*time.Location, error)) ([]*time.Location, error) {
	zones := make([]*time.Location, len(versions))
	for i := len(versions) - 1; i >= 0; i-- {
		name := versions[i].Zone
		// These two load, as UTC and as the zone of this machine.
		if name != "" && name != "Local" {
			if loc, err := load(name); err == nil {
				zones[i] = loc
				continue
			}
		}
		if i == len(versions)-1 {
			return nil, fmt.Errorf("version %d is in no known time zone; set the plan again, in a zone of the IANA list", versions[i].Number)
		}
		zones[i] = zones[i+1]
	}
	return zones, nil
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

func sameNudge(a, b plan.Nudge) bool { return a.Kind == b.Kind && a.Day == b.Day && a.Slot == b.Slot }

func compareNudges(a, b plan.Nudge) int {
	return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Slot, b.Slot))
}

func mayBeWritten(r plan.Recipient) bool {
	return r.Consent.Given() && r.Stopped.IsZero() && r.Bounced.IsZero()
}

// latest is the newest version of a patient's plan; zero where there is none.
func latest(d plan.DuePatient) plan.Version {
	if len(d.Versions) == 0 {
		return plan.Version{}
	}
	return d.Versions[len(d.Versions)-1]
}
