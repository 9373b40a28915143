package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

const (
	queryReports = "SELECT " + reportColumns + " FROM report INDEXED BY report_patient WHERE patient_id = ? AND superseded IS NULL AND at <= ? ORDER BY at, reply_id, id"
	queryFlags   = "SELECT " + flagColumns + " FROM flag INDEXED BY flag_patient WHERE patient_id = ? AND superseded IS NULL AND at <= ? ORDER BY at, reply_id, id"
	queryNudges  = nudgeOutcome + " WHERE n.patient_id = ? AND n.due <= ? ORDER BY n.due, n.id, o.id"
)

// PatientRecord builds the record of one patient from which all figures are
// computed: the plan in force and the zone on asOf's day, every report and flag
// in force, every nudge and every visit up to asOf. A nil window is the days from the first of band
// wear to asOf's, or that day alone where wear has not begun. ErrNotFound: no
// such patient, or no plan.
func (db *DB) PatientRecord(ctx context.Context, ref string, asOf time.Time, window *compliance.Window) (r *compliance.Record, err error) {
	err = db.read(ctx, "read patient's record", func(x *tx) error {
		r, err = db.record(x, ref, asOf, window)
		return err
	})
	if err != nil {
		return nil, err
	}
	return r, nil
}

func (db *DB) record(x *tx, ref string, asOf time.Time, window *compliance.Window) (*compliance.Record, error) {
	p, err := x.patientByRef(ref)
	if err != nil {
		return nil, err
	}
	versions, err := x.versions(p.ID, nil)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		return nil, fmt.Errorf("zone of patient %q: %w", ref, err)
	}
	v, ok := inForce(versions, plan.DateOf(asOf, zone))
	if !ok {
		return nil, fmt.Errorf("plan of patient %q: %w", ref, ErrNotFound)
	}
	if zone, err = time.LoadLocation(v.Zone); err != nil {
		return nil, fmt.Errorf("zone of plan version %d: %w", v.Number, err)
	}
	r := &compliance.Record{Zone: zone, AsOf: asOf, Plan: v.Plan, Settings: db.settings}
	if window != nil {
		r.Window = *window
	} else {
		today := plan.DateOf(asOf, zone)
		r.Window = compliance.Window{From: v.Plan.Start(), To: today}
		if r.Window.From.After(today) {
			r.Window.From = today
		}
	}
	until := asOf.UnixMilli()
	if r.Reports, err = list(x, scanReport, queryReports, p.ID, until); err != nil {
		return nil, err
	}
	if r.Flags, err = list(x, scanFlag, queryFlags, p.ID, until); err != nil {
		return nil, err
	}
	if r.Nudges, err = nudges(x, queryNudges, p.ID, until); err != nil {
		return nil, err
	}
	r.Visits, err = x.readings(p.ID, plan.DateOf(asOf, zone))
	return r, err
}
