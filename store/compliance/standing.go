package compliance

import (
	"time"

	"bandbell/scheduler/plan"
)

// Standing is how a patient stands; never without its reasons in words.
type Standing string

// The standings, in the order in which they are asked.
const (
	Call     Standing = "call"
	Quiet    Standing = "quiet"
	Slipping Standing = "slipping"
	New      Standing = "new"
	Steady   Standing = "steady"
)

// Constants of the standing. Common practice, no source.
const (
	questionWait  = 24 * time.Hour // a question open longer is for a call
	slipWeek      = 7              // usable days that slipping looks back on
	slipChart     = 0.9            // mean share of the target under which a chart's signal counts
	slipShare     = 0.75           // mean share under which it is slipping without a chart
	slipGap       = 8 * 60         // minutes between high and low, mean, over which too little is known
	slipCall      = 3              // usable days in a row slipping that make a call
	slipLagWeeks  = 4              // weeks of lag beyond the prescribed that are slipping
	enoughToJudge = 3              // usable days before a patient is no longer new
)

// slip is how the last week of usable days looks.
type slip struct {
	chart bool    // (a) a chart signals and the week is under slipChart
	share bool    // (b) the week is under slipShare, and well enough known
	mean  float64 // share of the target, mean of the week
	trend Trend
}

func (s slip) any() bool { return s.chart || s.share }

// slipping judges the usable days so far; with fewer than seven nothing slips.
func slipping(usable []Day) slip {
	if len(usable) < slipWeek {
		return slip{}
	}
	week := usable[len(usable)-slipWeek:]
	s := slip{trend: trend(shares(usable))}
	// Sums first, then one division: seven days at exactly 0.75 are at 0.75.
	var sum, gap float64
	for i, y := range shares(week) {
		sum += y
		gap += float64(week[i].Worn.High - week[i].Worn.Low)
	}
	s.mean, gap = sum/slipWeek, gap/slipWeek
	s.chart = (s.trend.Below || s.trend.CUSUMAlarm) && s.mean < slipChart
	s.share = s.mean < slipShare && gap < slipGap
	return s
}

// slipDays counts the usable days, from the last one back, at the end of each
// of which the patient was slipping.
func slipDays(usable []Day) int {
	n := 0
	for n < len(usable) && slipping(usable[:len(usable)-n]).any() {
		n++
	}
	return n
}

// callsFor reports whether an open flag is reason enough for a call.
func callsFor(f plan.Flag, now time.Time) bool {
	switch f.What {
	case plan.FlagAllergy, plan.FlagBroken, plan.FlagOutOfBands, plan.FlagSwelling,
		plan.FlagUlcer, plan.FlagFever, plan.FlagJaw:
		return true
	case plan.FlagQuestion:
		return now.Sub(f.At) > questionWait
	}
	return false
}

// behind reports whether the forecast, resting on readings, is too far behind
// the one as prescribed.
func (f Forecast) behind() bool {
	if f.Basis != Readings || !f.known {
		return false
	}
	if f.LagWeeks != nil && f.AsPrescribed.LagWeeks != nil {
		return *f.LagWeeks-*f.AsPrescribed.LagWeeks > slipLagWeeks
	}
	return f.Finish.Median.IsZero() && !f.AsPrescribed.Median.IsZero()
}

// stand decides the standing: the first that holds, with why.
func (v *view) stand(f *Figures, start plan.Date) (Standing, []string) {
	usable := filter(f.Days, func(d Day) bool { return d.Usable })
	s, days := slipping(usable), slipDays(usable)

	var why []string
	for _, e := range v.open() {
		if callsFor(e, v.AsOf) {
			why = append(why, v.flagWords(e))
		}
	}
	why = append(why, v.alarming(start, f.Soreness)...)
	if e := f.Supply.EmptyOn; !e.IsZero() && !e.After(v.today) {
		why = append(why, words("by our count the bands ran out on %v", e))
	}
	if days >= slipCall {
		why = append(why, words("slipping at the end of each of the last %d days that can be judged", days))
		why = append(why, s.words()...)
	}
	switch {
	case len(why) > 0:
		return Call, why
	case f.Silence.Remarkable:
		return Quiet, v.quietWords(f.Silence)
	case s.any() || len(usable) >= slipWeek && f.Forecast.behind():
		return Slipping, append(s.words(), f.Forecast.behindWords()...)
	case len(usable) < enoughToJudge:
		return New, v.newWords(len(usable))
	}
	return Steady, steadyWords(usable, f.Counts)
}
