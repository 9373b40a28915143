package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// How long messages that are no nudges stay useful. Common practice, no source.
const (
	testUseful    = 15 * time.Minute // somebody is waiting at the screen
	answerUseful  = 24 * time.Hour
	consentUseful = 72 * time.Hour
)

// EnqueueTest puts a test message to somebody on the outbox and returns its id.
func (db *DB) EnqueueTest(ctx context.Context, to plan.Recipient, now time.Time) (id int64, err error) {
	a, err := plan.ParseAddress(string(to.Address))
	if err != nil {
		return 0, fmt.Errorf("enqueue test: %w", err)
	}
	to.Address = a
	err = db.write(ctx, "enqueue test", func(x *tx) error {
		id, err = x.addOutgoing(message{
			cause: plan.CauseTest, key: fmt.Sprintf("test/%d", now.UnixMilli()), to: to,
			priority: priorityDesk, state: plan.Planned, due: now, until: now.Add(testUseful),
		}, now)
		if err != nil {
			return err
		}
		if id == 0 {
			return fmt.Errorf("a test to this address is on its way since the same millisecond")
		}
		return x.note(now, "daemon", "test message", "", "")
	})
	return id, err
}

// EnqueueConsent puts the confirmation that is asked before the first nudge on
// the outbox, once for ever for each recipient who has not agreed yet, and
// returns how many it added.
func (db *DB) EnqueueConsent(ctx context.Context, ref, by string, now time.Time) (n int, err error) {
	err = db.write(ctx, "enqueue consent request", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		for _, r := range p.Recipients {
			if r.Consent.Given() {
				continue
			}
			id, err := x.addOutgoing(message{
				cause: plan.CauseConsent, key: "consent/" + p.Ref, patient: p.ID, recipient: r.ID,
				priority: priorityDesk, state: plan.Planned, due: now, until: now.Add(consentUseful),
			}, now)
			if err != nil {
				return err
			}
			if id != 0 {
				n++
			}
		}
		return x.note(now, by, "consent asked", p.Ref, fmt.Sprintf("%d recipients", n))
	})
	return n, err
}
