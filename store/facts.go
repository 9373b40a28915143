package store

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// addReports keeps reports of a reply; correction 0: they were read.
func (x *tx) addReports(patient, reply, correction int64, reports []plan.Stated) error {
	for _, s := range reports {
		if _, err := x.insert(`INSERT INTO report (patient_id, reply_id, correction_id, at, slot, what, fresh, since, span_from, span_to,
			day, hours, value, text_from, text_to, certainty) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			patient, reply, nullID(correction), ms(s.At), s.Slot, string(s.What), bit(s.Fresh), ms(s.Since), ms(s.From), ms(s.To),
			day(s.Day), onlyFor(s.What == plan.ReportWornTotal, s.Hours), onlyFor(s.What == plan.ReportSoreness, s.Value),
			s.Span[0], s.Span[1], s.Certainty); err != nil {
			return err
		}
	}
	return nil
}

func onlyFor[T any](ok bool, v T) any {
	if ok {
		return v
	}
	return nil
}

// addFlags keeps flags of a reply; correction 0: they were read.
func (x *tx) addFlags(patient, reply, correction int64, flags []raisedFlag) error {
	for _, e := range flags {
		if _, err := x.insert("INSERT INTO flag (patient_id, reply_id, correction_id, at, slot, what, level, closed, closed_by) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			patient, reply, nullID(correction), ms(e.At), e.Slot, string(e.What), string(e.Level), ms(e.Closed), e.closedBy); err != nil {
			return err
		}
	}
	return nil
}

// Facts is everything that was ever made of one reply, with the nudge it
// answers.
type Facts struct {
	Reports     []Fact
	Flags       []Raised
	Corrections []Corrected // oldest first; the last is in force
	Nudge       plan.Nudge  // zero: it answers none
}

// Fact is one report of a reply.
type Fact struct {
	plan.Stated
	Correction int64 // the correction that states it; 0: it was read
	Superseded int64 // the correction that took its place; 0: it is in force
}

// Raised is one flag of a reply.
type Raised struct {
	plan.Flag
	ClosedBy   string
	Correction int64 // as of a Fact
	Superseded int64
}

// Corrected is one correction of a reply.
type Corrected struct {
	ID      int64
	At      time.Time
	By      string
	Changed plan.Change // empty: nothing of the message counts
}

const (
	queryReplyReports = "SELECT " + reportColumns + `, text_from, text_to, certainty, ifnull(correction_id, 0), ifnull(superseded, 0)
		FROM report WHERE reply_id = ? ORDER BY id`
	queryReplyFlags = "SELECT " + flagColumns + `, closed_by, ifnull(correction_id, 0), ifnull(superseded, 0)
		FROM flag WHERE reply_id = ? ORDER BY id`
	queryCorrections = "SELECT id, at, by, changed FROM correction WHERE reply_id = ? ORDER BY id"
	queryReplyNudge  = `SELECT n.kind, n.day, n.slot, n.due, n.until, n.moved, n.whole FROM reply r JOIN outgoing o ON o.id = r.outgoing_id
		JOIN nudge n ON n.id = o.nudge_id WHERE r.id = ?`
)

// ReplyFacts returns what was made of a received message: the reports and flags
// that were read and those of every correction. ErrNotFound: no such reply.
func (db *DB) ReplyFacts(ctx context.Context, id int64) (out Facts, err error) {
	err = db.read(ctx, "read what a reply came to", func(x *tx) error {
		var there int64
		if err := x.one("SELECT id FROM reply WHERE id = ?", []any{id}, &there); err != nil {
			return notFound(err, "reply %d", id)
		}
		if out.Reports, err = list(x, func(row scanner) (f Fact, err error) {
			return f, row.Scan(instant{&f.At}, &f.Slot, &f.What, &f.Fresh, instant{&f.Since}, instant{&f.From}, instant{&f.To},
				date{&f.Day}, &f.Hours, &f.Value, &f.Span[0], &f.Span[1], &f.Certainty, &f.Correction, &f.Superseded)
		}, queryReplyReports, id); err != nil {
			return err
		}
		if out.Flags, err = list(x, func(row scanner) (f Raised, err error) {
			return f, row.Scan(instant{&f.At}, &f.Slot, &f.What, &f.Level, instant{&f.Closed}, &f.ClosedBy, &f.Correction, &f.Superseded)
		}, queryReplyFlags, id); err != nil {
			return err
		}
		if out.Corrections, err = list(x, func(row scanner) (c Corrected, err error) {
			return c, row.Scan(&c.ID, instant{&c.At}, &c.By, &c.Changed)
		}, queryCorrections, id); err != nil {
			return err
		}
		n := &out.Nudge
		err := x.one(queryReplyNudge, []any{id}, &n.Kind, date{&n.Day}, &n.Slot, instant{&n.Due}, instant{&n.Until}, &n.Moved, &n.Whole)
		return ignoreNotFound(err)
	})
	if err != nil {
		return Facts{}, fmt.Errorf("reply %d: %w", id, err)
	}
	return out, nil
}
