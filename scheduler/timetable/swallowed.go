package timetable

import (
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// Swallowed lists the meals that quiet hours always swallow: those after which
// the band change is due inside them, with no time left at their end, on every
// weekday that has the meal. It looks at an ordinary week, without clock
// changes, pauses, easing or nights only, for these pass and the meal's hour
// stays. A meal that follows so soon that there is no time left anyway, outside
// quiet hours, is not listed.
func Swallowed(p *plan.Plan) []plan.Meal {
	monday := plan.NewDate(2024, time.January, 1)
	bare := &plan.Plan{BandsStart: monday.AddDays(-7), Meals: p.Meals, Quiet: p.Quiet, UsefulMin: p.UsefulMin}
	_, dropped := Nudges(bare, time.UTC, monday, monday.AddDays(6))
	kept := func(m plan.Meal, d plan.Date) bool {
		return !slices.ContainsFunc(dropped, func(x plan.Dropped) bool {
			return x.Day == d && x.Reason == plan.DropQuiet && x.Slot == d.String()+"/"+string(m.Code)
		})
	}
	var out []plan.Meal
	for _, m := range p.Meals {
		days := 0
		swallowed := true
		for d := monday; !d.After(monday.AddDays(6)); d = d.AddDays(1) {
			if m.Days.Has(d.Weekday()) {
				days++
				swallowed = swallowed && !kept(m, d)
			}
		}
		if swallowed && days > 0 {
			out = append(out, m)
		}
	}
	return out
}
