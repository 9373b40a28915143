package store

import (
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// answerPause is how long the same automatic answer is not given to a patient
// again: two machines that answer each other stop after one. RFC 3834 section 2
// asks for such a pause.
const answerPause = 24 * time.Hour

const queryAnswered = `SELECT count(*) FROM outgoing INDEXED BY outgoing_answer
	WHERE cause = 'answer' AND patient_id = ? AND topic = ? AND created > ?`

// answers puts the automatic answers on the outbox, to the person who wrote.
func (r *recording) answers() error {
	to := r.to
	for _, p := range r.patient.Recipients {
		if to == 0 && p.Role == plan.RolePatient {
			to = p.ID
		}
	}
	if r.patient.ID == 0 || to == 0 {
		return nil // nobody known to answer; the reply waits for a person
	}
	topics := slices.Compact(slices.Sorted(slices.Values(r.heard.Answers)))
	for _, topic := range topics {
		var lately int
		if err := r.one(queryAnswered, []any{r.patient.ID, topic, ms(r.now.Add(-answerPause))}, &lately); err != nil {
			return err
		}
		if lately > 0 {
			continue
		}
		if _, err := r.addOutgoing(message{
			cause: plan.CauseAnswer, key: fmt.Sprintf("answer/%d/%s", r.id, topic), patient: r.patient.ID, reply: r.id, recipient: to,
			topic: topic, priority: priorityAnswer, state: plan.Planned, due: r.now, until: r.now.Add(answerUseful),
		}, r.now); err != nil {
			return err
		}
	}
	return nil
}
