package timetable

import (
	"time"

	"bandbell/scheduler/plan"
)

// quiet is a patient's quiet hours as periods of real time, one for each date:
// from the instant of the date's From to that of the To that follows it.
type quiet struct {
	hours plan.Quiet
	loc   *time.Location
	memo  [8]struct { // the last periods reckoned, by day number modulo 8
		day      plan.Date
		from, to time.Time
	}
}

// settle applies the quiet hours to a nudge and says why it is dropped, if it
// is. A nudge due inside a period moves to its end where that is still before
// its until; no until reaches into the period that comes next.
func (q *quiet) settle(n plan.Nudge) (plan.Nudge, string) {
	if !q.hours.None() {
		end, next := q.around(n.Due)
		if !end.IsZero() {
			if !end.Before(n.Until) {
				return n, plan.DropQuiet
			}
			n.Due, n.Moved = end, plan.QuietHours
		}
		if !next.IsZero() && next.Before(n.Until) {
			n.Until = next
		}
	}
	if !n.Until.After(n.Due) {
		return n, plan.DropNoTime
	}
	return n, ""
}

// around returns the end of the quiet period that holds instant t (zero: none
// does) and the start of the next one. Periods that touch are one: where the
// clocks go forward over the minutes between two, or over a whole date, a nudge
// moved to the end of the first would stand at the start of the second. A
// period that falls whole into a gap is none.
func (q *quiet) around(t time.Time) (end, next time.Time) {
	l := t.In(q.loc)
	d := plan.Date{Year: l.Year(), Month: l.Month(), Day: l.Day()}
	// A period ends by the end of the date after its own, so those of two days
	// back are over by t; and one begins on almost every day to come.
	for e, last := d.AddDays(-1), d.AddDays(6); !e.After(last); e = e.AddDays(1) {
		from, to := q.on(e)
		switch {
		case !to.After(from) || !to.After(t):
		case !from.After(t), !end.IsZero() && !from.After(end):
			end = to
		default:
			return end, from
		}
	}
	return end, time.Time{}
}

// on is the quiet period that begins on date d.
func (q *quiet) on(d plan.Date) (from, to time.Time) {
	m := &q.memo[d.DaysSince(plan.Date{Year: 2000, Month: 1, Day: 1})&7]
	if m.day != d {
		last := d
		if q.hours.From > q.hours.To {
			last = d.AddDays(1)
		}
		m.day = d
		m.from = plan.Instant(d, q.hours.From, q.loc)
		m.to = plan.Instant(last, q.hours.To, q.loc)
	}
	return m.from, m.to
}
