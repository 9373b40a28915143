package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// ErrRead says that a reply has been read and put on record already.
var ErrRead = errors.New("the reply is on record already")

// Record puts on record what a received message came to, in one transaction:
// the reply becomes read, its reports and flags are kept, what is alarming puts
// the patient's nudges on hold, STOP and FEWER are honoured, a bounce is noted, answers
// are enqueued once, and the days it touches are folded anew. A second call for
// the same reply changes nothing and is ErrRead.
func (db *DB) Record(ctx context.Context, id int64, h plan.Heard) error {
	return db.write(ctx, "record reply", func(x *tx) error {
		r := &recording{tx: x, db: db, id: id, heard: h, now: h.At}
		return r.all()
	})
}

// recording is one reply on its way into the record.
type recording struct {
	*tx
	db      *DB
	id      int64
	heard   plan.Heard
	now     time.Time
	patient plan.Patient // zero: nobody was matched
	to      int64        // recipient row the answered message went to; 0: not known
}

func (r *recording) all() error {
	var state, mid string
	if err := r.one("SELECT state, message_id FROM reply WHERE id = ?", []any{r.id}, &state, &mid); err != nil {
		return notFound(err, "reply %d", r.id)
	}
	if state != "received" {
		return fmt.Errorf("reply %d: %w", r.id, ErrRead)
	}
	if err := r.match(); err != nil {
		return err
	}
	for _, step := range []func() error{r.bounced, r.facts, r.holds, r.stops, r.fewer, r.answers, func() error { return r.reply(mid) }} {
		if err := step(); err != nil {
			return err
		}
	}
	ref := r.patient.Ref
	return r.note(r.now, "patient", "reply "+r.heard.Kind, ref,
		fmt.Sprintf("reply %d, %d reports, %d flags", r.id, len(r.heard.Reports), len(r.heard.Flags)))
}

// match reads the patient and the recipient that the message speaks of.
func (r *recording) match() (err error) {
	if r.heard.PatientID != 0 {
		if r.patient, err = r.tx.patient(r.heard.PatientID); err != nil {
			return notFound(err, "patient %d", r.heard.PatientID)
		}
	}
	if r.heard.OutgoingID != 0 {
		err = r.one("SELECT ifnull(recipient_id, 0) FROM outgoing WHERE id = ?", []any{r.heard.OutgoingID}, &r.to)
		return notFound(err, "message %d", r.heard.OutgoingID)
	}
	return nil
}

// reply keeps the reading. A second message that bears a Message-ID already
// seen is not the same message, so a person looks at it.
func (r *recording) reply(mid string) error {
	h := r.heard
	if mid != "" {
		var other int64
		err := r.one("SELECT id FROM reply WHERE message_id = ? AND id < ? LIMIT 1", []any{mid, r.id}, &other)
		switch {
		case err == nil:
			h.NeedsPerson = true
			h.Why = joined(h.Why, fmt.Sprintf("bears the same Message-ID as reply %d", other))
		case !errors.Is(err, ErrNotFound):
			return err
		}
	}
	reading := h.Reading
	if len(reading) == 0 {
		reading = []byte("{}")
	} else if !json.Valid(reading) {
		return fmt.Errorf("reply %d: its reading is not JSON", r.id)
	}
	var bounce any
	if h.Bounce != nil {
		b, err := json.Marshal(bounceJSON(*h.Bounce))
		if err != nil {
			return fmt.Errorf("write bounce: %w", err)
		}
		bounce = string(b)
	}
	_, err := r.exec(`UPDATE reply SET state = 'read', kind = ?, how = ?, patient_id = ?, outgoing_id = ?, slot = ?, text = ?, lang = ?,
		why = ?, needs_person = ?, mismatch = ?, stop = ?, fewer = ?, start = ?, reading = ?, bounce = ? WHERE id = ?`,
		h.Kind, h.How, nullID(h.PatientID), nullID(h.OutgoingID), h.Slot, validUTF8(h.Text), h.Lang,
		validUTF8(h.Why), bit(h.NeedsPerson), bit(h.Mismatch), bit(h.Stop), bit(h.Fewer), bit(h.Start),
		validUTF8(string(reading)), bounce, r.id)
	return err
}

func joined(why, more string) string {
	if why == "" {
		return more
	}
	return why + "; " + more
}

// facts keeps the reports and flags and folds the days they touch anew.
func (r *recording) facts() error {
	h := r.heard
	if len(h.Reports)+len(h.Flags) == 0 {
		return nil
	}
	if r.patient.ID == 0 {
		return fmt.Errorf("reply %d has reports or flags and no patient", r.id)
	}
	f, err := r.db.folder(r.tx, r.patient.ID)
	if err != nil {
		return err
	}
	if err := r.addReports(r.patient.ID, r.id, 0, h.Reports); err != nil {
		return err
	}
	raised := make([]raisedFlag, len(h.Flags))
	for i, e := range h.Flags {
		raised[i] = raisedFlag{Flag: e}
	}
	if err := r.addFlags(r.patient.ID, r.id, 0, raised); err != nil {
		return err
	}
	return f.touched(h.Reports, h.Flags)
}

// holds puts the patient's nudges on hold for what must be seen by staff first.
func (r *recording) holds() error {
	var why []string
	for _, f := range r.heard.Flags {
		if f.Holds() && f.Closed.IsZero() {
			why = append(why, holdWords(f))
		}
	}
	for _, s := range r.heard.Reports {
		if s.What == plan.ReportSoreness && s.Value >= plan.HoldSoreness {
			why = append(why, holdSoreWords)
		}
	}
	if len(why) == 0 {
		return nil
	}
	if err := r.hold(r.patient, why, r.now); err != nil {
		return err
	}
	return r.note(r.now, "patient", "hold", r.patient.Ref, fmt.Sprintf("reply %d: %d reasons", r.id, len(why)))
}

// holdSoreWords says for staff that soreness holds the nudges.
var holdSoreWords = fmt.Sprintf("soreness of %d or more", plan.HoldSoreness)

// holdWords says for staff why a flag holds the nudges.
func holdWords(f plan.Flag) string {
	switch f.What {
	case plan.FlagAllergy:
		if f.Level == plan.Red {
			return "signs of a severe allergy"
		}
		return "signs of an allergy"
	case plan.FlagBroken:
		return "a broken hook or a lost aligner"
	case plan.FlagOutOfBands:
		return "no bands left"
	case plan.FlagJaw:
		return "jaw trouble"
	}
	return string(f.What)
}

// stops honours STOP: for the person who wrote and for the patient as a whole.
// START lifts it for the patient and for the person who wrote, not for another
// who had asked to stop.
func (r *recording) stops() error {
	if r.patient.ID == 0 || !r.heard.Stop && !r.heard.Start {
		return nil
	}
	what, recipient := "stop", "UPDATE recipient SET stopped = ifnull(stopped, ?) WHERE id = ?"
	at := ms(r.now)
	if !r.heard.Stop {
		what, recipient, at = "resume", "UPDATE recipient SET stopped = ? WHERE id = ?", nil
	}
	if r.to != 0 {
		if _, err := r.exec(recipient, at, r.to); err != nil {
			return err
		}
	}
	if r.heard.Stop {
		if err := r.stop(r.patient.ID, r.now); err != nil {
			return err
		}
	} else {
		if _, err := r.exec("UPDATE patient SET stopped = NULL WHERE id = ?", r.patient.ID); err != nil {
			return err
		}
		if err := r.lookAgain(r.patient, r.now); err != nil {
			return err
		}
	}
	return r.note(r.now, "patient", what, r.patient.Ref, fmt.Sprintf("reply %d", r.id))
}
