package plan

import "time"

// Answer is what was answered to a question that may not have been asked.
type Answer string

// The answers. The empty Answer counts as not asked.
const (
	Yes      Answer = "yes"
	No       Answer = "no"
	NotAsked Answer = "not-asked"
)

// Patient is one person in treatment and the people who are written to.
type Patient struct {
	ID           int64  // the database's; 0 until stored
	Ref          string // short random name used in commands, pages and logs
	FirstName    string // the only name that ever stands in a message
	LastName     string // for the desk's lists; may be empty
	Phone        string // to dial; may be empty
	Language     string // BCP 47 tag of the messages: en, es
	Zone         string // IANA name: America/New_York
	LatexAllergy Answer
	Born         Date      // zero: not recorded
	Created      time.Time //
	Stopped      time.Time // when every mail was stopped; zero: not
	Hold         Hold
	Recipients   []Recipient
}

// Hold is a safety hold: no nudge leaves until staff lift it.
type Hold struct {
	Since  time.Time // zero: no hold
	Reason string    // in words for staff, never the patient's own
}

// Held reports whether a hold stands.
func (h Hold) Held() bool { return !h.Since.IsZero() }

// Role is whose address it is.
type Role string

// The roles.
const (
	RolePatient  Role = "patient"
	RoleGuardian Role = "guardian"
)

// Recipient is one person written to about one patient.
type Recipient struct {
	ID       int64
	Role     Role
	Name     string // first name of a guardian; empty for the patient
	Address  Address
	Language string    // empty: the patient's
	Consent  Consent   // zero: none, nothing leaves
	Stopped  time.Time // when this recipient said STOP; zero: not
	Bounced  time.Time // when the address was found dead; zero: not
}

// Consent is who agreed to be e-mailed, when and how.
type Consent struct {
	At   time.Time
	How  string // paper, email, phone
	By   string // who recorded it
	Text string // version of the warning that was agreed to
}

// Given reports whether there is consent.
func (c Consent) Given() bool { return !c.At.IsZero() }
