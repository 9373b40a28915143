package plan

import "time"

// Kind is the kind of a nudge.
type Kind string

// The three points at which a patient is written to.
const (
	BandChange Kind = "band-change" // after each meal
	WearStart  Kind = "wear-start"  // the start of band wear in week three
	Soreness   Kind = "soreness"    // the first, sore week
)

// Nudge is one message owed to one patient for one moment. Kind, Day and Slot
// name it among all nudges of that patient, for ever.
type Nudge struct {
	Kind  Kind
	Slot  string    // 2026-06-01/PCM, d-3, b/2026-09-01, s1, 2026-06-20/s1
	Day   Date      // the local day it was planned for
	Due   time.Time // when it is owed
	Until time.Time // past this it is never sent
	Moved string    // why Due was moved: "quiet hours", or empty
	Whole bool      // a band-change nudge that asks about the whole day
}

// Dropped is a nudge that a rule took out, with the first reason that held.
type Dropped struct {
	Kind   Kind
	Slot   string
	Day    Date
	Reason string
}

// QuietHours is the reason of a nudge moved or dropped for quiet hours.
const QuietHours = "quiet hours"

// The reasons for which a nudge is dropped, in the order in which they are
// asked.
const (
	DropPaused      = "paused"
	DropEnded       = "ended"
	DropBeforeStart = "before wear-start"
	DropRestarted   = "restarted"
	DropNights      = "nights only"
	DropEased       = "eased"
	DropQuiet       = QuietHours
	DropNoTime      = "no time left"
)
