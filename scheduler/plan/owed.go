package plan

import "time"

// Version is one version of a patient's plan. Versions are only ever added;
// each takes effect from its first local day, and earlier days keep the zone
// and the meals they had.
type Version struct {
	Number  int
	First   Date   // first local day it is in force
	Zone    string // IANA name
	Created time.Time
	By      string // who wrote it
	Plan    Plan
}

// DuePatient is a patient the tick has to look at.
type DuePatient struct {
	Patient  Patient
	Through  time.Time // nudges due up to here are already on file
	Versions []Version // oldest first; never empty
}

// Owing is one nudge that has come due.
type Owing struct {
	Nudge Nudge
	Lapse string // why it lapses at once; empty: it is to be sent
}

// Owed is what one look at one patient found.
type Owed struct {
	PatientID int64
	Version   int // the number of the latest version looked at
	Nudges    []Owing
	Through   time.Time // nudges due up to here are now on file
	NextDue   time.Time // when to look again; zero: never
}

// Composed is a message ready for the wire, stored before anything is dialled.
type Composed struct {
	Bytes     []byte
	MessageID string // without angle brackets
	Selector  string // of the reply address's token
	Version   string // of the message text it was made from
}

// Bounce is what a delivery report says.
type Bounce struct {
	Recipient  string
	Class      string // permanent, temporary, unknown
	Status     string // enhanced status code, RFC 3463: 5.1.1
	Diagnostic string
}

// Heard is what one inbound message came to, ready to be put on record.
type Heard struct {
	At          time.Time // when it was received
	Kind        string    // reply, bounce, auto-reply, loop, unreadable, unmatched
	How         string    // how it was matched: token, message-id, none
	PatientID   int64     // 0: nobody was matched
	OutgoingID  int64     // the message it answers; 0: none
	Slot        string    // the slot of the nudge it answers; empty: none
	Text        string    // what the person wrote, without quotes and signature
	Lang        string
	Why         string // the reader's reason
	NeedsPerson bool
	Mismatch    bool   // From differs from the address written to
	Reading     []byte // the reading as JSON
	Reports     []Stated
	Flags       []Flag
	Stop        bool
	Fewer       bool
	Start       bool
	Bounce      *Bounce
	Answers     []string // topics to answer: stopped, emergency
}

// Stated is a report with the words it was read from.
type Stated struct {
	Report
	Span      [2]int  // of Heard.Text in Unicode code points, [start, end)
	Certainty float64 // 0-1
}
