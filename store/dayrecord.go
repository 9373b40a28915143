package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// settled is the moment of reckoning of every day record: so late that nothing
// on file is left out. A record that hung on when it was folded could not be
// rebuilt.
var settled = time.Date(9000, 1, 1, 0, 0, 0, 0, time.UTC)

// folder folds the reports of one patient into day records, inside a
// transaction.
//
// Records stand for the days from the first of band wear, or of the first
// report where that is earlier, to the last day the nightly fold has covered
// and bands were worn on, or of the last report where that is later; none is
// missing in between. So which days have one is as much a function of what is
// on file as what they say.
type folder struct {
	*tx
	id          int64
	versions    []plan.Version
	zone        *time.Location // the patient's now
	settings    compliance.Settings
	first, last plan.Date // zero: no day yet
}

func (db *DB) folder(x *tx, patient int64) (*folder, error) {
	f := &folder{tx: x, id: patient, settings: db.settings}
	var zone string
	err := x.one("SELECT zone FROM patient WHERE id = ?", []any{patient}, &zone)
	if err != nil {
		return nil, notFound(err, "patient %d", patient)
	}
	if f.zone, err = time.LoadLocation(zone); err != nil {
		return nil, fmt.Errorf("zone of the patient: %w", err)
	}
	if f.versions, err = x.versions(patient, &db.plans); err != nil {
		return nil, err
	}
	f.first, f.last, err = f.extent()
	return f, err
}

// touched folds the days that new reports and flags, already on file, can
// change, and those that now have a record for the first time.
func (f *folder) touched(reports []plan.Stated, flags []plan.Flag) error {
	oldFirst, oldLast := f.first, f.last
	var err error
	if f.first, f.last, err = f.extent(); err != nil || f.first.IsZero() {
		return err
	}
	if oldFirst.IsZero() {
		return f.fold(f.first, f.last)
	}
	if f.first.Before(oldFirst) {
		if err := f.fold(f.first, oldFirst.AddDays(-1)); err != nil {
			return err
		}
	}
	if f.last.After(oldLast) {
		if err := f.fold(oldLast.AddDays(1), f.last); err != nil {
			return err
		}
	}
	r := &compliance.Record{Zone: f.zone, Settings: f.settings}
	for _, s := range reports {
		r.Nudges = f.named(s.Slot)
		from, to := compliance.Touched(r, s.Report)
		// Versions may differ in zone by up to a day.
		if err := f.fold(from.AddDays(-1), to.AddDays(1)); err != nil {
			return err
		}
	}
	for _, e := range flags {
		r.Nudges = f.named(e.Slot)
		if from, to, ok := compliance.TouchedByFlag(r, e); ok {
			if err := f.fold(from, to); err != nil {
				return err
			}
		}
	}
	return nil
}

// trim drops the records of days that no longer are to have one, because a
// report that reached out to them is no longer in force. f.touched has reckoned
// the days anew.
func (f *folder) trim() error {
	_, err := f.exec("DELETE FROM day_record WHERE patient_id = ? AND (? OR day NOT BETWEEN ? AND ?)",
		f.id, bit(f.first.IsZero()), f.first.String(), f.last.String())
	return err
}

// named is the nudge that a slot of a day names, for the fold to know its day.
func (f *folder) named(slot string) []compliance.Nudge {
	if d, _, ok := strings.Cut(slot, "/"); !ok || !isDate(d) {
		return nil // of another kind: no day record counts it
	}
	return []compliance.Nudge{{Kind: plan.BandChange, Slot: slot}}
}

func isDate(s string) bool {
	_, err := plan.ParseDate(s)
	return err == nil
}

// fold folds the days from one to another, both included, as far as they are to
// have a record, each with the plan and the zone in force on it.
func (f *folder) fold(from, to plan.Date) error {
	if f.first.IsZero() {
		return nil
	}
	if from.Before(f.first) {
		from = f.first
	}
	if to.After(f.last) {
		to = f.last
	}
	for !from.After(to) {
		v, ok := inForce(f.versions, from)
		if !ok {
			return nil // without a plan there is nothing to hold the answers against
		}
		end := from
		for end.Before(to) {
			if next, _ := inForce(f.versions, end.AddDays(1)); next.Number != v.Number {
				break
			}
			end = end.AddDays(1)
		}
		if err := f.foldUnder(v, from, end); err != nil {
			return err
		}
		from = end.AddDays(1)
	}
	return nil
}

func (f *folder) foldUnder(v plan.Version, from, to plan.Date) error {
	zone, err := time.LoadLocation(v.Zone)
	if err != nil {
		return fmt.Errorf("zone of plan version %d: %w", v.Number, err)
	}
	r := &compliance.Record{Zone: zone, AsOf: settled, Window: compliance.Window{From: from, To: to}, Plan: v.Plan, Settings: f.settings}
	if err := f.evidence(r, from, to); err != nil {
		return err
	}
	for _, d := range compliance.Fold(r, from, to) {
		var stated, sore any
		if d.Stated != nil {
			stated = float64(*d.Stated)
		}
		if d.Soreness != nil {
			sore = *d.Soreness
		}
		if _, err := f.exec(`INSERT INTO day_record (patient_id, day, length_min, on_min, off_min, unknown_min, stated_min,
			delivered, answered, confirmed, denied, soreness) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (patient_id, day) DO UPDATE SET length_min = excluded.length_min, on_min = excluded.on_min,
			off_min = excluded.off_min, unknown_min = excluded.unknown_min, stated_min = excluded.stated_min,
			delivered = excluded.delivered, answered = excluded.answered, confirmed = excluded.confirmed,
			denied = excluded.denied, soreness = excluded.soreness`,
			f.id, d.Day.String(), float64(d.Length), float64(d.On), float64(d.Off), float64(d.Unknown), stated,
			d.Delivered, d.Answered, d.Confirmed, d.Denied, sore); err != nil {
			return err
		}
	}
	return nil
}

func ignoreNotFound(err error) error {
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	return err
}

const queryDayRecords = `SELECT day, length_min, on_min, off_min, unknown_min, stated_min, delivered, answered, confirmed, denied, soreness
	FROM day_record WHERE patient_id = ? AND day BETWEEN ? AND ? ORDER BY day`

// DayRecords lists a patient's day records of the days from one to another,
// both included.
func (db *DB) DayRecords(ctx context.Context, ref string, from, to plan.Date) (out []compliance.DayRecord, err error) {
	err = db.read(ctx, "read day records", func(x *tx) error {
		var id int64
		if err := x.one(queryByRef, []any{ref}, &id); err != nil {
			return notFound(err, "patient %q", ref)
		}
		out, err = list(x, func(row scanner) (d compliance.DayRecord, err error) {
			return d, row.Scan(date{&d.Day}, &d.Length, &d.On, &d.Off, &d.Unknown, &d.Stated,
				&d.Delivered, &d.Answered, &d.Confirmed, &d.Denied, &d.Soreness)
		}, queryDayRecords, id, from.String(), to.String())
		return err
	})
	return out, err
}
