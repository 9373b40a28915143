package reply

import "time"

// Kinds of nudge, as the question a reply answers.
const (
	BandChange = "band-change"
	WearStart  = "wear-start"
	Soreness   = "soreness"
)

// WholeDay is the Meal of the nudge that asks about the whole local day
// instead of one meal.
const WholeDay = "day"

// MealTime is one planned meal of the patient on the day of the nudge.
type MealTime struct {
	// Code is PCM, PCD, PCV, PC or HS (HL7 timing events).
	Code string
	// Hour and Minute are the wall time at which the meal begins.
	Hour, Minute int
}

// Asked says what the nudge asked and where its patient lives. The zero value
// is a reply about which nothing is known: its question is taken to be the
// band change, its zone the one of the message's own Date.
type Asked struct {
	// Kind is BandChange, WearStart or Soreness; empty is BandChange.
	Kind string
	// Meal is PCM, PCD, PCV, PC, HS or WholeDay; empty when no meal was named.
	Meal string
	// Sent is when the nudge went out; zero when unknown. Its location is the
	// patient's zone unless Zone says otherwise.
	Sent time.Time
	// Received is when our server took the reply in; it stands in for a
	// missing or absurd Date header. Zero when unknown.
	Received time.Time
	// Zone is the patient's zone; nil takes Sent's.
	Zone *time.Location
	// Lang is the patient's language (en, es, fr, de, pt); empty detects it.
	Lang string
	// Meals are the patient's meals of that weekday; with them "since lunch"
	// becomes a time, and a plain yes to a whole day becomes one report a meal.
	Meals []MealTime
	// OwnDomain is the domain of our own Message-IDs; with it our mail coming
	// back is known for a loop.
	OwnDomain string
	// Nudge is the plain text that was sent, when it is still known: its lines
	// are never taken for the answer, even where a mail program left no mark
	// of quotation.
	Nudge string
}

// zone returns the patient's zone, or fallback where nothing names one.
func (a Asked) zone(fallback *time.Location) *time.Location {
	if a.Zone != nil {
		return a.Zone
	}
	if !a.Sent.IsZero() {
		return a.Sent.Location()
	}
	if fallback != nil {
		return fallback
	}
	return time.UTC
}

func (a Asked) kind() string {
	if a.Kind == "" {
		return BandChange
	}
	return a.Kind
}
