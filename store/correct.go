package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// Correct puts on file what staff say a reply means. It stands beside what was
// read: from here on the correction's reports and flags are in force and the
// former ones, of the reading or of an earlier correction, are superseded, never
// deleted. A flag that is corrected away is closed, one that stays keeps what
// became of it, a new one that is alarming puts the nudges on hold; a hold that
// stands is lifted by staff only. The days that either touches are folded anew in
// the same transaction. Where nothing is left to look at, the reply is seen.
//
// What is wrong with the correction comes as plan.Faults, whole; ErrNotFound: no
// such reply, or it is not read yet.
func (db *DB) Correct(ctx context.Context, id int64, c plan.Correction, by string, now time.Time) error {
	return db.write(ctx, "correct reply", func(x *tx) error {
		k := &correcting{tx: x, db: db, id: id, said: c, by: by, now: now}
		return k.all()
	})
}

// correcting is one correction on its way into the record.
type correcting struct {
	*tx
	db       *DB
	id       int64
	said     plan.Correction
	by       string
	now      time.Time
	patient  plan.Patient
	slot     string
	outgoing int64     // the message it answers; 0: none
	received time.Time // in the patient's zone
}

func (k *correcting) all() error {
	if err := k.load(); err != nil {
		return err
	}
	if fs := k.said.Check(k.received); len(fs) > 0 {
		return fs
	}
	meals, err := k.meals()
	if err != nil {
		return err
	}
	reports, flags := k.said.Facts(k.slot, k.received, meals)
	was, err := k.former()
	if err != nil {
		return err
	}
	f, err := k.db.folder(k.tx, k.patient.ID)
	if err != nil {
		return err
	}
	correction, err := k.insert("INSERT INTO correction (reply_id, at, by, changed) VALUES (?, ?, ?, ?)",
		k.id, ms(k.now), k.by, string(k.said.Changed))
	if err != nil {
		return err
	}
	for _, query := range []string{
		"UPDATE report SET superseded = ? WHERE reply_id = ? AND superseded IS NULL",
		"UPDATE flag SET superseded = ? WHERE reply_id = ? AND superseded IS NULL",
	} {
		if _, err := k.exec(query, correction, k.id); err != nil {
			return err
		}
	}
	if _, err := k.exec("UPDATE flag SET closed = ?, closed_by = ? WHERE reply_id = ? AND superseded = ? AND closed IS NULL",
		ms(k.now), k.by, k.id, correction); err != nil {
		return err
	}
	stated := make([]plan.Stated, len(reports))
	for i, r := range reports {
		stated[i] = plan.Stated{Report: r, Certainty: 1}
	}
	raised := was.carry(flags, k.by)
	if err := k.addReports(k.patient.ID, k.id, correction, stated); err != nil {
		return err
	}
	if err := k.addFlags(k.patient.ID, k.id, correction, raised); err != nil {
		return err
	}
	if err := k.holds(was, reports, raised); err != nil {
		return err
	}
	for _, r := range was.reports {
		stated = append(stated, plan.Stated{Report: r})
	}
	touching := append([]plan.Flag(nil), flags...)
	for _, r := range was.flags {
		touching = append(touching, r.Flag)
	}
	if err := f.touched(stated, touching); err != nil {
		return err
	}
	if err := f.trim(); err != nil {
		return err
	}
	if !slices.ContainsFunc(raised, func(r raisedFlag) bool { return r.Closed.IsZero() && !r.Holds() }) {
		if err := k.seen(k.id, k.by, k.now); err != nil {
			return err
		}
	}
	return k.note(k.now, k.by, "reply correct", k.patient.Ref, fmt.Sprintf("reply %d, correction %d, changed %s, %d reports and %d flags in place of %d and %d",
		k.id, correction, orNothing(string(k.said.Changed)), len(reports), len(flags), len(was.reports), len(was.flags)))
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// load reads the reply and the patient it is of.
func (k *correcting) load() error {
	var patient int64
	err := k.one("SELECT ifnull(patient_id, 0), slot, ifnull(outgoing_id, 0), received FROM reply WHERE id = ? AND state = 'read'",
		[]any{k.id}, &patient, &k.slot, &k.outgoing, instant{&k.received})
	if err != nil {
		return notFound(err, "read reply %d", k.id)
	}
	if patient == 0 {
		return plan.Faults{{Path: "reply", What: fmt.Sprintf("%d was matched to no patient, so there is no record to correct", k.id),
			Hint: "mark it seen once it is dealt with"}}
	}
	if k.patient, err = k.tx.patient(patient); err != nil {
		return err
	}
	zone, err := time.LoadLocation(k.patient.Zone)
	if err != nil {
		return fmt.Errorf("zone of patient %q: %w", k.patient.Ref, err)
	}
	k.received = k.received.In(zone)
	return nil
}

// meals are the instants of the day's meals where the reply answers a nudge
// that asked about the whole day, else nil.
func (k *correcting) meals() (out []time.Time, err error) {
	if k.outgoing == 0 {
		return nil, nil
	}
	var d plan.Date
	err = k.one("SELECT n.day FROM outgoing o JOIN nudge n ON n.id = o.nudge_id WHERE o.id = ? AND n.whole = 1", []any{k.outgoing}, date{&d})
	if err != nil {
		return nil, ignoreNotFound(err)
	}
	versions, err := k.versions(k.patient.ID, &k.db.plans)
	if err != nil {
		return nil, err
	}
	v, ok := inForce(versions, d)
	if !ok {
		return nil, nil
	}
	zone, err := time.LoadLocation(v.Zone)
	if err != nil {
		return nil, fmt.Errorf("zone of plan version %d: %w", v.Number, err)
	}
	for _, m := range v.Plan.MealsOn(d.Weekday()) {
		out = append(out, plan.Instant(d, m.At, zone))
	}
	return out, nil
}

// inForceFacts are the reports and flags of one reply that are in force.
type inForceFacts struct {
	reports []plan.Report
	flags   []raisedFlag
}

// raisedFlag is a flag with who closed it.
type raisedFlag struct {
	plan.Flag
	closedBy string
}

func (k *correcting) former() (was inForceFacts, err error) {
	if was.reports, err = list(k.tx, scanReport, "SELECT "+reportColumns+" FROM report WHERE reply_id = ? AND superseded IS NULL ORDER BY id", k.id); err != nil {
		return was, err
	}
	was.flags, err = list(k.tx, func(row scanner) (r raisedFlag, err error) {
		return r, row.Scan(instant{&r.At}, &r.Slot, &r.What, &r.Level, instant{&r.Closed}, &r.closedBy)
	}, "SELECT "+flagColumns+", closed_by FROM flag WHERE reply_id = ? AND superseded IS NULL ORDER BY id", k.id)
	return was, err
}

// flag finds the flag of a kind, nil where there was none.
func (f inForceFacts) flag(what plan.FlagKind) *raisedFlag {
	for i := range f.flags {
		if f.flags[i].What == what {
			return &f.flags[i]
		}
	}
	return nil
}

// carry gives each flag what became of the former one of its kind: when it was
// raised, and that staff closed it.
func (f inForceFacts) carry(flags []plan.Flag, by string) (out []raisedFlag) {
	for _, e := range flags {
		r := raisedFlag{Flag: e}
		if !r.Closed.IsZero() {
			r.closedBy = by
		}
		if old := f.flag(e.What); old != nil && !worse(e, old.Flag) {
			r.At, r.Closed, r.closedBy = old.At, old.Closed, old.closedBy
		}
		out = append(out, r)
	}
	return out
}

// worse reports whether a flag alarms more than the former one of its kind.
func worse(f, old plan.Flag) bool { return f.Level == plan.Red && old.Level != plan.Red }

// holds puts the nudges on hold for what the reading had missed.
func (k *correcting) holds(was inForceFacts, reports []plan.Report, flags []raisedFlag) error {
	var why []string
	for _, f := range flags {
		old := was.flag(f.What)
		if f.Holds() && f.Closed.IsZero() && (old == nil || worse(f.Flag, old.Flag)) {
			why = append(why, holdWords(f.Flag))
		}
	}
	sore := func(r plan.Report) bool { return r.What == plan.ReportSoreness && r.Value >= plan.HoldSoreness }
	if slices.ContainsFunc(reports, sore) && !slices.ContainsFunc(was.reports, sore) {
		why = append(why, holdSoreWords)
	}
	if len(why) == 0 {
		return nil
	}
	if err := k.hold(k.patient, why, k.now); err != nil {
		return err
	}
	return k.note(k.now, k.by, "hold", k.patient.Ref, fmt.Sprintf("reply %d corrected: %d reasons", k.id, len(why)))
}
