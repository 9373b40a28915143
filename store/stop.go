package store

import (
	"context"
	"slices"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// Stop stops all mail about a patient, at once: what waits in the outbox is
// suppressed in the same transaction. Stopping twice keeps the first instant.
func (db *DB) Stop(ctx context.Context, ref, by string, now time.Time) error {
	return db.write(ctx, "stop patient", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		if err := x.stop(p.ID, now); err != nil {
			return err
		}
		return x.note(now, by, "stop", p.Ref, "")
	})
}

func (x *tx) stop(patient int64, now time.Time) error {
	if _, err := x.exec("UPDATE patient SET stopped = ifnull(stopped, ?) WHERE id = ?", ms(now), patient); err != nil {
		return err
	}
	waiting, err := list(x, scanStep, queryWaiting, patient)
	if err != nil {
		return err
	}
	for _, s := range waiting {
		if s.cause == plan.CauseAnswer {
			continue // the word that all mail has stopped is still owed
		}
		if err := x.end(s, plan.Suppressed, reasonStopped, now); err != nil {
			return err
		}
	}
	return nil
}

// Resume lets mail about a patient leave again: the patient's stop and every
// recipient's are cleared, and the tick looks at once.
func (db *DB) Resume(ctx context.Context, ref, by string, now time.Time) error {
	return db.write(ctx, "resume patient", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		if err := x.resume(p, now); err != nil {
			return err
		}
		return x.note(now, by, "resume", p.Ref, "")
	})
}

func (x *tx) resume(p plan.Patient, now time.Time) error {
	if _, err := x.exec("UPDATE patient SET stopped = NULL WHERE id = ?", p.ID); err != nil {
		return err
	}
	if _, err := x.exec("UPDATE recipient SET stopped = NULL WHERE patient_id = ?", p.ID); err != nil {
		return err
	}
	return x.lookAgain(p, now)
}

// SetHold puts all of a patient's nudges on hold, for a reason in words for
// staff. Where a hold stands its instant is kept and the reason is added to it.
func (db *DB) SetHold(ctx context.Context, ref, reason, by string, now time.Time) error {
	return db.write(ctx, "set hold", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		if err := x.hold(p, []string{reason}, now); err != nil {
			return err
		}
		return x.note(now, by, "hold", p.Ref, reason)
	})
}

func (x *tx) hold(p plan.Patient, reasons []string, now time.Time) error {
	since, have := p.Hold.Since, []string{}
	if p.Hold.Held() {
		have = strings.Split(p.Hold.Reason, "; ")
	} else {
		since = now
	}
	for _, r := range reasons {
		if r == "" {
			r = "set by staff"
		}
		if !slices.Contains(have, r) {
			have = append(have, r)
		}
	}
	_, err := x.exec("UPDATE patient SET hold_since = ?, hold_reason = ? WHERE id = ?", ms(since), strings.Join(have, "; "), p.ID)
	return err
}

// LiftHold ends a patient's hold, closes the open flags that hold nudges, and
// lets the tick look at once.
func (db *DB) LiftHold(ctx context.Context, ref, by string, now time.Time) error {
	return db.write(ctx, "lift hold", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		if _, err := x.exec("UPDATE patient SET hold_since = NULL, hold_reason = '' WHERE id = ?", p.ID); err != nil {
			return err
		}
		for _, what := range plan.AllFlags {
			if !(plan.Flag{What: what}).Holds() {
				continue
			}
			if _, err := x.exec("UPDATE flag SET closed = ?, closed_by = ? WHERE patient_id = ? AND closed IS NULL AND what = ?",
				ms(now), by, p.ID, string(what)); err != nil {
				return err
			}
		}
		if err := x.lookAgain(p, now); err != nil {
			return err
		}
		return x.note(now, by, "lift hold", p.Ref, p.Hold.Reason)
	})
}
