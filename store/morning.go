package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// Morning is the morning list: whom to call, and why.
type Morning struct {
	At        time.Time                   // the moment it was worked out for
	Rows      []MorningRow                // those to look at, in order
	Standings map[compliance.Standing]int // of everybody with a plan
	NoPlan    int                         // patients without a plan, of whom nothing can be said
	Failed    []MorningFault              // those whose figures could not be worked out
}

// MorningRow is one patient to look at.
type MorningRow struct {
	compliance.Row
	Who  plan.Patient
	Open []OpenWords // in which words what is open was told, newest first
	Last LastWords
}

// MorningFault is a patient the list could not be worked out for: not known,
// which is not the same as well.
type MorningFault struct {
	Ref string
	Err error
}

// Morning works the morning list out as of now. It holds every patient who is
// on hold, quiet, slipping or to be called; those on hold first, for nothing is
// sent to them until staff act, and each group in compliance.Order. What fails
// for one patient is told and leaves the others in place.
//
// It reads the whole record of every patient, so it costs some milliseconds
// each (BenchmarkMorning).
func (db *DB) Morning(ctx context.Context, now time.Time) (Morning, error) {
	patients, err := db.Patients(ctx)
	if err != nil {
		return Morning{}, fmt.Errorf("work out the morning list: %w", err)
	}
	m := Morning{At: now, Standings: map[compliance.Standing]int{}}
	who := make(map[string]plan.Patient, len(patients))
	var rows []compliance.Row
	for _, p := range patients {
		if err := ctx.Err(); err != nil {
			return Morning{}, fmt.Errorf("work out the morning list: %w", err)
		}
		row, list, err := db.morningRow(ctx, p, now)
		switch {
		case errors.Is(err, errNoPlan):
			m.NoPlan++
		case err != nil:
			m.Failed = append(m.Failed, MorningFault{p.Ref, err})
		default:
			m.Standings[row.Standing]++
		}
		if list {
			who[p.Ref] = p
			rows = append(rows, row)
		}
	}
	compliance.Order(rows)
	slices.SortStableFunc(rows, func(a, b compliance.Row) int {
		return bit(held(who[b.Patient], now)) - bit(held(who[a.Patient], now))
	})
	err = db.read(ctx, "read last words", func(x *tx) error {
		for _, row := range rows {
			p := who[row.Patient]
			open, err := x.openWords(p.ID, now)
			if err != nil {
				return err
			}
			last, err := x.lastWords(p.ID, now)
			if err != nil {
				return err
			}
			m.Rows = append(m.Rows, MorningRow{row, p, open, last})
		}
		return nil
	})
	if err != nil {
		return Morning{}, fmt.Errorf("work out the morning list: %w", err)
	}
	return m, nil
}

// errNoPlan: nothing was prescribed, so there is nothing to work out.
var errNoPlan = errors.New("no plan was set")

// morningRow works one patient's line out. A patient on hold is on the list
// whatever else is known.
func (db *DB) morningRow(ctx context.Context, p plan.Patient, now time.Time) (row compliance.Row, list bool, err error) {
	onHold := held(p, now)
	row, list = compliance.Row{Patient: p.Ref, Standing: compliance.Call}, onHold
	figures := func() error {
		r, err := db.PatientRecord(ctx, p.Ref, now, nil)
		if errors.Is(err, ErrNotFound) {
			return errNoPlan
		}
		if err != nil {
			return err
		}
		f, err := compliance.Compute(r)
		if err != nil {
			return err
		}
		if row, err = compliance.NewRow(p.Ref, r, f); err != nil {
			return err
		}
		list = list || row.Standing != compliance.Steady && row.Standing != compliance.New
		return nil
	}
	err = figures()
	if onHold {
		zone := zoneOf(p)
		row.Waiting = max(row.Waiting, plan.DateOf(now, zone).DaysSince(plan.DateOf(p.Hold.Since, zone)))
		row.Why = append([]string{"on hold since " + p.Hold.Since.In(zone).Format("2 Jan 2006") + ": " + p.Hold.Reason}, row.Why...)
	}
	return row, list, err
}

// zoneOf is the patient's zone, UTC where it is not known.
func zoneOf(p plan.Patient) *time.Location {
	if zone, err := time.LoadLocation(p.Zone); err == nil {
		return zone
	}
	return time.UTC
}

// held reports whether a hold stood at a moment.
func held(p plan.Patient, now time.Time) bool { return p.Hold.Held() && !p.Hold.Since.After(now) }
