package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// Reply is one received message with what was read from it.
type Reply struct {
	ID          int64
	MailFrom    string    // envelope sender; empty: the null path
	Received    time.Time //
	Source      string    // smtp, lmtp, imap, file
	Read        bool      // false: all below is empty
	Kind        string    // reply, bounce, auto-reply, loop, unreadable, unmatched
	How         string    // token, message-id, none
	PatientRef  string    // empty: nobody was matched
	OutgoingID  int64     // 0: none
	Slot        string    // empty: none
	Text        string    // what the person wrote
	Lang        string
	Why         string
	NeedsPerson bool
	Mismatch    bool
	Stop        bool
	Fewer       bool
	Start       bool
	Reading     json.RawMessage // the whole reading
	Bounce      *plan.Bounce    // nil: it is no delivery report
	Seen        time.Time       // when staff had dealt with it; zero: not yet
	SeenBy      string
	Corrected   time.Time // when staff last corrected it; zero: never
}

const (
	replyColumns = `r.id, r.mail_from, r.received, r.source, r.state = 'read', r.kind, r.how, ifnull(p.ref, ''), ifnull(r.outgoing_id, 0),
		r.slot, r.text, r.lang, r.why, r.needs_person, r.mismatch, r.stop, r.fewer, r.start, r.reading, ifnull(r.bounce, ''), r.seen, r.seen_by,
		(SELECT max(at) FROM correction WHERE reply_id = r.id)`
	queryReply         = "SELECT " + replyColumns + " FROM reply r LEFT JOIN patient p ON p.id = r.patient_id WHERE r.id = ?"
	queryReplies       = "SELECT " + replyColumns + " FROM reply r INDEXED BY reply_received LEFT JOIN patient p ON p.id = r.patient_id ORDER BY r.received DESC LIMIT ?"
	queryNeedsPerson   = "SELECT " + replyColumns + " FROM reply r INDEXED BY reply_person LEFT JOIN patient p ON p.id = r.patient_id WHERE r.needs_person = 1 AND r.seen IS NULL ORDER BY r.received DESC LIMIT ?"
	queryOpenOfPatient = "SELECT " + replyColumns + " FROM reply r INDEXED BY reply_patient JOIN patient p ON p.id = r.patient_id WHERE r.patient_id = ? AND r.needs_person = 1 AND r.seen IS NULL ORDER BY r.received DESC LIMIT ?"
	queryHandled       = "SELECT " + replyColumns + ` FROM reply r LEFT JOIN patient p ON p.id = r.patient_id
		WHERE r.kind = 'reply' AND (r.id IN (SELECT reply_id FROM correction) OR ? AND r.seen IS NOT NULL) ORDER BY r.id`
	queryOfPatient = "SELECT " + replyColumns + " FROM reply r INDEXED BY reply_patient JOIN patient p ON p.id = r.patient_id WHERE r.patient_id = ? ORDER BY r.received DESC LIMIT ?"
)

func scanReply(row scanner) (r Reply, err error) {
	var reading, bounce []byte
	err = row.Scan(&r.ID, &r.MailFrom, instant{&r.Received}, &r.Source, &r.Read, &r.Kind, &r.How, &r.PatientRef, &r.OutgoingID,
		&r.Slot, &r.Text, &r.Lang, &r.Why, &r.NeedsPerson, &r.Mismatch, &r.Stop, &r.Fewer, &r.Start, &reading, &bounce, instant{&r.Seen}, &r.SeenBy, instant{&r.Corrected})
	if err != nil {
		return r, err
	}
	r.Reading = reading
	if len(bounce) > 0 {
		var b bounceJSON
		if err := json.Unmarshal(bounce, &b); err != nil {
			return r, fmt.Errorf("read bounce of reply %d: %w", r.ID, err)
		}
		r.Bounce = (*plan.Bounce)(&b)
	}
	return r, nil
}

// Replies lists up to limit received messages, newest first: all of them, or
// only those that a person has to read and
// nobody has seen yet.
func (db *DB) Replies(ctx context.Context, needsPerson bool, limit int) ([]Reply, error) {
	query := queryReplies
	if needsPerson {
		query = queryNeedsPerson
	}
	return db.replies(ctx, query, limit)
}

func (db *DB) replies(ctx context.Context, query string, args ...any) (out []Reply, err error) {
	err = db.read(ctx, "list replies", func(x *tx) error {
		out, err = list(x, scanReply, query, args...)
		return err
	})
	return out, err
}

// PatientReplies lists up to limit messages of one patient, newest first: all of
// them, or only those that a person has to read and nobody has seen yet.
func (db *DB) PatientReplies(ctx context.Context, ref string, needsPerson bool, limit int) ([]Reply, error) {
	p, err := db.Patient(ctx, ref)
	if err != nil {
		return nil, err
	}
	query := queryOfPatient
	if needsPerson {
		query = queryOpenOfPatient
	}
	return db.replies(ctx, query, p.ID, limit)
}

// HandledReplies lists what people wrote and staff have corrected, or, unless
// only corrections are wanted, have seen; oldest first.
func (db *DB) HandledReplies(ctx context.Context, corrected bool) ([]Reply, error) {
	return db.replies(ctx, queryHandled, bit(!corrected))
}

// Reply returns one received message, ErrNotFound where there is none.
func (db *DB) Reply(ctx context.Context, id int64) (Reply, error) {
	out, err := db.replies(ctx, queryReply, id)
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("reply %d: %w", id, ErrNotFound)
	}
	if err != nil {
		return Reply{}, err
	}
	return out[0], nil
}

// RawReply returns the octets of one received message, ErrNotFound where there
// is none.
func (db *DB) RawReply(ctx context.Context, id int64) (raw []byte, err error) {
	err = db.read(ctx, "read raw message", func(x *tx) error {
		return notFound(x.one("SELECT raw FROM reply_raw WHERE reply_id = ?", []any{id}, &raw), "reply %d", id)
	})
	return raw, err
}

// Seen notes that staff have dealt with a reply: it waits for a person no more,
// and its open flags that put nobody on hold are closed. Those that hold are
// closed by LiftHold alone. The first time it was seen stands.
func (db *DB) Seen(ctx context.Context, id int64, by string, now time.Time) error {
	return db.write(ctx, "note reply seen", func(x *tx) error {
		var ref string
		if err := x.one(`SELECT ifnull(p.ref, '') FROM reply r LEFT JOIN patient p ON p.id = r.patient_id
			WHERE r.id = ? AND r.state = 'read'`, []any{id}, &ref); err != nil {
			return notFound(err, "read reply %d", id)
		}
		if err := x.seen(id, by, now); err != nil {
			return err
		}
		closed := 0
		for _, what := range plan.AllFlags {
			if (plan.Flag{What: what}).Holds() {
				continue
			}
			n, err := x.exec("UPDATE flag SET closed = ?, closed_by = ? WHERE reply_id = ? AND closed IS NULL AND what = ?",
				ms(now), by, id, string(what))
			if err != nil {
				return err
			}
			closed += n
		}
		return x.note(now, by, "reply seen", ref, fmt.Sprintf("reply %d, %d flags closed", id, closed))
	})
}

func (x *tx) seen(id int64, by string, now time.Time) error {
	_, err := x.exec("UPDATE reply SET seen = ?, seen_by = ? WHERE id = ? AND seen IS NULL", ms(now), by, id)
	return err
}
