package compliance

import (
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// where is a zone with a day of change worth meeting, as the IANA time zone
// database has it.
var where = []struct {
	zone string
	day  plan.Date
}{
	{"UTC", plan.NewDate(2026, 6, 1)},
	{"America/New_York", plan.NewDate(2026, 3, 8)},
	{"America/New_York", plan.NewDate(2026, 11, 1)},
	{"Australia/Lord_Howe", plan.NewDate(2026, 10, 4)},
	{"Africa/Cairo", plan.NewDate(2026, 4, 24)},
	{"America/Santiago", plan.NewDate(2026, 4, 5)},
	{"Pacific/Apia", plan.NewDate(2011, 12, 30)},
	{"Asia/Kathmandu", plan.NewDate(2026, 6, 1)},
}

// fixed are the zones among them whose clocks never change.
var fixed = []int{0, 7}

// randomRecord draws a record of a few days about a day of change, with
// reports on a coarse grid, so that instants meet.
func randomRecord(t *rapid.T, zones ...int) *Record {
	all := make([]int, len(where))
	for i := range all {
		all[i] = i
	}
	if len(zones) == 0 {
		zones = all
	}
	w := where[rapid.SampledFrom(zones).Draw(t, "zone")]
	loc, err := time.LoadLocation(w.zone)
	if err != nil {
		t.Fatal(err)
	}
	num := func(label string, low, high int) int { return rapid.IntRange(low, high).Draw(t, label) }
	from := w.day.AddDays(num("from", -12, 1))
	to := from.AddDays(num("days", 0, 18))
	span := to.DaysSince(from)
	start := plan.DayStart(from, loc)
	instant := func(label string) time.Time {
		step := rapid.SampledFrom([]int{1, 30, 240}).Draw(t, label+" grid")
		n := (span + 3) * 1440 / step
		return start.Add(time.Duration(num(label, -1440/step, n)*step) * time.Minute)
	}
	day := func(label string) plan.Date { return from.AddDays(num(label, -2, span+2)) }
	maybe := func(label string) bool { return rapid.Bool().Draw(t, label) }

	r := &Record{Zone: loc, Window: Window{from, to}, Settings: DefaultSettings()}
	r.AsOf = start.Add(time.Duration(num("as of", 60, (span+2)*1440)) * time.Minute)
	r.Settings.CarryMin = float64(rapid.SampledFrom([]int{0, 120, 840, 2000}).Draw(t, "carry"))
	r.Settings.GraceMin = float64(rapid.SampledFrom([]int{0, 30, 60, 240}).Draw(t, "grace"))
	r.Settings.RampMin = float64(rapid.SampledFrom([]int{0, 60, 240}).Draw(t, "ramp"))
	p := &r.Plan
	p.Appliance, p.DaysPerTray, p.Trays = plan.Aligners, num("tray", 3, 14), num("trays", 1, 30)
	p.AlignerStart = from.AddDays(num("start", -25, -10))
	p.BandsStart = p.AlignerStart.AddDays(num("bands", 7, 16))
	p.HoursPerDay, p.ChangesPerDay = float64(num("hours", 10, 22)), num("changes", 1, 4)
	if maybe("ends") {
		p.BandsEnd = p.BandsStart.AddDays(num("end", 0, 30))
	}
	p.UsefulMin = plan.DefaultUsefulMin
	codes := []plan.MealCode{plan.AfterBreakfast, plan.AfterMeal, plan.AfterDinner}
	for i := range num("meals", 0, 3) {
		p.Meals = append(p.Meals, plan.Meal{Code: codes[i], At: plan.Clock(num("at", 0, 1439)),
			Minutes: num("minutes", 0, 90), Days: plan.Weekdays(num("weekdays", 1, 127))})
	}
	for range num("pauses", 0, 2) {
		a := day("pause")
		p.Pauses = append(p.Pauses, plan.Pause{From: a, To: a.AddDays(num("pause days", 0, 3)),
			Of: rapid.SampledFrom([]plan.PauseOf{plan.PauseMail, plan.PauseBands}).Draw(t, "of")})
	}
	for range num("wears", 0, 1) {
		p.Wear = append(p.Wear, plan.Wear{From: day("wear"), HoursPerDay: 10, ChangesPerDay: 1, Nights: true})
	}
	for range num("prescriptions", 0, 2) {
		p.Bands = append(p.Bands, plan.Prescription{From: day("band"), Side: plan.Right, Pattern: plan.ClassII,
			Upper: []plan.Hook{{Tooth: 13}}, Lower: []plan.Hook{{Tooth: 46}}, Lumen: 6.35, Force: 4.5})
		p.Bags = append(p.Bags, plan.Bag{Date: day("bag"), Count: num("count", 1, 120)})
	}
	if maybe("restarted") {
		p.Restarts = []plan.Date{day("restart")}
	}
	for range num("nudges", 0, 8) {
		d := day("nudge")
		due := plan.Instant(d, 480, loc)
		r.Nudges = append(r.Nudges, Nudge{plan.BandChange, d.String() + "/PCM", due, due.Add(90 * time.Minute),
			rapid.SampledFrom([]Outcome{OutcomeAccepted, OutcomeAccepted, OutcomeLapsed}).Draw(t, "outcome")})
	}
	for range num("reports", 0, 24) {
		r.Reports = append(r.Reports, randomReport(t, instant, day))
	}
	for range num("flags", 0, 2) {
		r.Flags = append(r.Flags, plan.Flag{At: instant("flag"), Slot: day("flag slot").String() + "/PCM",
			What: rapid.SampledFrom(plan.AllFlags[1:]).Draw(t, "flag")})
	}
	for i := range num("visits", 0, 3) {
		left := float64(num("left", -2, 12)) / 2
		r.Visits = append(r.Visits, Visit{Date: from.AddDays(5*i - 3), Left: &left})
	}
	return r
}

func randomReport(t *rapid.T, instant func(string) time.Time, day func(string) plan.Date) plan.Report {
	e := plan.Report{At: instant("at")}
	if rapid.Bool().Draw(t, "names a slot") {
		e.Slot = day("slot").String() + "/PCM"
	}
	ago := func(label string) time.Time {
		return e.At.Add(-time.Duration(rapid.IntRange(0, 48).Draw(t, label)) * 30 * time.Minute)
	}
	switch rapid.IntRange(0, 7).Draw(t, "what") {
	case 0, 1, 2:
		e.What, e.Fresh = plan.ReportOn, rapid.Bool().Draw(t, "fresh")
	case 3:
		e.What = plan.ReportOff
	case 4:
		e.What, e.Since = plan.ReportOff, ago("since")
	case 5:
		a, b := ago("from"), ago("to")
		if b.Before(a) {
			a, b = b, a
		}
		e.What, e.From, e.To = plan.ReportOffSpan, a, b
	case 6:
		e.What, e.Day, e.Hours = plan.ReportWornTotal, day("total"), float64(rapid.IntRange(0, 50).Draw(t, "hours"))/2
	default:
		e.What, e.Value = plan.ReportSoreness, rapid.IntRange(0, 10).Draw(t, "value")
	}
	return e
}
