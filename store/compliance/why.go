package compliance

import (
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// words is Sprintf with dates as staff read them: 25 Nov 2026.
func words(format string, args ...any) string {
	for i, a := range args {
		if d, ok := a.(plan.Date); ok {
			args[i] = fmt.Sprintf("%d %s %d", d.Day, d.Month.String()[:3], d.Year)
		}
	}
	return fmt.Sprintf(format, args...)
}

// day is the local date of an instant.
func (v *view) day(t time.Time) plan.Date { return plan.DateOf(t, v.Zone) }

func (v *view) flagWords(f plan.Flag) string {
	what := map[plan.FlagKind]string{
		plan.FlagAllergy:    "signs of allergy",
		plan.FlagBroken:     "something broken or lost",
		plan.FlagOutOfBands: "out of bands",
		plan.FlagSwelling:   "swelling",
		plan.FlagUlcer:      "an ulcer",
		plan.FlagFever:      "a fever",
		plan.FlagJaw:        "jaw trouble",
		plan.FlagQuestion:   "a question",
	}[f.What]
	if f.What == plan.FlagAllergy && f.Level != "" {
		what += " (" + string(f.Level) + ")"
	}
	if f.What == plan.FlagQuestion {
		return words("a question of %v has waited more than 24 hours", v.day(f.At))
	}
	return words("%s reported on %v, still open", what, v.day(f.At))
}

func (v *view) quietWords(s Silence) []string {
	since := "no answer yet"
	if last := v.lastAnswer(); !last.IsZero() {
		since = words("no answer since %v", v.day(last))
	}
	return []string{words("%s: %d messages in a row unanswered, for this patient a chance of %s", since, s.Run, chanceWords(float64(s.Chance)))}
}

func chanceWords(c float64) string {
	if c < 0.0001 {
		return "under 1 in 10,000"
	}
	return fmt.Sprintf("about 1 in %.0f", 1/c)
}

func (s slip) words() []string {
	if !s.any() {
		return nil
	}
	out := []string{words("by report %.0f %% of the prescribed hours, mean of the last %d days that can be judged", 100*s.mean, slipWeek)}
	if s.chart && s.trend.Below {
		out = append(out, words("the running mean, %.0f %%, is under this patient's own lower limit of %.0f %%",
			100**s.trend.EWMA, 100**s.trend.LowerLimit))
	}
	if s.chart && s.trend.CUSUMAlarm {
		out = append(out, words("days short of this patient's own usual %.0f %% have added up", 100**s.trend.BaselineMean))
	}
	return out
}

func (f Forecast) behindWords() []string {
	switch {
	case !f.behind():
		return nil
	case f.LagWeeks == nil:
		return []string{words("from the readings the bite is not done within three years at this pace; worn as prescribed from tomorrow, by %v", f.AsPrescribed.Median)}
	}
	return []string{words("from the readings the bite is done around %v, %.0f weeks later than if worn as prescribed from tomorrow",
		f.Finish.Median, float64(*f.LagWeeks-*f.AsPrescribed.LagWeeks))}
}

func (v *view) newWords(usable int) []string {
	if v.Plan.Start().After(v.today) {
		return []string{words("bands begin on %v", v.Plan.Start())}
	}
	return []string{words("%s so far that can be judged, fewer than %d", plural(usable, "day"), enoughToJudge)}
}

func steadyWords(usable []Day, c Counts) []string {
	if n := len(usable); n > slipWeek {
		usable = usable[n-slipWeek:]
	}
	var sum float64
	for _, y := range shares(usable) {
		sum += y
	}
	return []string{
		words("by report %.0f %% of the prescribed hours, mean of the last %s that can be judged", 100*sum/float64(len(usable)), plural(len(usable), "day")),
		words("target reached on %d of %s", c.DaysAtTarget.Days, plural(c.DaysAtTarget.Of, "day")),
	}
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
