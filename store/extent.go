package store

import (
	"time"

	"bandbell/scheduler/plan"
)

const queryExtent = `SELECT p.folded_to, (SELECT min(at) FROM report WHERE patient_id = p.id AND superseded IS NULL),
	(SELECT max(at) FROM report WHERE patient_id = p.id AND superseded IS NULL)
	FROM patient p WHERE p.id = ?`

// extent is the stretch of days that have a record; zero dates for none.
func (f *folder) extent() (first, last plan.Date, err error) {
	var earliest, latest time.Time
	if err := f.one(queryExtent, []any{f.id}, date{&last}, instant{&earliest}, instant{&latest}); err != nil {
		return first, last, err
	}
	if !last.IsZero() {
		first, last = earliestStart(f.versions), lastWorn(f.versions, last)
	}
	if !earliest.IsZero() {
		if d := plan.DateOf(earliest, f.zone); first.IsZero() || d.Before(first) {
			first = d
		}
		if d := plan.DateOf(latest, f.zone); d.After(last) {
			last = d
		}
	}
	if first.IsZero() || first.After(last) {
		return plan.Date{}, plan.Date{}, nil
	}
	return first, last, nil
}

// earliestStart is the first day of band wear under any version that is ever in
// force: one written over by a later version from the same day or before never
// is.
func earliestStart(versions []plan.Version) (first plan.Date) {
	for i, v := range versions {
		over := false
		for _, later := range versions[i+1:] {
			over = over || !later.First.After(v.First)
		}
		if s := v.Plan.Start(); !over && (first.IsZero() || s.Before(first)) {
			first = s
		}
	}
	return first
}

// lastWorn is the last day not after d that does not lie behind the end of wear
// under the version in force on it.
func lastWorn(versions []plan.Version, d plan.Date) plan.Date {
	for {
		v, ok := inForce(versions, d)
		switch end := v.Plan.BandsEnd; {
		case !ok, !v.Plan.Ended(d):
			return d
		case v.First.After(d), !end.Before(v.First):
			return end
		}
		d = v.First.AddDays(-1) // it had ended before it was in force
	}
}
