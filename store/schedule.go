package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

const queryDue = `SELECT ` + patientColumns + `, through FROM patient INDEXED BY patient_next_due
	WHERE next_due <= ? ORDER BY next_due LIMIT ?`

// DuePatients lists up to limit patients at whom the tick has to look, longest
// waiting first. It costs what is due, not who is on file. The plans in it are
// shared and must not be changed.
func (db *DB) DuePatients(ctx context.Context, now time.Time, limit int) (due []plan.DuePatient, err error) {
	err = db.read(ctx, "list due patients", func(x *tx) error {
		due, err = list(x, func(row scanner) (d plan.DuePatient, err error) {
			p := &d.Patient
			return d, row.Scan(&p.ID, &p.Ref, &p.FirstName, &p.LastName, &p.Phone, &p.Language, &p.Zone, &p.LatexAllergy,
				date{&p.Born}, instant{&p.Created}, instant{&p.Stopped}, instant{&p.Hold.Since}, &p.Hold.Reason, instant{&d.Through})
		}, queryDue, ms(now), limit)
		if err != nil {
			return err
		}
		for i := range due {
			d := &due[i]
			if d.Patient.Recipients, err = x.recipients(d.Patient.ID); err != nil {
				return err
			}
			if d.Versions, err = x.versions(d.Patient.ID, &db.plans); err != nil {
				return err
			}
		}
		return nil
	})
	return due, err
}

// Enqueue puts on file, in one transaction, what one look at each patient
// found: a nudge once for ever, and for each recipient one outgoing message,
// which is planned, or ends at once with its reason where something forbids it.
// A patient whose plan has a newer version than the one looked at, or for whom
// consent or resuming moved the start of what is owed past the look, is left for
// the next tick.
func (db *DB) Enqueue(ctx context.Context, now time.Time, owed []plan.Owed) error {
	if len(owed) == 0 {
		return nil
	}
	return db.write(ctx, "enqueue nudges", func(x *tx) error {
		for _, o := range owed {
			if err := x.enqueue(now, o); err != nil {
				return fmt.Errorf("patient %d: %w", o.PatientID, err)
			}
		}
		return nil
	})
}

func (x *tx) enqueue(now time.Time, o plan.Owed) error {
	moved, err := x.exec("UPDATE patient SET through = ?, next_due = ? WHERE id = ? AND version = ? AND through <= ?",
		ms(o.Through), ms(o.NextDue), o.PatientID, o.Version, ms(o.Through))
	if err != nil || moved == 0 || len(o.Nudges) == 0 {
		return err
	}
	p, err := x.patient(o.PatientID)
	if err != nil {
		return err
	}
	for _, owing := range o.Nudges {
		n := owing.Nudge
		id, err := x.insert(`INSERT INTO nudge (patient_id, kind, day, slot, due, until, moved, whole, version)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (patient_id, kind, day, slot) DO NOTHING`,
			p.ID, string(n.Kind), n.Day.String(), n.Slot, ms(n.Due), ms(n.Until), n.Moved, bit(n.Whole), o.Version)
		if err != nil {
			return err
		}
		if id == 0 {
			continue // on file from an earlier tick, with its messages
		}
		for _, r := range p.Recipients {
			m := message{
				cause: plan.CauseNudge, key: nudgeKey(p.Ref, n), patient: p.ID, nudge: id, recipient: r.ID,
				priority: nudgePriority(n.Kind), due: n.Due, until: n.Until, state: plan.Planned,
			}
			switch state, reason := barred(p, r); {
			case owing.Lapse != "":
				m.state, m.reason = plan.Lapsed, owing.Lapse
			case !n.Until.After(now):
				m.state, m.reason = plan.Lapsed, reasonPast
			case reason != "":
				m.state, m.reason = state, reason
			}
			if _, err := x.addOutgoing(m, now); err != nil {
				return err
			}
		}
	}
	return nil
}

// nudgeKey names a nudge for ever, over all plans and restores.
func nudgeKey(ref string, n plan.Nudge) string {
	return fmt.Sprintf("nudge/%s/%s/%s/%s", ref, n.Kind, n.Day, n.Slot)
}

const queryStale = `SELECT ` + stepColumns + ` FROM outgoing INDEXED BY outgoing_until
	WHERE ended IS NULL AND until <= ? AND state IN ('planned', 'retry', 'uncertain') ORDER BY until LIMIT ?`

// staleBatch bounds one transaction of LapseStale, so that after days of
// standing still nothing else waits long. Common practice, no source.
const staleBatch = 1000

// LapseStale ends what waits in the outbox past its moment, with that reason,
// and returns how many it ended. A message in doubt stays uncertain and gets no
// further resend.
func (db *DB) LapseStale(ctx context.Context, now time.Time) (n int, err error) {
	for {
		batch := 0
		err := db.write(ctx, "lapse stale messages", func(x *tx) error {
			steps, err := list(x, scanStep, queryStale, ms(now), staleBatch)
			if err != nil {
				return err
			}
			for _, s := range steps {
				if err := x.end(s, plan.Lapsed, reasonPast, now); err != nil {
					return err
				}
			}
			batch = len(steps)
			return nil
		})
		n += batch
		if err != nil || batch < staleBatch {
			return n, err
		}
	}
}
