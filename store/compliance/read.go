package compliance

import (
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// ReadRecord reads a record from JSON. Every fault is returned at once, as
// plan.Faults with file, line and column: what is missing, unknown keys, wrong
// kinds of value, figures out of range and times in the wrong order. name is
// the file's, for the faults. Instants are kept in the patient's zone.
func ReadRecord(name string, text []byte) (*Record, error) {
	doc, err := plan.ReadDocument(name, text)
	if err != nil {
		return nil, err
	}
	rd := reader{doc: doc, Record: &Record{Zone: time.UTC, Settings: DefaultSettings()}}
	o := doc.Object(doc.Root, "")
	o.Need("zone", "as_of", "window", "plan")
	rd.readZone(o)
	rd.AsOf = rd.time(o, "as_of")
	if w := o.Child("window"); w != nil {
		rd.readWindow(w)
	}
	if p := o.Child("plan"); p != nil {
		rd.Plan = plan.DecodePlan(p)
	}
	o.Each("flags", rd.readFlag)
	o.Each("nudges", rd.readNudge)
	o.Each("reports", rd.readReport)
	o.Each("visits", rd.readVisit)
	if s := o.Child("settings"); s != nil {
		rd.readSettings(s)
	}
	o.Done()
	if err := doc.Err(); err != nil {
		return nil, err
	}
	return rd.Record, nil
}

type reader struct {
	*Record
	doc *plan.Document
}

// fault notes a fault at a member.
func (rd *reader) fault(o *plan.Object, key, hint, format string, args ...any) {
	rd.doc.Fault(o.Get(key), o.Path(key), fmt.Sprintf(format, args...), hint)
}

func (rd *reader) readZone(o *plan.Object) {
	const hint = "use a name of the IANA database, such as America/New_York"
	s := o.String("zone")
	if s == "" {
		if o.Get("zone") != nil {
			rd.fault(o, "zone", hint, "names no time zone")
		}
		return
	}
	loc, err := time.LoadLocation(s)
	if err != nil || s == "Local" {
		rd.fault(o, "zone", hint, "%q is not a time zone", s)
		return
	}
	rd.Zone = loc
}

func (rd *reader) time(o *plan.Object, key string) time.Time {
	t := o.Time(key)
	if t.IsZero() {
		return t
	}
	return t.In(rd.Zone)
}

func (rd *reader) readWindow(w *plan.Object) {
	w.Need("from", "to")
	from, to := w.Date("from"), w.Date("to")
	rd.Window = Window{from, to}
	w.Done()
	switch {
	case from.IsZero() || to.IsZero():
	case to.Before(from):
		rd.fault(w, "to", "both ends are in the window", "%v lies before its from, %v", to, from)
	case to.DaysSince(from) >= MaxWindowDays:
		rd.fault(w, "to", fmt.Sprintf("a window has at most %d days", MaxWindowDays), "%v is too far from %v", to, from)
	}
}

func (rd *reader) readFlag(o *plan.Object) {
	o.Need("at", "what")
	kinds := make([]string, len(plan.AllFlags))
	for i, k := range plan.AllFlags {
		kinds[i] = string(k)
	}
	f := plan.Flag{
		At: rd.time(o, "at"), Slot: o.String("slot"), What: plan.FlagKind(o.Word("what", "", kinds...)),
		Level: plan.Level(o.Word("level", "", string(plan.Red), string(plan.Yellow))), Closed: rd.time(o, "closed"),
	}
	switch {
	case f.What == plan.FlagAllergy:
		o.Need("level")
	case f.What != "":
		o.Forbid("goes with allergy only", "remove it", "level")
	}
	if !f.Closed.IsZero() && f.Closed.Before(f.At) {
		rd.fault(o, "closed", "", "lies before the flag was raised")
	}
	rd.Flags = append(rd.Flags, f)
}

func (rd *reader) readNudge(o *plan.Object) {
	o.Need("kind", "slot", "due", "until", "outcome")
	n := Nudge{
		Kind: plan.Kind(o.Word("kind", "", string(plan.BandChange), string(plan.WearStart), string(plan.Soreness))),
		Slot: o.String("slot"), Due: rd.time(o, "due"), Until: rd.time(o, "until"),
		Outcome: Outcome(o.Word("outcome", "", string(OutcomeAccepted), string(OutcomeBounced),
			string(OutcomeLapsed), string(OutcomeFailed), string(OutcomePlanned))),
	}
	if !n.Until.IsZero() && n.Until.Before(n.Due) {
		rd.fault(o, "until", "", "lies before the nudge is due")
	}
	rd.Nudges = append(rd.Nudges, n)
}

// reportKeys are the keys that each kind of report has beside at, slot and
// what.
var reportKeys = map[plan.ReportKind][]string{
	plan.ReportOn:        {"fresh"},
	plan.ReportOff:       {"since"},
	plan.ReportOffSpan:   {"from", "to"},
	plan.ReportWornTotal: {"day", "hours"},
	plan.ReportSoreness:  {"value"},
}

func (rd *reader) readReport(o *plan.Object) {
	o.Need("at", "what")
	e := plan.Report{
		At: rd.time(o, "at"), Slot: o.String("slot"),
		What: plan.ReportKind(o.Word("what", "", string(plan.ReportOn), string(plan.ReportOff),
			string(plan.ReportOffSpan), string(plan.ReportWornTotal), string(plan.ReportSoreness))),
	}
	for _, kind := range []plan.ReportKind{plan.ReportOn, plan.ReportOff, plan.ReportOffSpan, plan.ReportWornTotal, plan.ReportSoreness} {
		// "fresh": false says nothing that another kind could not have said.
		if kind == plan.ReportOn && !o.Bool("fresh") {
			continue
		}
		if kind != e.What && e.What != "" {
			o.Forbid(fmt.Sprintf("has no place in a report of %q", e.What), fmt.Sprintf("it goes with %q", kind), reportKeys[kind]...)
		}
	}
	e.Fresh, e.Since = o.Bool("fresh"), rd.time(o, "since")
	e.From, e.To = rd.time(o, "from"), rd.time(o, "to")
	e.Day = o.Date("day")
	e.Hours = o.Number("hours", 0, 0, maxDayHours)
	e.Value = o.Int("value", 0, 0, maxSoreness)
	switch e.What {
	case plan.ReportOff:
		if e.Since.After(e.At) {
			rd.fault(o, "since", "", "lies after the report's at")
		}
	case plan.ReportOffSpan, plan.ReportWornTotal, plan.ReportSoreness:
		o.Need(reportKeys[e.What]...)
	}
	if e.What == plan.ReportOffSpan && !e.To.IsZero() && e.To.Before(e.From) {
		rd.fault(o, "to", "", "lies before the span's from")
	}
	rd.Reports = append(rd.Reports, e)
}

// The range of what a report may state.
const (
	maxDayHours = 25 // the longest usual day, when clocks go back
	maxSoreness = 10 // a 0-10 scale
)

func (rd *reader) readVisit(o *plan.Object) {
	o.Need("date")
	mm := func(key string, low, high float64) *float64 {
		if o.Get(key) == nil {
			return nil
		}
		v := o.Number(key, 0, low, high)
		return &v
	}
	rd.Visits = append(rd.Visits, Visit{
		Date:    o.Date("date"),
		Overjet: mm("overjet_mm", -maxMM, maxMM), Left: mm("left_mm", -maxMM, maxMM), Right: mm("right_mm", -maxMM, maxMM),
		SD: mm("sd_mm", leastSD, maxMM),
	})
}

// Limits of what a record may hold: far beyond what occurs, near enough to
// catch a slip of the keyboard. Common practice, no source.
const (
	maxMM      = 50
	leastSD    = 1e-6
	maxRate    = 100    // mm per 100 working hours
	maxMinutes = 525600 // a year
)

func (rd *reader) readSettings(o *plan.Object) {
	s, d := &rd.Settings, DefaultSettings()
	s.CarryMin = o.Number("carry_min", d.CarryMin, 0, maxMinutes)
	s.RampMin = o.Number("ramp_min", d.RampMin, 0, maxMinutes)
	s.GraceMin = o.Number("grace_min", d.GraceMin, 0, maxMinutes)
	s.PriorWear = o.Number("prior_wear", d.PriorWear, 0, 1)
	s.PriorAnswer = o.Number("prior_answer", d.PriorAnswer, 0, 1)
	s.RatePer100h = o.Number("rate_mm_per_100h", d.RatePer100h, -maxRate, maxRate)
	s.RateSD = o.Number("rate_sd", d.RateSD, leastSD, maxRate)
	s.MeasureSD = o.Number("measure_sd_mm", d.MeasureSD, leastSD, maxMM)
	s.ToleranceMM = o.Number("tolerance_mm", d.ToleranceMM, 0, maxMM)
	o.Done()
}
