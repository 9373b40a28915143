package plan

import "time"

// ReportKind is what a report states.
type ReportKind string

// The reports a reply can hold.
const (
	ReportOn        ReportKind = "on"         // bands on at At; Fresh when a fresh set
	ReportOff       ReportKind = "off"        // bands off at At, since Since where stated
	ReportOffSpan   ReportKind = "off-span"   // off From-To
	ReportWornTotal ReportKind = "worn-total" // Hours worn on Day
	ReportSoreness  ReportKind = "soreness"   // Value 0-10
)

// Report is one fact read from a reply.
type Report struct {
	At    time.Time  // when it was received, for "on" and "off" the moment it speaks of
	Slot  string     // the nudge it answers; empty: none named
	What  ReportKind //
	Fresh bool       // on: a fresh set was put on
	Since time.Time  // off: zero when not stated
	From  time.Time  // off-span
	To    time.Time  // off-span
	Day   Date       // worn-total
	Hours float64    // worn-total: hours of that day, 0-25
	Value int        // soreness: 0-10
}

// FlagKind is what a flag is about.
type FlagKind string

// The flags.
const (
	FlagAllergy    FlagKind = "allergy" // Level red or yellow
	FlagBroken     FlagKind = "broken"
	FlagOutOfBands FlagKind = "out-of-bands"
	FlagQuestion   FlagKind = "question"
	FlagSwelling   FlagKind = "swelling"
	FlagUlcer      FlagKind = "ulcer"
	FlagFever      FlagKind = "fever"
	FlagJaw        FlagKind = "jaw"
	FlagRunningLow FlagKind = "running-low"
	FlagOther      FlagKind = "other"
)

// AllFlags lists every kind of flag.
var AllFlags = []FlagKind{FlagAllergy, FlagBroken, FlagOutOfBands, FlagQuestion,
	FlagSwelling, FlagUlcer, FlagFever, FlagJaw, FlagRunningLow, FlagOther}

// Level is how grave an allergy flag is.
type Level string

// The levels of an allergy flag.
const (
	Red    Level = "red"
	Yellow Level = "yellow"
)

// Flag is something in a reply that a person should look at.
type Flag struct {
	At     time.Time
	Slot   string // the nudge it answers; empty: none named
	What   FlagKind
	Level  Level     // allergy only
	Closed time.Time // zero: open
}

// Holds reports whether the flag puts the patient's nudges on hold until staff
// lift it: nobody who wrote "my lips are swelling" may get "a fresh set now".
func (f Flag) Holds() bool {
	switch f.What {
	case FlagAllergy, FlagBroken, FlagOutOfBands, FlagJaw, FlagFever, FlagSwelling:
		return true
	}
	return false
}

// HoldSoreness is the soreness, 0-10, from which nudges are held.
const HoldSoreness = 8
