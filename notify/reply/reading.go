package reply

import (
	"encoding/json"
	"time"
)

// What a received message is.
const (
	KindReply      = "reply"      // written by a person
	KindBounce     = "bounce"     // a server says a message was not delivered
	KindAutoReply  = "auto-reply" // written by a machine for a person
	KindLoop       = "loop"       // our own mail, come back
	KindUnreadable = "unreadable" // nothing in it could be read
)

// What a reply says to the nudge's question.
const (
	Yes     = "yes"
	No      = "no"
	Unclear = "unclear"
	None    = "none" // the question was not asked, or no person answered
)

// Levels of an allergy sign.
const (
	AllergyNone = "none"
	Yellow      = "yellow"
	Red         = "red"
)

// Names of reports and flags, as the patient's record has them.
const (
	On        = "on"
	Off       = "off"
	OffSpan   = "off-span"
	WornTotal = "worn-total"
	Sore      = "soreness"

	FlagAllergy    = "allergy"
	FlagBroken     = "broken"
	FlagOutOfBands = "out-of-bands"
	FlagQuestion   = "question"
	FlagSwelling   = "swelling"
	FlagUlcer      = "ulcer"
	FlagFever      = "fever"
	FlagJaw        = "jaw"
	FlagRunningLow = "running-low"
	FlagOther      = "other"
)

// Reading is what one message is taken to say. Its JSON form is the line that
// the verb `read` prints; the fields hidden from JSON are for the recorder.
type Reading struct {
	// Kind is one of the Kind constants.
	Kind string `json:"kind"`
	// Text is what the sender typed now, without quotations and signatures.
	Text string `json:"text"`
	// Lang is the language of Text: en, es, fr, de or pt; empty when unknown.
	Lang string `json:"lang"`
	// Changed is Yes, No, Unclear or None.
	Changed string `json:"changed"`
	// HoursWorn and HoursOff are hours as stated or computable, else nil.
	HoursWorn *float64 `json:"hours_worn"`
	HoursOff  *float64 `json:"hours_off"`
	// Off lists the stated intervals without bands, in wall time.
	Off []Interval `json:"off"`
	// OutOfBands is true when none is left or all are lost.
	OutOfBands bool `json:"out_of_bands"`
	// Broken is hook, button, bracket, wire, aligner or molar-band, else nil.
	Broken *string `json:"broken"`
	// Soreness is the current 0-10 value, else nil.
	Soreness *float64 `json:"soreness"`
	// Allergy is AllergyNone, Yellow or Red.
	Allergy string `json:"allergy"`
	// Stop is true when the sender wants no more e-mails.
	Stop bool `json:"stop"`
	// Question is the topic asked about, else nil.
	Question *string `json:"question"`
	// NeedsPerson is true when somebody at the clinic must read the message.
	NeedsPerson bool `json:"needs_person"`
	// Why names the reasons of the decision, the weightiest first.
	Why string `json:"why"`
	// Reports are the facts and flags to record, in the order of the text.
	Reports []Report `json:"reports"`
	// Bounce is set when Kind is KindBounce.
	Bounce *Bounce `json:"bounce"`

	// Wish is a command about the e-mails themselves: "", "fewer" or "start".
	// The wish to have none at all is Stop.
	Wish string `json:"-"`
	// NoAnswer is true when no automatic answer may go out to this message:
	// it speaks of self-harm or abuse, or a machine wrote it.
	NoAnswer bool `json:"-"`
	// Damaged is true when parts of the message were cut at a cap or could not
	// be decoded; what could be read is in the other fields.
	Damaged bool `json:"-"`
	// At is the instant of the message in the patient's zone: its Date, or
	// what stands in for one. Zero when nothing dates it.
	At time.Time `json:"-"`
	// Envelope is what the header says of who wrote and what is answered.
	Envelope Envelope `json:"-"`

	steps []step
}

// Interval is a stretch without bands in the patient's wall time, "15:00".
type Interval struct {
	From string `json:"from"`
	To   string `json:"to"`
}

// Report is one fact or flag read from a reply.
type Report struct {
	// What is a report's or a flag's name.
	What string `json:"what"`
	// Span is the stretch of Reading.Text that made it, in Unicode code
	// points: [start, end). It is empty where the whole message made it.
	Span [2]int `json:"span"`
	// Certainty is between 0 and 1. The steps are a convention of this
	// package (common practice, no source): 0.95 said in so many words, 0.8
	// said in other words, 0.6 likely, 0.3 only a trace that somebody wrote.
	Certainty float64 `json:"certainty"`

	// At is the instant the fact holds: of On and Off, and when a soreness
	// value or a flag was given.
	At time.Time `json:"-"`
	// Fresh is true of an On with a fresh set.
	Fresh bool `json:"-"`
	// Since is the stated beginning of an Off; zero when not stated.
	Since time.Time `json:"-"`
	// From and To bound an OffSpan.
	From time.Time `json:"-"`
	To   time.Time `json:"-"`
	// Day is the local day of a WornTotal, 2006-01-02.
	Day string `json:"-"`
	// Hours is the total of a WornTotal.
	Hours float64 `json:"-"`
	// Value is a soreness value, 0-10.
	Value float64 `json:"-"`
	// Level is Yellow or Red for an allergy flag, else empty.
	Level string `json:"-"`
	// Detail is the broken part, the topic of a question, or the reason of
	// an "other".
	Detail string `json:"-"`
	// Meal is the meal a report of a whole day belongs to, else empty.
	Meal string `json:"-"`
}

// IsFlag tells a flag, which waits for staff, from a fact for the ledger.
func (r Report) IsFlag() bool {
	switch r.What {
	case On, Off, OffSpan, WornTotal, Sore:
		return false
	}
	return true
}

// Bounce is what a delivery report says.
type Bounce struct {
	// Recipient is the address that failed; empty when the report names none.
	Recipient string `json:"recipient"`
	// Class is permanent, temporary or unknown.
	Class string `json:"class"`
	// Status is the enhanced status code (RFC 3463), empty when none is given.
	Status string `json:"status"`
	// Diagnostic is the server's own words, on one line.
	Diagnostic string `json:"diagnostic"`

	// Cause sorts the code by what it means for the address; see the Cause
	// constants.
	Cause string `json:"-"`
	// MessageID is the Message-ID of the returned message, if it came along.
	MessageID string `json:"-"`
}

// Causes of a bounce. Only CauseAddress is evidence against the address.
const (
	CauseAddress = "address" // no such mailbox or domain
	CauseMailbox = "mailbox" // full, too large, disabled for a time
	CausePolicy  = "policy"  // spam, block list, authentication: ours to repair
	CauseNetwork = "network" // routing, time-out, busy
	CauseOther   = "other"
)

// Envelope is what a message's header says of its sender and its ties.
type Envelope struct {
	MessageID  string
	InReplyTo  []string
	References []string
	// From is the bare address of the first author.
	From    string
	Subject string
	// Date is the Date header as written; zero when missing or unreadable.
	Date time.Time
	// Recipients are the bare addresses of To, Cc, Delivered-To,
	// X-Original-To and Envelope-To, in that order, each once: one of them
	// holds the token.
	Recipients []string
}

// Quote returns the stretch of Text that a report's span names.
func (r Reading) Quote(span [2]int) string {
	from, to, n := -1, len(r.Text), 0
	for i := range r.Text {
		if n == span[0] {
			from = i
		}
		if n == span[1] {
			to = i
			break
		}
		n++
	}
	if from < 0 || from > to {
		return ""
	}
	return r.Text[from:to]
}

// MarshalJSON writes the documented object; its lists are never null.
func (r Reading) MarshalJSON() ([]byte, error) {
	type plain Reading
	p := plain(r)
	if p.Off == nil {
		p.Off = []Interval{}
	}
	if p.Reports == nil {
		p.Reports = []Report{}
	}
	return json.Marshal(p)
}
