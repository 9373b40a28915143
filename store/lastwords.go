package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// LastWords is the latest that was written about a patient by hand.
type LastWords struct {
	Text string    // as written, without quotes and signature; empty: nothing yet
	At   time.Time // when it was received; zero: nothing yet
	Role plan.Role // who was written to when it came back; empty: not known
	Name string    // of a guardian
}

// queryLastWords leaves out what machines sent and what holds no words.
const queryLastWords = `SELECT r.text, r.received, ifnull(c.role, ''), ifnull(c.name, '')
	FROM reply r INDEXED BY reply_patient LEFT JOIN outgoing o ON o.id = r.outgoing_id LEFT JOIN recipient c ON c.id = o.recipient_id
	WHERE r.patient_id = ? AND r.received <= ? AND r.kind = 'reply' AND r.text <> '' ORDER BY r.received DESC LIMIT 1`

// LastWords returns the latest words of a patient up to asOf, empty ones where
// there are none.
func (db *DB) LastWords(ctx context.Context, ref string, asOf time.Time) (w LastWords, err error) {
	err = db.read(ctx, "read last words", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		w, err = x.lastWords(p.ID, asOf)
		return err
	})
	return w, err
}

func (x *tx) lastWords(patient int64, asOf time.Time) (LastWords, error) {
	all, err := list(x, func(row scanner) (w LastWords, err error) {
		return w, row.Scan(&w.Text, instant{&w.At}, &w.Role, &w.Name)
	}, queryLastWords, patient, asOf.UnixMilli())
	if err != nil {
		return LastWords{}, fmt.Errorf("read last words: %w", err)
	}
	if len(all) == 0 {
		return LastWords{}, nil
	}
	return all[0], nil
}

// OpenWords are the words in which something was told that is still open.
type OpenWords struct {
	What plan.FlagKind
	At   time.Time // when it was received
	Text string    // as written, without quotes and signature; may be empty
}

// queryOpenWords lists only what asks for a person: of everything else that a
// reply leaves behind there would be no end.
const queryOpenWords = `SELECT f.what, f.at, r.text FROM flag f INDEXED BY flag_patient JOIN reply r ON r.id = f.reply_id
	WHERE f.patient_id = ? AND f.superseded IS NULL AND f.at <= ? AND (f.closed IS NULL OR f.closed > ?)
	AND f.what IN ('allergy', 'broken', 'out-of-bands', 'question', 'swelling', 'ulcer', 'fever', 'jaw') ORDER BY f.at DESC, f.reply_id DESC, f.id DESC`

// OpenWords lists what a patient told that was still open at asOf, newest first.
func (db *DB) OpenWords(ctx context.Context, ref string, asOf time.Time) (out []OpenWords, err error) {
	err = db.read(ctx, "read open words", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		out, err = x.openWords(p.ID, asOf)
		return err
	})
	return out, err
}

func (x *tx) openWords(patient int64, asOf time.Time) ([]OpenWords, error) {
	out, err := list(x, func(row scanner) (w OpenWords, err error) {
		return w, row.Scan(&w.What, instant{&w.At}, &w.Text)
	}, queryOpenWords, patient, asOf.UnixMilli(), asOf.UnixMilli())
	if err != nil {
		return nil, fmt.Errorf("read open words: %w", err)
	}
	return out, nil
}
