package main

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// Cautions that stand on whatever shows hours or a forecast.
const (
	notMeasured = "Hours are as reported by the patient, not measured. \"Not known\" is not zero."
	boundsIf    = "The bounds hold if the answers are true and the bands stay in between two of them."
	credited    = "The change is credited to the bands, though aligners and growth share it."
)

const neverDone = "not within three years"

// usableDays are the days that can be judged.
func usableDays(f *compliance.Figures) []compliance.Day {
	var out []compliance.Day
	for _, d := range f.Days {
		if d.Usable {
			out = append(out, d)
		}
	}
	return out
}

// hourWords say the hours a day of the last week of days that can be judged,
// bounds first, and what they rest on.
func hourWords(f *compliance.Figures) []string {
	usable := usableDays(f)
	if len(usable) == 0 {
		return []string{"Hours a day: not known, no day can be judged yet."}
	}
	last := usable[max(0, len(usable)-7):]
	var worn, working compliance.Bounds
	var target compliance.Minutes
	n := compliance.Minutes(len(last))
	for _, d := range last {
		for to, b := range map[*compliance.Bounds]compliance.Bounds{&worn: d.Worn, &working: d.Working} {
			to.Low, to.Point, to.High = to.Low+b.Low/n, to.Point+b.Point/n, to.High+b.High/n
		}
		target += d.Target / n
	}
	days := fmt.Sprintf("mean of the last %s that can be judged (%s to %s)", plural(len(last), "day"), day(last[0].Date), day(last[len(last)-1].Date))
	if len(last) == 1 {
		days = "on " + day(last[0].Date) + ", the only day that can be judged"
	}
	c := f.Counts
	return []string{
		fmt.Sprintf("Hours a day: at least %s h, at most %s, about %s of %s prescribed; %s.", decimal(worn.Low), decimal(worn.High), decimal(worn.Point), decimal(target), days),
		fmt.Sprintf("Working hours of these, past the ramp of a light force: at least %s, at most %s, about %s.", decimal(working.Low), decimal(working.High), decimal(working.Point)),
		fmt.Sprintf("Band changes: asked %d, answered %d, confirmed %d, denied %d. Target reached on %d of %s.", c.Delivered, c.Answered, c.Confirmed, c.Denied, c.DaysAtTarget.Days, plural(c.DaysAtTarget.Of, "day")),
	}
}

// decimal writes a span in hours to one decimal, which nobody takes for a time
// of day.
func decimal(m compliance.Minutes) string { return fmt.Sprintf("%.1f", m.Hours()) }

func percent(s *compliance.Share) string { return fmt.Sprintf("%.0f %%", 100*float64(*s)) }

// trendWords say how the hours go since the first fourteen days.
func trendWords(t compliance.Trend) string {
	if t.BaselineMean == nil {
		return "Trend: not known yet, fewer than 14 days can be judged."
	}
	s := fmt.Sprintf("Trend: usual %s of the prescribed hours, now %s, own lower limit %s: ", percent(t.BaselineMean), percent(t.EWMA), percent(t.LowerLimit))
	switch {
	case t.Below && t.CUSUMAlarm:
		return s + "under it, and short days have added up."
	case t.Below:
		return s + "under it."
	case t.CUSUMAlarm:
		return s + "not under it, but short days have added up."
	}
	return s + "not under it."
}

// silenceWords say how long nothing was answered.
func silenceWords(f *compliance.Figures) string {
	s := f.Silence
	since := ""
	if !f.LastAnswer.IsZero() {
		since = ", last answer on " + day(f.LastAnswer)
	}
	switch {
	case s.Run == 0:
		return "Silence: none" + since + "."
	case s.Remarkable:
		return fmt.Sprintf("Silence: %s in a row unanswered%s; that is unusual for this patient.", plural(s.Run, "message"), since)
	}
	return fmt.Sprintf("Silence: %s in a row unanswered%s; nothing unusual for this patient.", plural(s.Run, "message"), since)
}

// supplyWords say how long the bands last.
func supplyWords(s compliance.Supply, today plan.Date) string {
	switch {
	case s.EmptyOn.IsZero():
		return fmt.Sprintf("Bands: %d a day; when they run out is not known.", s.PerDay)
	case !s.EmptyOn.After(today):
		return fmt.Sprintf("Bands: %d a day; by our count they ran out on %s.", s.PerDay, day(s.EmptyOn))
	}
	return fmt.Sprintf("Bands: %d a day; by our count they last until %s, for %s more.", s.PerDay, day(s.EmptyOn.AddDays(-1)), plural(s.EmptyOn.DaysSince(today), "day"))
}

// sorenessWords list what was reported since wear began, or began again.
func sorenessWords(p *plan.Plan, f *compliance.Figures, today plan.Date) string {
	start := p.Start()
	for _, d := range f.Restarts {
		if d.After(start) && !d.After(today) {
			start = d
		}
	}
	if len(f.Soreness) == 0 {
		return "Soreness: none reported since wear began on " + day(start) + "; that is not the same as none."
	}
	var out []string
	for _, s := range f.Soreness {
		out = append(out, fmt.Sprintf("day %d: %d", s.Day, s.Value))
	}
	return fmt.Sprintf("Soreness of 10 since wear began on %s: %s.", day(start), strings.Join(out, ", "))
}

// forecastKnown reports whether there is a forecast to show. While a patient is
// quiet there is none in words, whatever the numbers say.
func forecastKnown(f *compliance.Figures) bool {
	m := f.Forecast.Measures
	return f.Standing != compliance.Quiet && (m.Overjet != nil || m.Left != nil || m.Right != nil) && len(usableDays(f)) >= 2
}

func orNever(d plan.Date) string {
	if d.IsZero() {
		return neverDone
	}
	return day(d)
}

// lagLines is how many lines of a forecast follow those about when: the lag, the
// finish as prescribed, and to what the change is credited.
const lagLines = 3

// forecastWords say when the bite will be done beside the end of the aligners.
func forecastWords(p *plan.Plan, f *compliance.Figures) []string {
	c := f.Forecast
	end := "Aligners end: "
	if p.Appliance == plan.Braces {
		end = "Planned end: "
	}
	if end += day(c.AlignerEnd); c.AlignerEnd.IsZero() {
		end = "No end is planned"
	}
	if !forecastKnown(f) {
		return []string{"Bite done: " + unknownLag(f) + ". " + end + "."}
	}
	label := ""
	if c.Basis == compliance.Assumption {
		label = "Assumption, from a usual rate and not from this patient: "
	}
	out := []string{label + "bite done " + pointWords(c.Finish) + ". " + end + "."}
	if label == "" {
		out[0] = "From the readings: " + out[0]
	}
	for _, e := range []struct {
		name string
		*compliance.Measure
	}{{"Overjet", c.Measures.Overjet}, {"Left", c.Measures.Left}, {"Right", c.Measures.Right}} {
		if e.Measure == nil {
			continue
		}
		s := e.name + ": " + pointWords(e.Points)
		if e.WrongWay {
			s += "; the readings go the wrong way"
		}
		out = append(out, s+".")
	}
	lag := "Bite lag: " + f.LagWords()
	if c.ExtraTrays != nil && *c.ExtraTrays > 0 {
		lag += ", as long as " + plural(*c.ExtraTrays, "tray")
	}
	return append(out, lag+".", "Worn as prescribed from tomorrow: "+orNever(c.AsPrescribed.Median)+".", credited)
}

// unknownLag says why there is no forecast.
func unknownLag(f *compliance.Figures) string {
	m := f.Forecast.Measures
	switch {
	case f.Standing == compliance.Quiet:
		return f.LagWords()
	case m.Overjet == nil && m.Left == nil && m.Right == nil:
		return "not known, nothing was measured at a visit yet"
	}
	return "not known, fewer than two days can be judged"
}

// pointWords say a day with the days between which eight of ten outcomes lie.
func pointWords(p compliance.Points) string {
	by := func(d plan.Date) string {
		if d.IsZero() {
			return ": " + neverDone
		}
		return " by " + day(d)
	}
	if p.Early.IsZero() {
		return neverDone + " in more than 9 of 10 outcomes"
	}
	return fmt.Sprintf("%s (1 in 10%s, 9 in 10%s)", orNever(p.Median), by(p.Early), by(p.Late))
}
