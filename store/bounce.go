package store

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// bounceJSON is a delivery report as it is kept with its reply.
type bounceJSON struct {
	Recipient  string `json:"recipient"`
	Class      string `json:"class"`
	Status     string `json:"status"`
	Diagnostic string `json:"diagnostic"`
}

// deadStatus are the enhanced status codes that say the address itself is dead
// (RFC 3463 sections 3.2 and 3.3; 5.1.10 is RFC 7505): bad mailbox, bad system,
// bad syntax, moved without address, null MX, mailbox disabled.
var deadStatus = []string{"5.1.1", "5.1.2", "5.1.3", "5.1.6", "5.1.10", "5.2.1"}

// bouncesToDrop is how many messages to one recipient must have come back for
// good before nothing more is sent there, where no report said outright that
// the address is dead. Common practice, no source.
const bouncesToDrop = 2

const queryBounced = `SELECT count(*) FROM outgoing INDEXED BY outgoing_bounced
	WHERE recipient_id = ? AND bounced_at IS NOT NULL AND bounce LIKE '5.1.%'`

// bounced notes a delivery report on the message it is about. Only a permanent
// one counts: a delay is no end. A dead address is dropped at once, any other
// word about the address (5.1.x) at the second time, and no other code ever: a
// full mailbox, a size, a policy say nothing of the address. A report is easily forged, so one that bears no token of
// ours drops no address.
func (r *recording) bounced() error {
	b := r.heard.Bounce
	if b == nil || b.Class != "permanent" || r.heard.OutgoingID == 0 {
		return nil
	}
	if _, err := r.exec("UPDATE outgoing SET bounced_at = ifnull(bounced_at, ?), bounce = ? WHERE id = ?",
		ms(r.now), validUTF8(b.Status), r.heard.OutgoingID); err != nil {
		return err
	}
	if err := r.refoldNudge(r.heard.OutgoingID); err != nil {
		return err
	}
	if err := r.tellOfBounce(); err != nil {
		return err
	}
	if r.to == 0 || r.heard.How != "token" {
		return nil
	}
	if !slices.Contains(deadStatus, b.Status) {
		if !strings.HasPrefix(b.Status, "5.1.") {
			return nil
		}
		var n int
		if err := r.one(queryBounced, []any{r.to}, &n); err != nil {
			return err
		}
		if n < bouncesToDrop {
			return nil
		}
	}
	n, err := r.exec("UPDATE recipient SET bounced = ? WHERE id = ? AND bounced IS NULL", ms(r.now), r.to)
	if err != nil || n == 0 {
		return err
	}
	r.heard.NeedsPerson = true
	r.heard.Why = joined(r.heard.Why, "the address is dead and is written to no more")
	return r.note(r.now, "daemon", "address dead", r.patient.Ref, fmt.Sprintf("reply %d, status %q", r.id, validUTF8(b.Status)))
}

// tellDaily is how often the desk is told of one recipient's bounces: a full
// mailbox sends four reports a day. Common practice, no source.
const tellDaily = 24 * time.Hour

// tellOfBounce puts the first report of a day before a person, whatever its
// code: somebody at that address waits for messages that do not come.
func (r *recording) tellOfBounce() error {
	var n int
	if err := r.one(`SELECT count(*) FROM outgoing INDEXED BY outgoing_bounced
		WHERE recipient_id = (SELECT recipient_id FROM outgoing WHERE id = ?) AND bounced_at IS NOT NULL AND bounced_at > ? AND id != ?`,
		[]any{r.heard.OutgoingID, ms(r.now.Add(-tellDaily)), r.heard.OutgoingID}, &n); err != nil || n > 0 {
		return err
	}
	r.heard.NeedsPerson = true
	r.heard.Why = joined(r.heard.Why, "a message came back")
	return nil
}

// refoldNudge folds the day of a message's nudge anew: a bounce takes it out of
// what was delivered.
func (r *recording) refoldNudge(outgoing int64) error {
	var patient int64
	var d plan.Date
	err := r.one("SELECT n.patient_id, n.day FROM outgoing o JOIN nudge n ON n.id = o.nudge_id WHERE o.id = ?", []any{outgoing}, &patient, date{&d})
	if err != nil {
		return ignoreNotFound(err)
	}
	f, err := r.db.folder(r.tx, patient)
	if err != nil {
		return err
	}
	return f.fold(d, d)
}
