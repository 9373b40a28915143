package plan

import (
	"fmt"
	"time"
)

// Change is what a reply answers to its nudge's question.
type Change string

// The answers staff can correct a reading to. The empty one says that nothing
// of the message counts, not even as a sign of life.
const (
	ChangeYes  Change = "yes"  // a fresh set is on
	ChangeNo   Change = "no"   // the bands are off
	ChangeNone Change = "none" // a person wrote, and said nothing of it
)

// OffSpan is a stretch of time without bands.
type OffSpan struct{ From, To time.Time }

// Total is the hours worn on one local day, 0-25.
type Total struct {
	Day   Date
	Hours float64
}

// Correction is what staff say a reply means, in place of all that was read
// from it.
type Correction struct {
	Changed Change
	At      time.Time // yes, no: the moment it speaks of; zero: when the reply was received
	Since   time.Time // no: since when; zero: not stated
	Off     []OffSpan
	Worn    *Total // nil: none stated
	Sore    *int   // 0-10; nil: none stated
	Flags   []Flag // What, and Level of an allergy; the rest is filled in
}

// Check returns every fault of the correction of a reply received at an
// instant, whose location is the patient's zone. The paths are those of the
// flags of `reply correct`. A reply tells of nothing that came after it.
func (c *Correction) Check(received time.Time) (fs Faults) {
	fault := func(path, what, hint string) { fs = append(fs, Fault{Path: path, What: what, Hint: hint}) }
	late := func(path string, t time.Time) {
		if t.After(received) {
			fault(path, "lies after the reply was received", "it came at "+received.Format(time.RFC3339))
		}
	}
	switch c.Changed {
	case "", ChangeYes, ChangeNo, ChangeNone:
	default:
		fault("changed", fmt.Sprintf("%q is not known", string(c.Changed)), "yes, no or none")
	}
	answered := c.Changed == ChangeYes || c.Changed == ChangeNo
	if !c.At.IsZero() && !answered {
		fault("at", "goes with a yes or a no", "leave it out")
	}
	late("at", c.At)
	if !c.Since.IsZero() && c.Changed != ChangeNo {
		fault("since", "goes with a no", "leave it out, or use an off stretch")
	} else if at := c.moment(received); !c.Since.IsZero() && !c.Since.Before(at) {
		fault("since", "does not lie before the moment the reply speaks of", "that is "+at.Format(time.RFC3339))
	}
	for _, o := range c.Off {
		if !o.From.Before(o.To) {
			fault("off", "ends before it begins", "write FROM-TO")
		}
		late("off", o.To)
	}
	if w := c.Worn; w != nil {
		if !(w.Hours >= 0 && w.Hours <= 25) {
			fault("worn-total", fmt.Sprintf("%v hours are not in a day", w.Hours), "0 to 25, hours of that day")
		}
		switch today := DateOf(received, received.Location()); {
		case w.Day.IsZero():
			fault("day", "is missing", "name the day the total is of")
		case w.Day.After(today):
			fault("day", "lies after the reply was received", "it came on "+today.String())
		}
	}
	if c.Sore != nil && (*c.Sore < 0 || *c.Sore > 10) {
		fault("soreness", fmt.Sprintf("%d is off the scale", *c.Sore), "0 to 10")
	}
	return append(fs, c.checkFlags()...)
}

func (c *Correction) checkFlags() (fs Faults) {
	var kinds []string
	for _, k := range AllFlags {
		kinds = append(kinds, string(k))
	}
	seen := map[FlagKind]bool{}
	for _, f := range c.Flags {
		fault := func(what, hint string) { fs = append(fs, Fault{Path: "flag", What: what, Hint: hint}) }
		known := false
		for _, k := range AllFlags {
			known = known || k == f.What
		}
		switch {
		case !known:
			fault(fmt.Sprintf("%q is not a flag", string(f.What)), "did you mean "+fmt.Sprintf("%q?", Closest(string(f.What), kinds)))
		case f.What == FlagAllergy && f.Level != Red && f.Level != Yellow:
			fault("an allergy needs its level", "allergy:red or allergy:yellow")
		case f.What != FlagAllergy && f.Level != "":
			fault(fmt.Sprintf("%s has no level", f.What), "only an allergy is red or yellow")
		}
		if seen[f.What] {
			fault(fmt.Sprintf("%s stands twice", f.What), "name each once")
		}
		seen[f.What] = true
	}
	return fs
}

func (c *Correction) moment(received time.Time) time.Time {
	if c.At.IsZero() {
		return received
	}
	return c.At
}

// Facts are the reports and flags the correction comes to, for a reply that
// answers the nudge of a slot and was received at an instant. Where the nudge
// asked about a whole day, meals are the instants of that day's meals, and a yes
// that names no moment is a fresh set at each. A person's message that says
// nothing else leaves a closed flag, because somebody did answer.
func (c *Correction) Facts(slot string, received time.Time, meals []time.Time) (reports []Report, flags []Flag) {
	at := c.moment(received)
	switch c.Changed {
	case ChangeYes:
		var moments []time.Time
		for _, m := range meals {
			if c.At.IsZero() && !m.After(received) {
				moments = append(moments, m)
			}
		}
		if len(moments) == 0 {
			moments = []time.Time{at}
		}
		for _, m := range moments {
			reports = append(reports, Report{At: m, Slot: slot, What: ReportOn, Fresh: true})
		}
	case ChangeNo:
		reports = append(reports, Report{At: at, Slot: slot, What: ReportOff, Since: c.Since})
	}
	for _, o := range c.Off {
		reports = append(reports, Report{At: received, Slot: slot, What: ReportOffSpan, From: o.From, To: o.To})
	}
	if c.Worn != nil {
		reports = append(reports, Report{At: received, Slot: slot, What: ReportWornTotal, Day: c.Worn.Day, Hours: c.Worn.Hours})
	}
	if c.Sore != nil {
		reports = append(reports, Report{At: received, Slot: slot, What: ReportSoreness, Value: *c.Sore})
	}
	for _, f := range c.Flags {
		flags = append(flags, Flag{At: received, Slot: slot, What: f.What, Level: f.Level})
	}
	if c.Changed == ChangeNone && len(reports)+len(flags) == 0 {
		flags = []Flag{{At: received, Slot: slot, What: FlagOther, Closed: received}}
	}
	return reports, flags
}
