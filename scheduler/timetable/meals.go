package timetable

import (
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// meals plans the band changes of day d: one after each meal, due when the meal
// is over, of use until its minutes have run out or the day's next meal begins.
//
// A meal that a rule drops is still eaten, so it still ends the use of the one
// before. Meals at one time stand in the order of their codes; all but the last
// of them then have no time left, so that one moment brings one message.
func (t *table) meals(d plan.Date) {
	if d.Before(t.start) || t.ended {
		return
	}
	meals := oncePerCode(t.p.MealsOn(d.Weekday()))
	if len(meals) == 0 {
		return
	}
	starts := make([]time.Time, len(meals))
	for i, m := range meals {
		starts[i] = plan.Instant(d, m.At, t.loc)
	}
	var notice time.Time // nothing is asked before the first day's notice
	if d == t.start {
		notice = plan.Instant(d, t.p.NoticeAt, t.loc)
	}
	nights, level := t.p.WearOn(d).Nights, t.p.LevelOn(d)
	prefix := d.String() + "/"
	for i, m := range meals {
		due := starts[i]
		if m.Code != plan.Bedtime { // which has no length, whatever stands there
			due = due.Add(minutes(m.Minutes))
		}
		until := due.Add(minutes(t.p.UsefulMin))
		if i+1 < len(meals) && starts[i+1].Before(until) {
			until = starts[i+1]
		}
		var reason string
		switch {
		case !notice.IsZero() && !due.After(notice):
			reason = plan.DropBeforeStart
		case nights && m.Code != plan.Bedtime:
			reason = plan.DropNights
		case !nights && eased(level, i, len(meals)):
			reason = plan.DropEased
		}
		t.add(plan.Nudge{
			Kind: plan.BandChange, Slot: prefix + string(m.Code), Day: d,
			Due: due, Until: until, Whole: level == 1,
		}, reason)
	}
}

// eased reports whether a cadence level leaves out the i-th of n meals of a
// day. On a day of nights only it is not asked: bedtime is then both the first
// and the last, and no level leaves it out.
func eased(level, i, n int) bool {
	switch level {
	case 1:
		return i < n-1
	case 2:
		return i > 0 && i < n-1
	}
	return false
}

// oncePerCode keeps the first meal of each code: a slot names a meal by its
// code, so a second one would be the same nudge.
func oncePerCode(meals []plan.Meal) []plan.Meal {
	var seen []plan.MealCode
	return slices.DeleteFunc(meals, func(m plan.Meal) bool {
		if slices.Contains(seen, m.Code) {
			return true
		}
		seen = append(seen, m.Code)
		return false
	})
}
