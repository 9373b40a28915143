package compliance

import (
	"time"

	"bandbell/scheduler/plan"
)

// Record is one patient as a file: everything the figures are computed from.
type Record struct {
	Zone     *time.Location // the patient's IANA zone; its name is written
	AsOf     time.Time      // the moment of reckoning; nothing later is seen
	Window   Window         // the local days that are looked at
	Plan     plan.Plan      //
	Flags    []plan.Flag    //
	Nudges   []Nudge        //
	Reports  []plan.Report  //
	Visits   []Visit        //
	Settings Settings       // fill with DefaultSettings where nothing is said
}

// Window is a stretch of local days, both included.
type Window struct{ From, To plan.Date }

// MaxWindowDays bounds a window: two treatments of ten years. Common practice,
// no source; it keeps a mistyped year from asking for a million days.
const MaxWindowDays = 7305

// Outcome is what became of a nudge.
type Outcome string

// The outcomes. Only an accepted nudge can be met with silence.
const (
	OutcomeAccepted Outcome = "accepted" // a mail server took it
	OutcomeBounced  Outcome = "bounced"  // taken, then sent back
	OutcomeLapsed   Outcome = "lapsed"   // its moment passed unsent
	OutcomeFailed   Outcome = "failed"   // refused, suppressed or uncertain
	OutcomePlanned  Outcome = "planned"  // not yet decided
)

// Nudge is a nudge that was owed, and what became of it.
type Nudge struct {
	Kind    plan.Kind
	Slot    string    // 2026-06-01/PCM for a band change; a report names it
	Due     time.Time // when it was owed
	Until   time.Time // past this it was no use
	Outcome Outcome
}

// Visit is what was read at the chair on one day, in millimetres still to
// correct, the doctor's target already subtracted.
type Visit struct {
	Date    plan.Date
	Overjet *float64 // nil: not read
	Left    *float64 // nil: not read
	Right   *float64 // nil: not read
	SD      *float64 // s.d. of a reading in mm; nil: the setting's
}

// reading returns what the visit says of a measure, nil for nothing.
func (v Visit) reading(m MeasureName) *float64 {
	switch m {
	case Overjet:
		return v.Overjet
	case Left:
		return v.Left
	}
	return v.Right
}

// Settings are the constants of the figures that a clinic may set. Each is a
// rule of thumb of the trade unless a source is named.
type Settings struct {
	CarryMin    float64 // minutes for which two agreeing answers vouch for the time between them
	RampMin     float64 // minutes of unbroken force before teeth move
	GraceMin    float64 // longest off-time, in minutes, that does not break a run
	PriorWear   float64 // share of unknown time taken as worn before anything is known, 0-1
	PriorAnswer float64 // share of nudges taken as answered before anything is known, 0-1
	RatePer100h float64 // mm corrected by 100 working hours, mean of the prior
	RateSD      float64 // its spread, over 0
	MeasureSD   float64 // s.d. of a reading, mm, over 0
	ToleranceMM float64 // mm still to correct at which a bite counts as corrected
}

// The default settings.
const (
	DefaultCarryMin    = 840 // a night between bedtime and breakfast; common practice, no source
	DefaultRampMin     = 240 // 4 h of unbroken light force; common practice, no source
	DefaultGraceMin    = 60  // a long meal; common practice, no source
	DefaultPriorWear   = 0.7 // common practice, no source
	DefaultPriorAnswer = 0.8 // common practice, no source
	// 0.35 mm a month at 22 h a day (669 h), an assumption within the 0.30-0.45
	// mm of overjet a month derived from Senocak and Camci, J Orofac Orthop
	// 2024, doi 10.1007/s00056-024-00549-8; the spread is 0.2 mm a month.
	DefaultRatePer100h = 0.0523
	DefaultRateSD      = 0.03
	DefaultMeasureSD   = 0.5 // a quarter-cusp reading; common practice, no source
	DefaultToleranceMM = 0.5 // midline within 0.25-0.5 mm is accepted; common practice, no source
)

// DefaultSettings returns the settings that hold where a record names none.
func DefaultSettings() Settings {
	return Settings{
		CarryMin: DefaultCarryMin, RampMin: DefaultRampMin, GraceMin: DefaultGraceMin,
		PriorWear: DefaultPriorWear, PriorAnswer: DefaultPriorAnswer,
		RatePer100h: DefaultRatePer100h, RateSD: DefaultRateSD,
		MeasureSD: DefaultMeasureSD, ToleranceMM: DefaultToleranceMM,
	}
}
