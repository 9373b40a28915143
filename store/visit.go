package store

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// Visit is what was measured at the chair on one local day.
type Visit struct {
	Date    plan.Date
	Overjet *compliance.Taken // in mm; nil: not read
	Left    *compliance.Taken // canine or molar relation; nil: not read
	Right   *compliance.Taken // nil: not read
	SD      float64           // mm, of each reading; 0: the setting's
	By      string            // who measured or wrote it down
	At      time.Time         // when it was put on file
	Still   compliance.Visit  // what the record holds: mm still to correct; filled by the store
}

// maxMeasure, in mm, is far beyond any reading and near enough to catch a slip
// of the keyboard. Common practice, no source.
const maxMeasure = 50

// AddVisit puts the readings of one day on file and returns what is still to
// correct, as the record holds it. A second visit of the same day takes the
// place of the first, whole; one that read nothing takes it back. By, At of
// the visit are taken from by and now. Faults come all at once, as plan.Faults;
// a day after that of now, in the patient's zone, is one.
func (db *DB) AddVisit(ctx context.Context, ref string, v Visit, by string, now time.Time) (compliance.Visit, error) {
	r, fs := still(v)
	if strings.TrimSpace(by) == "" || len(by) > maxName || strings.ContainsFunc(by, unicode.IsControl) || !validText(by) {
		fs = append(fs, plan.Fault{Path: "by", What: "is missing or unfit", Hint: "name who measured, on one line"})
	}
	err := db.write(ctx, "add visit", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		zone, err := time.LoadLocation(p.Zone)
		if err != nil {
			return fmt.Errorf("zone of patient %q: %w", ref, err)
		}
		if today := plan.DateOf(now, zone); v.Date.After(today) {
			fs = append(fs, plan.Fault{Path: "date", What: fmt.Sprintf("%s is still to come: it is %s there", v.Date, today)})
		}
		if err := fs.Err(); err != nil {
			return err
		}
		args := []any{p.ID, v.Date.String(), r.Overjet, r.Left, r.Right, r.SD}
		read := 0
		for _, t := range []*compliance.Taken{v.Overjet, v.Left, v.Right} {
			if t == nil {
				args = append(args, nil, "", nil)
				continue
			}
			read++
			args = append(args, t.Measured, string(t.Unit), t.Target)
		}
		if _, err := x.insert(`INSERT INTO visit (patient_id, day, overjet_mm, left_mm, right_mm, sd_mm,
			overjet_measured, overjet_unit, overjet_target, left_measured, left_unit, left_target,
			right_measured, right_unit, right_target, by, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			append(args, by, ms(now))...); err != nil {
			return err
		}
		return x.note(now, by, "visit add", p.Ref, fmt.Sprintf("%s, %d measures", v.Date, read))
	})
	return r, err
}

// still subtracts the targets and finds every fault of the readings.
func still(v Visit) (compliance.Visit, plan.Faults) {
	var fs plan.Faults
	say := func(path, what, hint string) { fs = append(fs, plan.Fault{Path: path, What: what, Hint: hint}) }
	if v.Date.IsZero() {
		say("date", "is missing", "name the local day of the visit")
	}
	take := func(path string, t *compliance.Taken) *float64 {
		if t == nil {
			return nil
		}
		mm, err := t.Millimetres()
		if err != nil {
			say(path, err.Error(), "")
			return nil
		}
		left := mm - t.Target
		if !(math.Abs(mm) <= maxMeasure && math.Abs(t.Target) <= maxMeasure && math.Abs(left) <= maxMeasure) {
			say(path, fmt.Sprintf("%v %s against a target of %v mm cannot be", t.Measured, t.Unit, t.Target), fmt.Sprintf("at most %d mm", maxMeasure))
		}
		return &left
	}
	r := compliance.Visit{Date: v.Date, Overjet: take("overjet", v.Overjet), Left: take("left", v.Left), Right: take("right", v.Right)}
	if v.Overjet != nil && v.Overjet.Unit != compliance.Millimetres {
		say("overjet", "is read in mm", "")
	}
	if v.SD != 0 {
		if !(v.SD > 0 && v.SD <= maxMeasure) {
			say("sd_mm", fmt.Sprintf("%v is not a spread of readings", v.SD), fmt.Sprintf("over 0 and at most %d mm", maxMeasure))
		}
		r.SD = &v.SD
	}
	return r, fs
}

// queryVisits lists every row of a patient, so that the latest of a day is the
// last of it.
const queryVisits = `SELECT day, overjet_mm, left_mm, right_mm, sd_mm, overjet_measured, overjet_unit, overjet_target, left_measured, left_unit, left_target,
	right_measured, right_unit, right_target, by, at FROM visit INDEXED BY visit_patient WHERE patient_id = ? ORDER BY day, id`

func scanVisit(row scanner) (v Visit, err error) {
	type taken struct {
		measured, target *float64
		unit             compliance.Unit
	}
	var t [3]taken
	err = row.Scan(date{&v.Date}, &v.Still.Overjet, &v.Still.Left, &v.Still.Right, &v.Still.SD, &t[0].measured, &t[0].unit, &t[0].target, &t[1].measured, &t[1].unit, &t[1].target,
		&t[2].measured, &t[2].unit, &t[2].target, &v.By, instant{&v.At})
	for i, to := range []**compliance.Taken{&v.Overjet, &v.Left, &v.Right} {
		if t[i].measured != nil && t[i].target != nil {
			*to = &compliance.Taken{Measured: *t[i].measured, Unit: t[i].unit, Target: *t[i].target}
		}
	}
	if v.Still.Date = v.Date; v.Still.SD != nil {
		v.SD = *v.Still.SD
	}
	return v, err
}

// Visits lists what was measured of a patient by day, corrections in place of
// what they correct.
func (db *DB) Visits(ctx context.Context, ref string) (out []Visit, err error) {
	err = db.read(ctx, "list visits", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		out, err = x.visits(p.ID)
		return err
	})
	return out, err
}

func (x *tx) visits(patient int64) ([]Visit, error) {
	rows, err := list(x, scanVisit, queryVisits, patient)
	if err != nil {
		return nil, err
	}
	var out []Visit
	for i, v := range rows {
		if i+1 < len(rows) && rows[i+1].Date == v.Date {
			continue // corrected
		}
		if v.Overjet != nil || v.Left != nil || v.Right != nil {
			out = append(out, v)
		}
	}
	return out, nil
}

// readings are the visits as a record holds them: a reading is true of its day,
// whenever it was written down, so a late entry or a correction counts from its
// day on.
func (x *tx) readings(patient int64, last plan.Date) ([]compliance.Visit, error) {
	all, err := x.visits(patient)
	if err != nil {
		return nil, err
	}
	var out []compliance.Visit
	for _, v := range all {
		if !v.Date.After(last) {
			out = append(out, v.Still)
		}
	}
	return out, nil
}
