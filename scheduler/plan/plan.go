package plan

import (
	"cmp"
	"slices"
	"time"
)

// Appliance is what straightens the teeth while the bands bring the arches
// together.
type Appliance string

// The appliances.
const (
	Aligners Appliance = "aligners"
	Braces   Appliance = "braces"
)

// MealCode is a meal event of HL7 (code system v3-TimingEvent).
type MealCode string

// The meal events a plan may name: after breakfast, lunch, dinner, after any
// other meal, and bedtime.
const (
	AfterBreakfast MealCode = "PCM"
	AfterLunch     MealCode = "PCD"
	AfterDinner    MealCode = "PCV"
	AfterMeal      MealCode = "PC"
	Bedtime        MealCode = "HS"
)

// Common practice of the trade, no source.
const (
	DefaultHoursPerDay   = 22
	DefaultChangesPerDay = 4
	DefaultUsefulMin     = 90  // minutes a band-change nudge stays useful
	DefaultMealMin       = 30  // minutes a meal takes
	WeekThree            = 14  // days from the first aligner day (day 1) to day 15, the first of week three
	DefaultNoticeAt      = 480 // 08:00
	DefaultEveningAt     = 1050
)

// Plan is everything prescribed for one patient.
type Plan struct {
	Appliance     Appliance
	AlignerStart  Date // day 1; zero for braces
	DaysPerTray   int  // 0 for braces
	Trays         int  // 0 for braces
	PlannedEnd    Date // required for braces; zero for aligners: the trays say
	BandsStart    Date // zero: first day of week three, AlignerStart + 14
	BandsEnd      Date // last day of wear; zero: open
	HoursPerDay   float64
	ChangesPerDay int
	Wear          []Wear // what changes later, by its first day
	Meals         []Meal
	Quiet         Quiet
	NoticeAt      Clock // when a wear-start notice goes out
	EveningAt     Clock // when a soreness question goes out
	UsefulMin     int   // minutes a band-change nudge stays useful
	Restarts      []Date
	Pauses        []Pause
	Cadence       []Cadence
	Bands         []Prescription
	Bags          []Bag
}

// Wear is how the bands are worn from a day on.
type Wear struct {
	From          Date
	HoursPerDay   float64
	ChangesPerDay int
	Nights        bool // nights only
}

// Meal is a moment of the day after which the bands are changed. HS, bedtime,
// is a moment: its change is due at its time, and minutes given for it only
// tell the ledger that the bands are out so long.
type Meal struct {
	Code    MealCode
	At      Clock
	Minutes int
	Days    Weekdays
}

// Weekdays is a set of days of the week, bit n being time.Weekday n.
type Weekdays uint8

// AllDays is every day of the week.
const AllDays Weekdays = 0x7f

// Has reports whether the set holds the day.
func (w Weekdays) Has(d time.Weekday) bool { return w&(1<<d) != 0 }

// Quiet is the daily period [From, To) of wall time in which nothing is sent,
// usually over midnight. From equal to To means there is none.
type Quiet struct{ From, To Clock }

// None reports whether there are no quiet hours.
func (q Quiet) None() bool { return q.From == q.To }

// PauseOf says what a pause stops.
type PauseOf string

// A pause stops the mail (wear goes on) or the bands (the doctor stopped them).
const (
	PauseMail  PauseOf = "mail"
	PauseBands PauseOf = "bands"
)

// Pause is a stretch of days, both ends paused.
type Pause struct {
	From, To Date
	Of       PauseOf
}

// Cadence is how often a patient is asked from a day on: 3 after every meal, 2
// after the first and the last of the day, 1 once, about the whole day.
type Cadence struct {
	From  Date
	Level int
}

// Prescription is one band worn on one side in one pattern.
type Prescription struct {
	From         Date
	To           Date // last day; zero: open
	Side         Side
	Pattern      Pattern
	Upper, Lower []Hook
	Lumen        Lumen
	Force        Force
	Latex        bool
	Bag          string // what is printed on the bag; may be empty
}

// Bag is a bag of bands handed out on a day.
type Bag struct {
	Date  Date
	Count int // bands in it
}

// Start is the first day of band wear: the one given, or the first day of week
// three.
func (p *Plan) Start() Date {
	if p.BandsStart.IsZero() && !p.AlignerStart.IsZero() {
		return p.AlignerStart.AddDays(WeekThree)
	}
	return p.BandsStart
}

// Worn reports whether day d lies between the first and the last day of band
// wear, both included.
func (p *Plan) Worn(d Date) bool { return !d.Before(p.Start()) && !p.Ended(d) }

// Ended reports whether day d lies after the last day of band wear.
func (p *Plan) Ended(d Date) bool { return !p.BandsEnd.IsZero() && d.After(p.BandsEnd) }

// TreatmentEnd is the day the straightening ends: the planned end if given,
// else the first aligner day plus all trays.
func (p *Plan) TreatmentEnd() Date {
	if !p.PlannedEnd.IsZero() {
		return p.PlannedEnd
	}
	return p.AlignerStart.AddDays(p.DaysPerTray * p.Trays)
}

// WearOn is how the bands are to be worn on day d: the entry with the latest
// From not after d, else the plan's own hours and changes.
func (p *Plan) WearOn(d Date) Wear {
	w := Wear{HoursPerDay: p.HoursPerDay, ChangesPerDay: p.ChangesPerDay}
	for _, e := range p.Wear {
		if !e.From.After(d) && (w.From.IsZero() || !e.From.Before(w.From)) {
			w = e
		}
	}
	return w
}

// LevelOn is the cadence level in force on day d; 3 where none was set.
func (p *Plan) LevelOn(d Date) int {
	c := Cadence{Level: 3}
	for _, e := range p.Cadence {
		if !e.From.After(d) && (c.From.IsZero() || !e.From.Before(c.From)) {
			c = e
		}
	}
	return c.Level
}

// Paused reports whether day d is paused, of either kind.
func (p *Plan) Paused(d Date) bool {
	return p.pausedOf(d, PauseMail) || p.BandsPaused(d)
}

// BandsPaused reports whether the doctor stopped the bands on day d.
func (p *Plan) BandsPaused(d Date) bool { return p.pausedOf(d, PauseBands) }

func (p *Plan) pausedOf(d Date, of PauseOf) bool {
	return slices.ContainsFunc(p.Pauses, func(e Pause) bool {
		return e.Of == of && !d.Before(e.From) && !d.After(e.To)
	})
}

// MealsOn lists the meals planned for a weekday in the order of the day.
func (p *Plan) MealsOn(day time.Weekday) []Meal {
	var out []Meal
	for _, m := range p.Meals {
		if m.Days.Has(day) {
			out = append(out, m)
		}
	}
	slices.SortStableFunc(out, func(a, b Meal) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Code, b.Code))
	})
	return out
}

// BandsOn lists the prescriptions in force on day d.
func (p *Plan) BandsOn(d Date) []Prescription {
	var out []Prescription
	for _, b := range p.Bands {
		if b.On(d) {
			out = append(out, b)
		}
	}
	return out
}

// On reports whether the prescription is in force on day d.
func (b Prescription) On(d Date) bool {
	return !d.Before(b.From) && (b.To.IsZero() || !d.After(b.To))
}
