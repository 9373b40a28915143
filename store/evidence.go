package store

import (
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

const (
	reportColumns = "at, slot, what, fresh, since, span_from, span_to, day, ifnull(hours, 0), ifnull(value, 0)"
	flagColumns   = "at, slot, what, level, closed"

	// Of a reply that was corrected only the correction is in force; it takes the
	// place of what was read in the order of the reports too.

	// queryEvidence finds the reports that bear on a stretch of days: those that
	// speak of a moment in it or within the carry of it, state a total for one of
	// its days, or answer a nudge of one.
	queryEvidence = "SELECT " + reportColumns + ` FROM report INDEXED BY report_patient WHERE patient_id = ? AND superseded IS NULL AND (
		at BETWEEN ? AND ? OR since <= ? AND at >= ? OR span_from <= ? AND span_to >= ?
		OR day BETWEEN ? AND ? OR substr(slot, 1, 10) BETWEEN ? AND ?) ORDER BY at, reply_id, id`
	queryAnswering = "SELECT " + flagColumns + ` FROM flag INDEXED BY flag_patient
		WHERE patient_id = ? AND superseded IS NULL AND substr(slot, 1, 10) BETWEEN ? AND ? ORDER BY at, reply_id, id`
	queryOwn = nudgeOutcome + ` WHERE n.patient_id = ? AND n.kind = 'band-change' AND n.day BETWEEN ? AND ? ORDER BY n.id, o.id`

	// nudgeOutcome lists nudges with one row a message.
	nudgeOutcome = `SELECT n.id, n.kind, n.slot, n.due, n.until, ifnull(o.state, 'planned'), o.ended IS NOT NULL, o.bounced_at IS NOT NULL,
		ifnull(r.role, '') FROM nudge n LEFT JOIN outgoing o ON o.nudge_id = n.id LEFT JOIN recipient r ON r.id = o.recipient_id`
)

func scanReport(row scanner) (r plan.Report, err error) {
	return r, row.Scan(instant{&r.At}, &r.Slot, &r.What, &r.Fresh, instant{&r.Since}, instant{&r.From}, instant{&r.To},
		date{&r.Day}, &r.Hours, &r.Value)
}

func scanFlag(row scanner) (f plan.Flag, err error) {
	return f, row.Scan(instant{&f.At}, &f.Slot, &f.What, &f.Level, instant{&f.Closed})
}

// evidence fills in what bears on the days from one to another.
func (f *folder) evidence(r *compliance.Record, from, to plan.Date) (err error) {
	carry := time.Duration(r.Settings.CarryMin * float64(time.Minute))
	low := plan.DayStart(from, r.Zone).Add(-carry).UnixMilli() - 1
	high := plan.DayEnd(to, r.Zone).Add(carry).UnixMilli() + 1
	first, last := from.String(), to.String()
	if r.Reports, err = list(f.tx, scanReport, queryEvidence, f.id, low, high, high, low, high, low, first, last, first, last); err != nil {
		return err
	}
	if r.Flags, err = list(f.tx, scanFlag, queryAnswering, f.id, first, last); err != nil {
		return err
	}
	r.Nudges, err = nudges(f.tx, queryOwn, f.id, first, last)
	return err
}

// nudges reads nudges with their outcomes. The message to the patient decides;
// where there is none, or several, the best.
func nudges(x *tx, query string, args ...any) ([]compliance.Nudge, error) {
	type of struct {
		id             int64
		n              compliance.Nudge
		state          plan.State
		ended, bounced bool
		role           plan.Role
	}
	rows, err := list(x, func(row scanner) (o of, err error) {
		return o, row.Scan(&o.id, &o.n.Kind, &o.n.Slot, instant{&o.n.Due}, instant{&o.n.Until}, &o.state, &o.ended, &o.bounced, &o.role)
	}, query, args...)
	if err != nil {
		return nil, err
	}
	var out []compliance.Nudge
	var last int64
	var own bool // the nudge at the end of out was decided by the patient's own message
	for _, o := range rows {
		o.n.Outcome = outcome(o.state, o.ended, o.bounced)
		mine := o.role == plan.RolePatient
		if o.id != last {
			out, last, own = append(out, o.n), o.id, mine
			continue
		}
		kept := &out[len(out)-1].Outcome
		if mine && !own || mine == own && rank(o.n.Outcome) < rank(*kept) {
			*kept, own = o.n.Outcome, mine
		}
	}
	return out, nil
}

// outcome is what a record says of a message in this state.
func outcome(s plan.State, ended, bounced bool) compliance.Outcome {
	switch {
	case bounced:
		return compliance.OutcomeBounced
	case s == plan.Accepted:
		return compliance.OutcomeAccepted
	case s == plan.Lapsed:
		return compliance.OutcomeLapsed
	case s == plan.Failed, s == plan.Suppressed, s == plan.Uncertain && ended:
		return compliance.OutcomeFailed
	}
	return compliance.OutcomePlanned
}

// rank orders outcomes, the best first.
func rank(o compliance.Outcome) int {
	for i, e := range []compliance.Outcome{compliance.OutcomeAccepted, compliance.OutcomePlanned, compliance.OutcomeBounced, compliance.OutcomeLapsed} {
		if e == o {
			return i
		}
	}
	return 4
}
