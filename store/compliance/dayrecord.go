package compliance

import (
	"math"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// DayRecord is one patient's compliance for one local day, as it is kept. It
// is a function of the plan, the reports, the flags' slots, the nudges and the
// As-of alone: folded day by day, in any order of reports or all at once it is
// the same.
type DayRecord struct {
	Day     plan.Date
	Length  Minutes
	On      Minutes  // by the ledger
	Off     Minutes  // by the ledger
	Unknown Minutes  // by the ledger
	Stated  *Minutes // total stated for the day, at most its length; nil: none

	// Band-change nudges whose slot is of this day, as in Counts.
	Delivered, Answered, Confirmed, Denied int

	Soreness *int // greatest reported on the day, 0-10; nil: none
}

// Fold folds the reports into the day records of the days from one date to
// another, both included. Days that do not exist in the zone have none.
func Fold(r *Record, from, to plan.Date) []DayRecord {
	v := newView(r)
	frames := v.frames(from, to)
	out := make([]DayRecord, len(frames))
	at := make(map[plan.Date]int, len(frames))
	for i, d := range v.tally(frames, v.segments(frames)) {
		out[i] = DayRecord{Day: d.Date, Length: d.Length, On: d.On, Off: d.Off, Unknown: d.Unknown}
		at[d.Date] = i
	}
	for d, total := range v.stated() {
		if i, ok := at[d]; ok {
			t := Minutes(math.Min(total, float64(out[i].Length)))
			out[i].Stated = &t
		}
	}
	nudges := v.deliveredOn(at)
	answers := v.answers(nudges)
	for _, n := range nudges {
		i := at[v.slotDay(n.Slot, n.Due)]
		var c Counts
		c.add(answers[n.Slot])
		out[i].Delivered += c.Delivered
		out[i].Answered += c.Answered
		out[i].Confirmed += c.Confirmed
		out[i].Denied += c.Denied
	}
	for n := range v.reports {
		e := &v.reports[n]
		if e.What != plan.ReportSoreness || len(frames) == 0 {
			continue
		}
		if t := tickOf(e.At); t < frames[0].from || t >= frames[len(frames)-1].to {
			continue
		}
		i := at[v.day(e.At)]
		if out[i].Soreness == nil || *out[i].Soreness < e.Value {
			value := e.Value
			out[i].Soreness = &value
		}
	}
	return out
}

// deliveredOn lists the delivered band-change nudges of the days in at.
func (v *view) deliveredOn(at map[plan.Date]int) []Nudge {
	var out []Nudge
	for i := range v.nudges {
		n := &v.nudges[i]
		if !v.wasDelivered(*n) {
			continue
		}
		if _, ok := at[v.slotDay(n.Slot, n.Due)]; ok {
			out = append(out, *n)
		}
	}
	return out
}

// slotDay is the local day a band-change slot is of, 2026-06-01 for
// 2026-06-01/PCM, however late in the night the nudge was due.
func (v *view) slotDay(slot string, due time.Time) plan.Date {
	day, _, _ := strings.Cut(slot, "/")
	if d, err := plan.ParseDate(day); err == nil {
		return d
	}
	return v.day(due)
}

// Touched returns the first and the last of the days whose records a report
// can change, whether it is already among the record's or not: the days within
// the carry of any moment it speaks of, the day it states a total for, and the
// day of the slot it answers.
func Touched(r *Record, e plan.Report) (from, to plan.Date) {
	v := &view{Record: r}
	carry := time.Duration(ticks(r.Settings.CarryMin)) * time.Microsecond
	var days []plan.Date
	moment := func(t time.Time, reach time.Duration) {
		days = append(days, v.day(t.Add(-reach)), v.day(t.Add(reach)))
	}
	switch e.What {
	case plan.ReportOn, plan.ReportOff:
		moment(e.At, carry)
		if !e.Since.IsZero() {
			moment(e.Since, carry)
		}
	case plan.ReportOffSpan:
		moment(e.From, carry)
		moment(e.To, carry)
	case plan.ReportWornTotal:
		days = append(days, e.Day)
	case plan.ReportSoreness:
		moment(e.At, 0)
	}
	return v.extent(append(days, v.named(e.Slot)...))
}

// TouchedByFlag returns the days whose records a flag can change: that of the
// slot it answers. ok is false where there is none.
func TouchedByFlag(r *Record, f plan.Flag) (from, to plan.Date, ok bool) {
	v := &view{Record: r}
	days := v.named(f.Slot)
	from, to = v.extent(days)
	return from, to, len(days) > 0
}

// named lists the days of the nudges that bear a slot.
func (v *view) named(slot string) []plan.Date {
	var days []plan.Date
	if slot == "" {
		return nil
	}
	for _, n := range v.Nudges {
		if n.Kind == plan.BandChange && n.Slot == slot {
			days = append(days, v.slotDay(n.Slot, n.Due))
		}
	}
	return days
}

func (v *view) extent(days []plan.Date) (from, to plan.Date) {
	for i, d := range days {
		if i == 0 || d.Before(from) {
			from = d
		}
		if i == 0 || d.After(to) {
			to = d
		}
	}
	return from, to
}
