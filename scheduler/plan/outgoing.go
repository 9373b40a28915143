package plan

import "time"

// State is where one outgoing message stands.
type State string

// The states. Accepted, lapsed, failed and suppressed are final; uncertain is
// once its one resend is spent or its window is over.
const (
	Planned    State = "planned"    // due, waiting to be claimed
	Claimed    State = "claimed"    // being composed or sent; nothing of it was accepted
	DotSent    State = "dot_sent"   // the final dot may have left; the answer is not known
	Accepted   State = "accepted"   // the server took it
	Retry      State = "retry"      // refused for now; tried again at NextTry
	Uncertain  State = "uncertain"  // the connection ended between the dot and the answer
	Lapsed     State = "lapsed"     // its moment passed
	Failed     State = "failed"     // refused for good
	Suppressed State = "suppressed" // not to be sent: consent, stop, pause, hold, address
)

// Cause is what an outgoing message was made for.
type Cause string

// The causes.
const (
	CauseNudge   Cause = "nudge"
	CauseAnswer  Cause = "answer"  // an automatic answer to a reply
	CauseConsent Cause = "consent" // the confirmation asked before the first nudge
	CauseDigest  Cause = "digest"  // the desk's morning list
	CauseTest    Cause = "test"    // sent by staff to see that mail works
)

// Outgoing is one message owed to one recipient.
type Outgoing struct {
	ID      int64
	Cause   Cause
	Key     string // names the cause for ever: nudge/REF/band-change/2026-06-01/2026-06-01/PCM
	To      Recipient
	State   State
	Reason  string    // why it stands so, in words; empty while planned
	Due     time.Time // not before
	Until   time.Time // not at or after
	Attempt int       // times it was claimed
	NextTry time.Time // retry only

	MessageID string // without angle brackets; empty until composed
	Bytes     []byte // the message as it goes on the wire; nil once final
	Version   string // of the message text it was made from
}

// Job is an outgoing message with all that is needed to compose it.
type Job struct {
	Outgoing
	Patient Patient
	Plan    Plan
	Nudge   Nudge  // CauseNudge
	Topic   string // CauseAnswer: which answer: stopped, emergency, ...
	// AnswersID is the Message-ID the answer replies to, without brackets.
	AnswersID string
}

// Inbound is one received message, kept raw.
type Inbound struct {
	ID       int64
	Raw      []byte
	From     string    // envelope sender; empty is the null path
	To       []string  // envelope recipients
	Received time.Time // when it was taken in
	Source   string    // smtp, lmtp, imap, file
}

// Asked is what an inbound message answers: the outgoing message its token or
// In-Reply-To names.
type Asked struct {
	Outgoing Outgoing
	Patient  Patient
	Plan     Plan
	Nudge    Nudge // zero unless the cause was a nudge
}
