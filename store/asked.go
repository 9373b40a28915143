package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

const (
	queryBySelector  = "SELECT " + outgoingColumns + " FROM outgoing o WHERE o.selector = ? ORDER BY o.id DESC LIMIT 1"
	queryByMessageID = "SELECT " + outgoingColumns + " FROM outgoing o WHERE o.message_id = ? ORDER BY o.id DESC LIMIT 1"
)

// AskedBySelector finds the message whose reply address bears the selector, and
// the cause its token was made over: the key, #, and the row id of the
// recipient, by which the whole token can be checked. ErrNotFound: none.
func (db *DB) AskedBySelector(ctx context.Context, selector string) (a plan.Asked, tokenCause string, err error) {
	if selector == "" {
		return a, "", fmt.Errorf("find message by token: %w", ErrNotFound)
	}
	err = db.read(ctx, "find message by token", func(x *tx) error {
		a, err = db.asked(x, queryBySelector, selector)
		return err
	})
	return a, TokenCause(a.Outgoing), err
}

// TokenCause is what the token of a message is made over.
func TokenCause(o plan.Outgoing) string { return fmt.Sprintf("%s#%d", o.Key, o.To.ID) }

// AskedByMessageID finds the message that the first known of these Message-IDs
// (without angle brackets) names. ErrNotFound: none.
func (db *DB) AskedByMessageID(ctx context.Context, ids []string) (a plan.Asked, err error) {
	err = db.read(ctx, "find message by Message-ID", func(x *tx) error {
		for _, id := range ids {
			if id == "" {
				continue
			}
			a, err = db.asked(x, queryByMessageID, id)
			if !errors.Is(err, ErrNotFound) {
				return err
			}
		}
		return ErrNotFound
	})
	return a, err
}

func (db *DB) asked(x *tx, query string, arg any) (a plan.Asked, err error) {
	rows, err := list(x, scanRow, query, arg)
	if err != nil {
		return a, err
	}
	if len(rows) == 0 {
		return a, ErrNotFound
	}
	job, _, err := db.job(x, rows[0], map[int64]*person{}, rows[0].Due)
	return plan.Asked{Outgoing: job.Outgoing, Patient: job.Patient, Plan: job.Plan, Nudge: job.Nudge}, err
}

// Outgoing returns one message of the outbox, ErrNotFound where there is none.
func (db *DB) Outgoing(ctx context.Context, id int64) (o plan.Outgoing, err error) {
	err = db.read(ctx, "read message", func(x *tx) error {
		a, err := db.asked(x, queryOutgoing, id)
		o = a.Outgoing
		return err
	})
	return o, err
}

// NextMoment is the earliest instant at which the outbox or the
// timetable has something to do: a message to claim or a patient to look at.
// Zero: nothing is known of.
func (db *DB) NextMoment(ctx context.Context) (next time.Time, err error) {
	err = db.read(ctx, "find next moment", func(x *tx) error {
		var patient, queued time.Time
		if err := x.one("SELECT min(next_due) FROM patient WHERE next_due IS NOT NULL", nil, instant{&patient}); err != nil {
			return err
		}
		if err := x.one(`SELECT min(max(due, ifnull(next_try, due))) FROM outgoing
			WHERE ended IS NULL AND (state IN ('planned', 'retry') OR state = 'uncertain' AND resent = 0)`, nil, instant{&queued}); err != nil {
			return err
		}
		next = patient
		if next.IsZero() || !queued.IsZero() && queued.Before(next) {
			next = queued
		}
		return nil
	})
	return next, err
}
