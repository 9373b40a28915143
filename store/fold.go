package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

const (
	queryFoldDue = "SELECT id FROM patient INDEXED BY patient_fold_due WHERE fold_due <= ? ORDER BY fold_due LIMIT ?"

	// foldBatch bounds one transaction of FoldDue. Common practice, no source.
	foldBatch = 200
)

// FoldDue folds the local days that are over by now into day records, for every
// patient whose day is, and returns how many patients that were. The last day
// folded before is folded again: a nudge of its late evening may have been
// accepted since. It returns an error with what was done before it.
func (db *DB) FoldDue(ctx context.Context, now time.Time) (n int, err error) {
	for {
		batch := 0
		err := db.write(ctx, "fold days", func(x *tx) error {
			ids, err := list(x, column[int64], queryFoldDue, ms(now), foldBatch)
			if err != nil {
				return err
			}
			for _, id := range ids {
				if err := db.foldTo(x, id, now); err != nil {
					return fmt.Errorf("patient %d: %w", id, err)
				}
			}
			batch = len(ids)
			return nil
		})
		if err != nil {
			return n, err
		}
		if n += batch; batch < foldBatch {
			return n, nil
		}
	}
}

// foldTo folds one patient's days up to yesterday and sets when to fold next.
func (db *DB) foldTo(x *tx, patient int64, now time.Time) error {
	f, err := db.folder(x, patient)
	if err != nil {
		return err
	}
	var done plan.Date
	if err := x.one("SELECT folded_to FROM patient WHERE id = ?", []any{patient}, date{&done}); err != nil {
		return err
	}
	today := plan.DateOf(now, f.zone)
	upTo := today.AddDays(-1)
	if upTo.Before(done) {
		upTo = done // the clock went back: nothing is unfolded
	}
	var next any
	if look := f.lookNext(today); !look.IsZero() {
		next = ms(plan.DayEnd(look, f.zone))
	}
	if _, err := x.exec("UPDATE patient SET folded_to = ?, fold_due = ? WHERE id = ?", day(upTo), next, patient); err != nil {
		return err
	}
	oldFirst, oldLast := f.first, f.last
	if f.first, f.last, err = f.extent(); err != nil || f.first.IsZero() {
		return err
	}
	from := f.first
	if !done.IsZero() && !oldFirst.IsZero() && !f.first.Before(oldFirst) {
		from = done
		if after := oldLast.AddDays(1); after.Before(from) {
			from = after
		}
	}
	return f.fold(from, f.last)
}

// lookNext is the day after which there is something to fold again: today, the
// first day of wear, or, once wear has ended, the first day of a version to
// come. Zero: never.
func (f *folder) lookNext(today plan.Date) plan.Date {
	v, ok := inForce(f.versions, today)
	if !ok {
		return plan.Date{}
	}
	if first := earliestStart(f.versions); first.After(today) {
		return first
	}
	if !v.Plan.Ended(today) {
		return today
	}
	var next plan.Date
	for _, v := range f.versions {
		if v.First.After(today) && (next.IsZero() || v.First.Before(next)) {
			next = v.First
		}
	}
	return next
}

// refoldAll folds all of a patient's days from nothing, and lets the nightly
// fold look again.
func (db *DB) refoldAll(x *tx, patient int64, now time.Time) error {
	f, err := db.folder(x, patient)
	if err != nil {
		return err
	}
	if _, err := x.exec("DELETE FROM day_record WHERE patient_id = ?", patient); err != nil {
		return err
	}
	if _, err := x.exec("UPDATE patient SET fold_due = ? WHERE id = ? AND version > 0", ms(now), patient); err != nil {
		return err
	}
	return f.fold(f.first, f.last)
}

// Rebuild throws a patient's day records away and folds them from the reports
// again. For the days that are over the result is the same.
func (db *DB) Rebuild(ctx context.Context, ref string) error {
	return db.write(ctx, "rebuild day records", func(x *tx) error {
		var id int64
		if err := x.one(queryByRef, []any{ref}, &id); err != nil {
			return notFound(err, "patient %q", ref)
		}
		f, err := db.folder(x, id)
		if err != nil {
			return err
		}
		if _, err := x.exec("DELETE FROM day_record WHERE patient_id = ?", id); err != nil {
			return err
		}
		return f.fold(f.first, f.last)
	})
}
