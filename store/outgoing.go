package store

import (
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// Priorities of the outbox, lowest first. A person who has just written waits
// for an answer; a band change comes again after the next meal.
const (
	priorityAnswer = iota
	priorityDesk   // consent, digest, test
	priorityWearStart
	prioritySoreness
	priorityBandChange
)

func nudgePriority(k plan.Kind) int {
	switch k {
	case plan.WearStart:
		return priorityWearStart
	case plan.Soreness:
		return prioritySoreness
	}
	return priorityBandChange
}

// message is a row of the outbox to be made.
type message struct {
	cause     plan.Cause
	key       string
	patient   int64 // 0: none
	nudge     int64 // 0: none
	reply     int64 // 0: none
	recipient int64 // 0: to stands instead
	to        plan.Recipient
	topic     string
	priority  int
	state     plan.State
	reason    string
	due       time.Time
	until     time.Time
}

// addOutgoing makes the row once for its key and recipient and returns its id;
// 0 where it is on file already.
func (x *tx) addOutgoing(m message, now time.Time) (id int64, err error) {
	var ended any
	if Final(m.state) {
		ended = ms(now)
	}
	return x.insert(`INSERT INTO outgoing (cause, key, patient_id, nudge_id, reply_id, recipient_id, address, name, language,
		topic, priority, state, reason, due, until, created, ended)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		string(m.cause), m.key, nullID(m.patient), nullID(m.nudge), nullID(m.reply), nullID(m.recipient),
		string(m.to.Address), m.to.Name, m.to.Language,
		m.topic, m.priority, string(m.state), m.reason, ms(m.due), ms(m.until), ms(now), ended)
}

func nullID(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// Final reports whether a message in this state can never change again. An
// uncertain one is final too once its one resend is spent or its window is
// over, which its row says and its state does not.
func Final(s plan.State) bool {
	switch s {
	case plan.Accepted, plan.Lapsed, plan.Failed, plan.Suppressed:
		return true
	}
	return false
}

// steps is every step there is, from state to state. Whatever is not in it is
// an error: a message that was accepted can never be sent again by mistake.
var steps = map[plan.State][]plan.State{
	plan.Planned: {plan.Claimed, plan.Lapsed, plan.Suppressed},
	plan.Retry:   {plan.Claimed, plan.Lapsed, plan.Suppressed},
	// Before the dot nothing can have been accepted, so any way out is safe.
	plan.Claimed: {plan.DotSent, plan.Retry, plan.Failed, plan.Lapsed, plan.Suppressed},
	// After it only an answer tells: 250, 4yz, 5yz, or none at all.
	plan.DotSent:   {plan.Accepted, plan.Retry, plan.Failed, plan.Lapsed, plan.Uncertain},
	plan.Uncertain: {plan.Claimed, plan.Lapsed, plan.Suppressed},
}

func legal(from, to plan.State) bool {
	for _, s := range steps[from] {
		if s == to {
			return true
		}
	}
	return false
}

// StepError says that a message was asked to take a step that does not exist.
type StepError struct {
	ID       int64
	From, To plan.State
	Ended    bool // it was final already
}

// Error names the message and the step.
func (e *StepError) Error() string {
	if e.Ended {
		return fmt.Sprintf("message %d is %s for good and cannot become %s", e.ID, e.From, e.To)
	}
	return fmt.Sprintf("message %d is %s and cannot become %s", e.ID, e.From, e.To)
}

// step is what the state machine knows of a message.
type step struct {
	id     int64
	cause  plan.Cause
	state  plan.State
	resent bool
	ended  time.Time
	until  time.Time
}

const (
	stepColumns = "id, cause, state, resent, ended, until"
	queryStep   = "SELECT " + stepColumns + " FROM outgoing WHERE id = ?"
	// queryWaiting finds what waits to be claimed for one patient.
	queryWaiting = "SELECT " + stepColumns + ` FROM outgoing INDEXED BY outgoing_open
		WHERE patient_id = ? AND ended IS NULL AND state IN ('planned', 'retry', 'uncertain')`
)

func scanStep(row scanner) (s step, err error) {
	return s, row.Scan(&s.id, &s.cause, &s.state, &s.resent, instant{&s.ended}, instant{&s.until})
}

// stepTo reads a message and makes sure that it may go to the state.
func (x *tx) stepTo(id int64, to plan.State) (step, error) {
	q, err := x.stmt(queryStep, []any{id})
	if err != nil {
		return step{}, err
	}
	s, err := scanStep(q.QueryRowContext(x.ctx, id))
	if err != nil {
		return s, notFound(err, "message %d", id)
	}
	if !s.ended.IsZero() || !legal(s.state, to) {
		return s, &StepError{ID: id, From: s.state, To: to, Ended: !s.ended.IsZero()}
	}
	return s, nil
}

// inDoubt reports whether a copy may have been accepted already.
func (s step) inDoubt() bool { return s.state == plan.Uncertain || s.resent }

// end puts a message into a final state with its reason and drops its octets.
// One that may have been accepted and is then given up stays uncertain: to call
// it lapsed or suppressed would say that nothing left.
func (x *tx) end(s step, to plan.State, reason string, now time.Time) error {
	if s.inDoubt() && (to == plan.Lapsed || to == plan.Suppressed) {
		to = plan.Uncertain
		reason = "no answer to the first sending; " + reason
	}
	_, err := x.exec("UPDATE outgoing SET state = ?, reason = ?, ended = ?, next_try = NULL, bytes = NULL WHERE id = ?",
		string(to), reason, ms(now), s.id)
	return err
}
