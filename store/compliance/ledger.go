package compliance

import (
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// State is what is known of the bands over a span.
type State uint8

// The states of a span.
const (
	Unknown State = iota
	On
	Off
)

// String returns on, off or unknown.
func (s State) String() string { return [...]string{"unknown", "on", "off"}[s] }

// MarshalText writes on, off or unknown.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Cause is what made a span.
type Cause string

// The causes of a span.
const (
	ByReports     Cause = "reports"             // the answers on both sides agree
	ByOffSpan     Cause = "stated off"          // an answer said off from when to when
	ByMeal        Cause = "meal"                // a planned meal within worn time
	ByBeforeStart Cause = "before first day"    // nothing known, bands not yet begun
	ByAfterEnd    Cause = "after last day"      // nothing known, bands ended
	ByPause       Cause = "bands paused"        // nothing known, the doctor stopped the bands
	ByDisagreeing Cause = "answers differ"      // on at one side, off at the other
	BySilence     Cause = "no answer"           // no answer near enough on one side or both
	ByFuture      Cause = "after the reckoning" // later than the As-of
)

// Span is a stretch [From, To) of the ledger in one state, and what made it.
type Span struct {
	From, To time.Time
	State    State
	By       Cause
	Reports  []int         // indices in Record.Reports of the answers that made it; empty where none did
	Meal     plan.MealCode // the meal, where one made it
}

const shortestDay = 20 * 60 // minutes; no zone has had a shorter day that existed for most of it

func weekday(n int) time.Weekday { return time.Weekday(n) }

// segment is a piece of the ledger that lies within one local day.
type segment struct {
	from, to tick
	state    State
	by       Cause
	a, b     int // indices of the reports that made it, or none
	meal     plan.MealCode
	day      int // index in the days it was cut by
}

func (s segment) length() tick { return s.to - s.from }

// Ledger lays the time from the first instant of one local day to the last of
// another out in spans. They tile it exactly, in order, and each names what
// made it. Reports outside those days still serve as evidence.
func Ledger(r *Record, from, to plan.Date) ([]Span, error) {
	if r.Zone == nil {
		return nil, fmt.Errorf("lay out ledger: record has no zone")
	}
	v := newView(r)
	var out []Span
	var last segment
	for _, s := range v.segments(v.frames(from, to)) {
		same := s
		same.from, same.to, same.day = last.from, last.to, last.day
		if len(out) > 0 && same == last {
			out[len(out)-1].To = v.time(s.to)
			last.to = s.to
			continue
		}
		span := Span{From: v.time(s.from), To: v.time(s.to), State: s.state, By: s.by, Meal: s.meal}
		for _, n := range []int{s.a, s.b} {
			if n != none && !slices.Contains(span.Reports, n) {
				span.Reports = append(span.Reports, n)
			}
		}
		out, last = append(out, span), s
	}
	return out, nil
}

func (v *view) time(t tick) time.Time { return time.UnixMicro(t).In(v.Zone) }

// segments cuts the given consecutive days at every moment at which something
// may change and decides each piece. The rules, the later over the earlier:
//
//  1. Between two points no further apart than the carry: both on, on; both
//     off, off; otherwise unknown, and unknown everywhere else.
//  2. Explicit off spans are off, whatever the points said.
//  3. Meal breaks are off where it was on.
//  4. What is still unknown is off before the first and after the last day of
//     band wear and on days on which the doctor paused the bands.
//  5. After the As-of everything is unknown.
//
// The days must follow one another; none gives no segments.
func (v *view) segments(days []frame) []segment {
	if len(days) == 0 {
		return nil
	}
	from, to := days[0].from, days[len(days)-1].to
	carry := ticks(v.Settings.CarryMin)
	points, offs := v.evidence(from, to, carry)
	meals := v.meals(from, to, days)

	cuts := make([]tick, 0, len(points)+2*len(offs)+2*len(meals)+len(days)+1)
	for _, p := range points {
		cuts = append(cuts, p.at)
	}
	for _, list := range [][]stretch{offs, meals} {
		for _, s := range list {
			cuts = append(cuts, s.from, s.to)
		}
	}
	for _, d := range days {
		cuts = append(cuts, d.from)
	}
	cuts = append(cuts, v.now)
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	for len(cuts) > 0 && cuts[0] < from {
		cuts = cuts[1:]
	}
	for len(cuts) > 0 && cuts[len(cuts)-1] >= to {
		cuts = cuts[:len(cuts)-1]
	}

	out := make([]segment, 0, len(cuts))
	var p, o, m, d int // the next point, off span and meal, and the current day
	for i, start := range cuts {
		end := to
		if i+1 < len(cuts) {
			end = cuts[i+1]
		}
		for p < len(points) && points[p].at <= start {
			p++
		}
		for o < len(offs) && offs[o].to <= start {
			o++
		}
		for m < len(meals) && meals[m].to <= start {
			m++
		}
		for days[d].to <= start {
			d++
		}
		s := segment{from: start, to: end, day: d}
		s.decide(points, p, carry)
		if o < len(offs) && offs[o].from <= start {
			s.state, s.by, s.a, s.b = Off, ByOffSpan, offs[o].report, none
		}
		if s.state == On && m < len(meals) && meals[m].from <= start {
			s.state, s.by, s.a, s.b, s.meal = Off, ByMeal, none, none, meals[m].meal
		}
		if s.state == Unknown {
			if by := v.restDay(days[d].date); by != "" {
				s.state, s.by, s.a, s.b = Off, by, none, none
			}
		}
		if start >= v.now {
			s = segment{from: start, to: end, day: d, state: Unknown, by: ByFuture, a: none, b: none}
		}
		out = append(out, s)
	}
	return out
}

// decide sets the state that the points on both sides give. next is the index
// of the first point after the segment's start.
func (s *segment) decide(points []point, next int, carry tick) {
	s.a, s.b, s.by = none, none, BySilence
	if next == 0 || next == len(points) {
		return
	}
	l, r := points[next-1], points[next]
	switch {
	case r.at-l.at > carry:
		return
	case l.on != r.on:
		s.by = ByDisagreeing
	case l.on:
		s.state, s.by = On, ByReports
	default:
		s.state, s.by = Off, ByReports
	}
	s.a, s.b = l.report, r.report
}

// restDay says why unknown time of a day counts as off; empty: it does not.
func (v *view) restDay(d plan.Date) Cause {
	switch {
	case d.Before(v.Plan.Start()):
		return ByBeforeStart
	case v.Plan.Ended(d):
		return ByAfterEnd
	case v.Plan.BandsPaused(d):
		return ByPause
	}
	return ""
}
