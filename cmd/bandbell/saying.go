package main

import (
	"slices"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// sayings are what to say at the chair, from the standing and what stands
// behind it: short, plain, and never a blame. They ask before they tell.
func sayings(r *compliance.Record, f *compliance.Figures) []string {
	var out []string
	say := func(s string) { out = append(out, s) }
	today := plan.DateOf(r.AsOf, r.Zone)

	open := map[plan.FlagKind]bool{}
	for _, e := range r.Flags {
		if !e.At.After(r.AsOf) && (e.Closed.IsZero() || e.Closed.After(r.AsOf)) {
			open[e.What] = true
		}
	}
	allergy := open[plan.FlagAllergy]
	if allergy {
		say("First: signs of an allergy were reported. Ask what they saw and when. Hand out no bands before the doctor has decided.")
		if slices.ContainsFunc(r.Plan.BandsOn(today), func(b plan.Prescription) bool { return b.Latex }) {
			say("The bands in the plan are latex.")
		}
	}
	if open[plan.FlagSwelling] || open[plan.FlagUlcer] || open[plan.FlagFever] || open[plan.FlagJaw] {
		say("Look at what they reported before anything else, and ask how it is now.")
	}
	if open[plan.FlagBroken] {
		say("Something broke or was lost. Ask what, and mend it, so that the bands can go on again.")
	}
	empty := !f.Supply.EmptyOn.IsZero() && !f.Supply.EmptyOn.After(today)
	soon := !f.Supply.EmptyOn.IsZero() && !empty && f.Supply.EmptyOn.DaysSince(today) <= supplySoon
	switch {
	case allergy:
	case open[plan.FlagOutOfBands]:
		say("They wrote that they are out of bands. Hand out a bag now.")
	case empty:
		say("By our count the bands have run out. Ask how many are left, and hand out a bag.")
	case soon:
		say("The bands may soon run out. Hand out a bag today.")
	}
	if open[plan.FlagQuestion] {
		say("They asked something that is still open. Answer it.")
	}
	if sore := f.Soreness; len(sore) > 0 && sore[len(sore)-1].Value >= soreAsk {
		say("Bands were sore when they last told us. Ask where it hurts, when, and what helps.")
	}
	switch slipping := slippingNow(f); {
	case f.Standing == compliance.Quiet:
		say("We have not heard from them and do not know how it goes. Ask openly how the bands are going, and whether the messages come at a good time.")
	case slipping:
		say("By what they report the bands are in for less time than planned. Ask what gets in the way and at which time of day, and find one thing that would make it easier.")
	case f.Standing == compliance.Slipping:
		say("The bite moves slower than planned. Look at the hook-up together, ask how the days go, and find one thing that would make it easier.")
	case f.Standing == compliance.New:
		say("Bands are new to them. Watch them put a set in, and ask what is unclear.")
	case f.Standing == compliance.Steady:
		say("It is going well by what they report. Say so, and ask what helps them.")
	}
	if f.Forecast.Basis == compliance.Readings && forecastKnown(f) {
		for _, m := range []*compliance.Measure{f.Forecast.Measures.Overjet, f.Forecast.Measures.Left, f.Forecast.Measures.Right} {
			if m != nil && m.WrongWay {
				say("A reading went the wrong way. Measure again before anything is said about it.")
				break
			}
		}
	}
	return out
}

// What is worth a word at the chair. Common practice, no source.
const (
	supplySoon = 14 // days of bands left from which a bag is handed out
	soreAsk    = 4  // last reported soreness, of 10, from which it is asked about
)

// slippingNow reports whether the hours themselves are the reason, whatever
// else made the standing.
func slippingNow(f *compliance.Figures) bool {
	usable := usableDays(f)
	if len(usable) < 7 || f.Standing == compliance.Quiet || f.Standing == compliance.Steady || f.Standing == compliance.New {
		return false
	}
	var y float64
	for _, d := range usable[len(usable)-7:] {
		if d.Target > 0 {
			y += float64(d.Worn.Point) / float64(d.Target) / 7
		}
	}
	return y < lowWeek
}

// lowWeek is the mean share of the prescribed hours, over the last seven days
// that can be judged, under which the hours are spoken of. Common practice, no
// source.
const lowWeek = 0.9
