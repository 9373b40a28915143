package store

import (
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// fewer honours the wish for fewer messages: from tomorrow the patient is asked
// one level less often than today, down to once a day. It is a new version of
// the plan, made in the transaction of the reply, and the desk is told. Asking
// twice on one day is asking once.
func (r *recording) fewer() error {
	if r.patient.ID == 0 || !r.heard.Fewer || r.heard.Stop {
		return nil
	}
	if !r.heard.NeedsPerson {
		r.heard.NeedsPerson = true
		r.heard.Why = joined(r.heard.Why, "asks for fewer messages")
	}
	versions, err := r.versions(r.patient.ID, &r.db.plans)
	if err != nil {
		return err
	}
	zone, err := time.LoadLocation(r.patient.Zone)
	if err != nil {
		return fmt.Errorf("zone of the patient: %w", err)
	}
	today := plan.DateOf(r.now, zone)
	now, ok := inForce(versions, today)
	if !ok {
		return nil // without a plan nothing is asked
	}
	tomorrow := today.AddDays(1)
	level := max(1, now.Plan.LevelOn(today)-1)
	written := 0
	for _, v := range toCome(versions, tomorrow) {
		first := v.First
		if first.Before(tomorrow) {
			first = tomorrow
		}
		p, changed := eased(v.Plan, first, level)
		if !changed && written == 0 {
			continue // what stands behind a version written here has to be written again
		}
		if err := r.db.addVersion(r.tx, r.patient, p, first, "patient", r.now); err != nil {
			return err
		}
		written++
	}
	return r.note(r.now, "patient", "fewer", r.patient.Ref, fmt.Sprintf("reply %d: level %d from %s, %d versions", r.id, level, tomorrow, written))
}

// toCome lists the versions in force on a day or later, by their first day.
func toCome(versions []plan.Version, from plan.Date) (out []plan.Version) {
	v, ok := inForce(versions, from)
	for ok {
		out = append(out, v)
		var next plan.Version
		ok = false
		for _, e := range versions {
			if e.Number > v.Number && e.First.After(from) && (!ok || e.First.Before(next.First) || e.First == next.First && e.Number > next.Number) {
				next, ok = e, true
			}
		}
		v, from = next, next.First
	}
	return out
}

// eased is a plan that asks at most at a level from a day on. False: it does so
// already.
func eased(p plan.Plan, from plan.Date, level int) (plan.Plan, bool) {
	var kept []plan.Cadence
	changed := p.LevelOn(from) > level
	for _, e := range p.Cadence {
		if e.From.After(from) && e.Level > level {
			e.Level, changed = level, true
		}
		if e.From != from || p.LevelOn(from) <= level {
			kept = append(kept, e)
		}
	}
	if p.LevelOn(from) > level {
		kept = append(kept, plan.Cadence{From: from, Level: level})
	}
	p.Cadence = kept
	return p, changed
}
