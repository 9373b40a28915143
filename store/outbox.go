package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

func notFound(err error, format string, args ...any) error {
	if errors.Is(err, sql.ErrNoRows) || errors.Is(err, ErrNotFound) {
		return fmt.Errorf(format+": %w", append(args, ErrNotFound)...)
	}
	return err
}

// Composed keeps a claimed message as it will go on the wire, before anything
// is dialled, so that a second sending can be the same octets.
func (db *DB) Composed(ctx context.Context, id int64, c plan.Composed) error {
	return db.write(ctx, "keep composed message", func(x *tx) error {
		s, err := x.stepTo(id, plan.DotSent)
		if err != nil {
			return err
		}
		hash := sha256.Sum256(c.Bytes)
		_, err = x.exec("UPDATE outgoing SET bytes = ?, hash = ?, message_id = ?, selector = ?, text_version = ? WHERE id = ?",
			c.Bytes, hash[:], orNull(c.MessageID), orNull(c.Selector), c.Version, s.id)
		return err
	})
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// DotSent notes, before the final dot leaves, that it is about to: from here
// on only an answer tells what became of the message.
func (db *DB) DotSent(ctx context.Context, id int64, now time.Time) error {
	return db.write(ctx, "note final dot", func(x *tx) error {
		if _, err := x.stepTo(id, plan.DotSent); err != nil {
			return err
		}
		_, err := x.exec("UPDATE outgoing SET state = 'dot_sent', dot_at = ? WHERE id = ?", ms(now), id)
		return err
	})
}

// Accepted notes that the server took the message. Its octets are dropped;
// their hash and the version of the text stay.
func (db *DB) Accepted(ctx context.Context, id int64, now time.Time) error {
	return db.write(ctx, "note accepted message", func(x *tx) error {
		if _, err := x.stepTo(id, plan.Accepted); err != nil {
			return err
		}
		_, err := x.exec("UPDATE outgoing SET state = 'accepted', reason = '', accepted_at = ?, ended = ?, bytes = NULL WHERE id = ?",
			ms(now), ms(now), id)
		return err
	})
}

// Retry puts the message off until next, because it certainly was not taken:
// nothing was sent, or the server answered 4yz.
func (db *DB) Retry(ctx context.Context, id int64, next time.Time, reason string, _ time.Time) error {
	return db.write(ctx, "put message off", func(x *tx) error {
		if _, err := x.stepTo(id, plan.Retry); err != nil {
			return err
		}
		_, err := x.exec("UPDATE outgoing SET state = 'retry', reason = ?, next_try = ? WHERE id = ?", reason, ms(next), id)
		return err
	})
}

// Uncertain notes that the connection ended between the final dot and its
// answer. The message may be claimed once more inside its window; after its
// second such end it stays uncertain for good.
func (db *DB) Uncertain(ctx context.Context, id int64, reason string, now time.Time) error {
	return db.write(ctx, "note uncertain message", func(x *tx) error {
		s, err := x.stepTo(id, plan.Uncertain)
		if err != nil {
			return err
		}
		return x.doubt(s, reason, now)
	})
}

func (x *tx) doubt(s step, reason string, now time.Time) error {
	if s.resent || !s.until.After(now) {
		_, err := x.exec("UPDATE outgoing SET state = 'uncertain', reason = ?, ended = ?, bytes = NULL WHERE id = ?", reason, ms(now), s.id)
		return err
	}
	_, err := x.exec("UPDATE outgoing SET state = 'uncertain', reason = ? WHERE id = ?", reason, s.id)
	return err
}

// Fail ends a message that was refused for good.
func (db *DB) Fail(ctx context.Context, id int64, reason string, now time.Time) error {
	return db.finish(ctx, "fail message", id, plan.Failed, reason, now)
}

// FailAddress ends a message that was refused because its address is dead
// (5.1.1 and its like, RFC 3463), and sends nothing more there.
func (db *DB) FailAddress(ctx context.Context, id int64, reason string, now time.Time) error {
	return db.write(ctx, "fail address", func(x *tx) error {
		s, err := x.stepTo(id, plan.Failed)
		if err != nil {
			return err
		}
		if err := x.end(s, plan.Failed, reason, now); err != nil {
			return err
		}
		var ref string
		err = x.one("SELECT p.ref FROM outgoing o JOIN patient p ON p.id = o.patient_id WHERE o.id = ?", []any{id}, &ref)
		if errors.Is(err, ErrNotFound) {
			return nil // a test or a digest: nobody's address
		}
		if err != nil {
			return err
		}
		if _, err := x.exec("UPDATE recipient SET bounced = ifnull(bounced, ?) WHERE id = (SELECT recipient_id FROM outgoing WHERE id = ?)",
			ms(now), id); err != nil {
			return err
		}
		return x.note(now, "daemon", "address dead", ref, fmt.Sprintf("message %d refused", id))
	})
}

// Lapse ends a message whose moment passed.
func (db *DB) Lapse(ctx context.Context, id int64, reason string, now time.Time) error {
	return db.finish(ctx, "lapse message", id, plan.Lapsed, reason, now)
}

func (db *DB) finish(ctx context.Context, what string, id int64, to plan.State, reason string, now time.Time) error {
	return db.write(ctx, what, func(x *tx) error {
		s, err := x.stepTo(id, to)
		if err != nil {
			return err
		}
		return x.end(s, to, reason, now)
	})
}

const queryInFlight = "SELECT " + stepColumns + ` FROM outgoing INDEXED BY outgoing_queue
	WHERE ended IS NULL AND state IN ('claimed', 'dot_sent')`

// Recover puts right, at start, what a process left in flight when it ended:
// what was only claimed is sent again, for nothing of it can have been taken;
// where the dot may have left the message is uncertain. It returns how many
// there were. It must run under the daemon's lock.
func (db *DB) Recover(ctx context.Context, now time.Time) (n int, err error) {
	err = db.write(ctx, "recover messages in flight", func(x *tx) error {
		left, err := list(x, scanStep, queryInFlight)
		if err != nil {
			return err
		}
		for _, s := range left {
			if s.state == plan.DotSent {
				err = x.doubt(s, reasonInDoubt, now)
			} else {
				_, err = x.exec("UPDATE outgoing SET state = 'retry', reason = ?, next_try = ? WHERE id = ?", reasonStoppedUp, ms(now), s.id)
			}
			if err != nil {
				return err
			}
		}
		n = len(left)
		if n > 0 {
			return x.note(now, "daemon", "recover", "", fmt.Sprintf("%d messages in flight", n))
		}
		return nil
	})
	return n, err
}
