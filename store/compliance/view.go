package compliance

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// tick is an instant, or a span, in microseconds: fine enough for any answer,
// and whole numbers add up the same in any order.
type tick = int64

const minute tick = 60e6

func tickOf(t time.Time) tick { return t.UnixMicro() }

func ticks(min float64) tick { return tick(math.Round(min * float64(minute))) }

func minutesOf(t tick) Minutes { return Minutes(float64(t) / float64(minute)) }

// frame is a local day as a stretch of time.
type frame struct {
	date     plan.Date
	from, to tick
}

func (f frame) length() tick { return f.to - f.from }

// view is a record cut down to what is seen at its As-of: a report, nudge,
// flag or visit later than that is as if absent.
type view struct {
	*Record
	now     tick
	today   plan.Date
	reports []plan.Report
	nudges  []Nudge
	flags   []plan.Flag
	visits  []Visit
}

func newView(r *Record) *view {
	v := &view{Record: r, now: tickOf(r.AsOf), today: plan.DateOf(r.AsOf, r.Zone)}
	v.reports = seen(r.Reports, func(e *plan.Report) bool { return !e.At.After(r.AsOf) })
	v.nudges = seen(r.Nudges, func(n *Nudge) bool { return !n.Due.After(r.AsOf) })
	v.flags = seen(r.Flags, func(f *plan.Flag) bool { return !f.At.After(r.AsOf) })
	v.visits = seen(r.Visits, func(e *Visit) bool { return !e.Date.After(v.today) })
	return v
}

// seen keeps what is seen, in its order. Where all of it is, the usual case,
// nothing is copied: a year of answers is folded again at every reply.
func seen[T any](in []T, keep func(*T) bool) []T {
	for i := range in {
		if keep(&in[i]) {
			continue
		}
		out := slices.Clone(in[:i])
		for j := i + 1; j < len(in); j++ {
			if keep(&in[j]) {
				out = append(out, in[j])
			}
		}
		return out
	}
	return in
}

func filter[T any](in []T, keep func(T) bool) []T {
	var out []T
	for _, e := range in {
		if keep(e) {
			out = append(out, e)
		}
	}
	return out
}

// check refuses what no figure can be computed from. A record that was read
// from a file has passed it already.
func (r *Record) check() error {
	var errs []error
	say := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if r.Zone == nil {
		say("record has no zone")
	}
	if r.AsOf.IsZero() {
		say("record has no as_of")
	}
	switch {
	case r.Window.From.IsZero() || r.Window.To.IsZero():
		say("record has no window")
	case r.Window.To.Before(r.Window.From):
		say("window ends on %v, before it begins on %v", r.Window.To, r.Window.From)
	case r.Window.To.DaysSince(r.Window.From) >= MaxWindowDays:
		say("window from %v to %v is longer than %d days", r.Window.From, r.Window.To, MaxWindowDays)
	}
	if r.Plan.Start().IsZero() {
		say("plan has no first day of bands")
	}
	return errors.Join(errs...)
}

// frames lists the local days from one date to another, both included. A date
// that does not exist in the zone is not listed.
func (v *view) frames(from, to plan.Date) []frame {
	var out []frame
	start := tickOf(plan.DayStart(from, v.Zone))
	for d := from; !d.After(to); d = d.AddDays(1) {
		end := tickOf(plan.DayEnd(d, v.Zone))
		if end > start {
			out = append(out, frame{d, start, end})
		}
		start = end
	}
	return out
}

// wearing reports whether bands were to be worn on d: between the first and
// the last day of band wear, and not paused of either kind.
func (v *view) wearing(d plan.Date) bool { return v.Plan.Worn(d) && !v.Plan.Paused(d) }

// target is the wear prescribed for a day, in minutes.
func (v *view) target(d plan.Date) float64 { return 60 * v.Plan.WearOn(d).HoursPerDay }

// stated returns the total stated for a day in minutes, from the report
// received last; at a tie the smaller total stands.
func (v *view) stated() map[plan.Date]float64 {
	type total struct {
		at    time.Time
		hours float64
	}
	last := map[plan.Date]total{}
	for i := range v.reports {
		e := &v.reports[i]
		if e.What != plan.ReportWornTotal {
			continue
		}
		old, ok := last[e.Day]
		if !ok || e.At.After(old.at) || e.At.Equal(old.at) && e.Hours < old.hours {
			last[e.Day] = total{e.At, e.Hours}
		}
	}
	out := make(map[plan.Date]float64, len(last))
	for d, t := range last {
		out[d] = 60 * t.hours
	}
	return out
}

// lastAnswer is when the patient last answered in any way; zero for never.
func (v *view) lastAnswer() time.Time {
	var last time.Time
	for _, e := range v.reports {
		if e.At.After(last) {
			last = e.At
		}
	}
	for _, f := range v.flags {
		if f.At.After(last) {
			last = f.At
		}
	}
	return last
}

// open lists the flags that are open at the As-of, oldest first.
func (v *view) open() []plan.Flag {
	out := filter(v.flags, func(f plan.Flag) bool { return f.Closed.IsZero() || f.Closed.After(v.AsOf) })
	slices.SortFunc(out, func(a, b plan.Flag) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.What, b.What), cmp.Compare(a.Level, b.Level))
	})
	return out
}
