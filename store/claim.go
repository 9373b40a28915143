package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

const (
	outgoingColumns = `o.id, o.cause, o.key, o.state, o.reason, o.due, o.until, o.attempt, o.next_try, ifnull(o.message_id, ''),
		o.bytes, o.text_version, o.topic, ifnull(o.patient_id, 0), ifnull(o.nudge_id, 0), ifnull(o.reply_id, 0),
		ifnull(o.recipient_id, 0), o.address, o.name, o.language, o.resent, o.ended`
	queryClaimable = `SELECT ` + outgoingColumns + ` FROM outgoing o INDEXED BY outgoing_queue
		WHERE ended IS NULL AND until > ? AND due <= ? AND (next_try IS NULL OR next_try <= ?)
		AND (state IN ('planned', 'retry') OR state = 'uncertain' AND resent = 0)
		ORDER BY priority, until, id LIMIT ?`
	queryOutgoing = `SELECT ` + outgoingColumns + ` FROM outgoing o WHERE o.id = ?`
	queryNudge    = "SELECT kind, slot, day, due, until, moved, whole, version FROM nudge WHERE id = ?"
)

// row is an outgoing message with the rows it points to.
type row struct {
	plan.Outgoing
	topic                            string
	patient, nudge, reply, recipient int64
	resent                           bool
	ended                            time.Time
}

func scanRow(s scanner) (r row, err error) {
	var to plan.Recipient
	err = s.Scan(&r.ID, &r.Cause, &r.Key, &r.State, &r.Reason, instant{&r.Due}, instant{&r.Until}, &r.Attempt, instant{&r.NextTry},
		&r.MessageID, &r.Bytes, &r.Version, &r.topic, &r.patient, &r.nudge, &r.reply, &r.recipient,
		&to.Address, &to.Name, &to.Language, &r.resent, instant{&r.ended})
	r.To = to
	return r, err
}

// Claim takes up to limit messages that are due, most urgent first, for this
// process to send: each is claimed and its attempt counted before it returns.
// Whatever forbids a message is asked again here, in the same transaction; one
// that is forbidden ends with its reason and is not among the jobs. The plans
// in the jobs are shared and must not be changed.
func (db *DB) Claim(ctx context.Context, now time.Time, limit int) (jobs []plan.Job, err error) {
	if limit <= 0 {
		return nil, nil
	}
	err = db.write(ctx, "claim messages", func(x *tx) error {
		jobs = nil
		people := map[int64]*person{}
		for len(jobs) < limit {
			rows, err := list(x, scanRow, queryClaimable, ms(now), ms(now), ms(now), limit-len(jobs))
			if err != nil || len(rows) == 0 {
				return err
			}
			for _, r := range rows {
				job, ok, err := db.claimOne(x, r, people, now)
				if err != nil {
					return fmt.Errorf("message %d: %w", r.ID, err)
				}
				if ok {
					jobs = append(jobs, job)
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return jobs, nil
}

// claimOne claims one message or ends it.
func (db *DB) claimOne(x *tx, r row, people map[int64]*person, now time.Time) (plan.Job, bool, error) {
	s := step{id: r.ID, cause: r.Cause, state: r.State, resent: r.resent, until: r.Until}
	job, from, err := db.job(x, r, people, now)
	if err != nil {
		return job, false, err
	}
	if state, reason := barredNow(job, from, people[r.patient], now); reason != "" {
		return job, false, x.end(s, state, reason, now)
	}
	if !legal(r.State, plan.Claimed) {
		return job, false, &StepError{ID: r.ID, From: r.State, To: plan.Claimed}
	}
	resent := r.resent || r.State == plan.Uncertain
	_, err = x.exec(`UPDATE outgoing SET state = 'claimed', reason = '', attempt = attempt + 1, next_try = NULL,
		claimed_at = ?, resent = ? WHERE id = ?`, ms(now), bit(resent), r.ID)
	job.State, job.Reason, job.NextTry = plan.Claimed, "", time.Time{}
	job.Attempt++
	return job, true, err
}

// barredNow asks once more, at the moment of sending, what may forbid it.
func barredNow(job plan.Job, from int, p *person, now time.Time) (plan.State, string) {
	r := job.To
	switch job.Cause {
	case plan.CauseNudge:
		if state, reason := barred(job.Patient, r); reason != "" {
			return state, reason
		}
		v, ok := inForce(p.versions, job.Nudge.Day)
		if !ok {
			return plan.Suppressed, reasonNoPlan
		}
		return barredByPlan(v, job.Nudge, from, now)
	case plan.CauseConsent:
		switch {
		case !job.Patient.Stopped.IsZero():
			return plan.Suppressed, reasonStopped
		case !r.Stopped.IsZero():
			return plan.Suppressed, reasonSaidStop
		case r.Consent.Given():
			return plan.Suppressed, reasonConsented
		}
	}
	// An answer goes to whoever has just written, the word that mail has
	// stopped included; only a dead address cannot be answered.
	if !r.Bounced.IsZero() {
		return plan.Suppressed, reasonDead
	}
	return "", ""
}

// person is a patient with its plans, read once for a batch.
type person struct {
	plan.Patient
	versions []plan.Version
}

func (db *DB) person(x *tx, id int64) (*person, error) {
	p, err := x.patient(id)
	if err != nil {
		return nil, err
	}
	v, err := x.versions(id, &db.plans)
	return &person{p, v}, err
}

// job fills in what is needed to compose a message, and the plan version its
// nudge was reckoned from.
func (db *DB) job(x *tx, r row, people map[int64]*person, now time.Time) (job plan.Job, from int, err error) {
	job = plan.Job{Outgoing: r.Outgoing, Topic: r.topic}
	if r.patient == 0 {
		return job, 0, nil
	}
	p := people[r.patient]
	if p == nil {
		if p, err = db.person(x, r.patient); err != nil {
			return job, 0, err
		}
		people[r.patient] = p
	}
	job.Patient = p.Patient
	for _, to := range p.Recipients {
		if to.ID == r.recipient {
			job.To = to
		}
	}
	loc, err := time.LoadLocation(p.Zone)
	if err != nil {
		return job, 0, fmt.Errorf("zone of the patient: %w", err)
	}
	on := plan.DateOf(now, loc)
	if r.nudge != 0 {
		n := &job.Nudge
		if err := x.one(queryNudge, []any{r.nudge}, &n.Kind, &n.Slot, date{&n.Day}, instant{&n.Due}, instant{&n.Until},
			&n.Moved, &n.Whole, &from); err != nil {
			return job, 0, err
		}
		on = n.Day
	}
	if v, ok := inForce(p.versions, on); ok {
		job.Plan = v.Plan
	}
	if r.reply != 0 {
		err = x.one("SELECT message_id FROM reply WHERE id = ?", []any{r.reply}, &job.AnswersID)
	}
	return job, from, err
}
