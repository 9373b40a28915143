// Package timetable turns a plan and a stretch of days into the nudges owed on
// them: when each is due, until when it is of use, and which a rule took out.
//
// It is pure. The same plan gives the same nudges, whatever was sent before
// and however the days are cut into ranges: a nudge belongs to the local day
// it was planned for, even where quiet hours moved it over midnight. Wall
// clock readings become instants in one place, [plan.Instant]; days are
// stepped as dates, and a date that the zone skipped has no nudges.
//
// A nudge is planned by its kind (meals.go, notices.go, soreness.go); then the
// first reason that holds drops it, asked in the order of the plan package's
// Drop constants. Consent, holds and the moment a plan came into being are the
// caller's to ask.
package timetable

import (
	"cmp"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

// Nudges lists the nudges planned for the local days from..to, both included,
// and those that a rule dropped, each with the first reason that held. Nudges
// are sorted by due instant, kind and slot; dropped ones by day, kind and slot.
// Every instant is in loc. A plan without a first day of wear has none.
func Nudges(p *plan.Plan, loc *time.Location, from, to plan.Date) ([]plan.Nudge, []plan.Dropped) {
	t := newTable(p, loc)
	for d := from; !d.After(to); d = d.AddDays(1) {
		t.plan(d)
	}
	slices.SortFunc(t.nudges, compareNudges)
	slices.SortFunc(t.dropped, func(a, b plan.Dropped) int {
		return cmp.Or(a.Day.Compare(b.Day), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Slot, b.Slot))
	})
	return t.nudges, t.dropped
}

func compareNudges(a, b plan.Nudge) int {
	return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Slot, b.Slot))
}

// table gathers what the days of one plan hold.
type table struct {
	p     *plan.Plan
	loc   *time.Location
	start plan.Date // first day of wear
	quiet quiet

	day     plan.Date // the day being planned
	missing bool      // the zone skipped that day
	paused  bool
	ended   bool

	nudges  []plan.Nudge
	dropped []plan.Dropped
}

func newTable(p *plan.Plan, loc *time.Location) *table {
	return &table{p: p, loc: loc, start: p.Start(), quiet: quiet{hours: p.Quiet, loc: loc}}
}

// plan adds what day d holds.
func (t *table) plan(d plan.Date) {
	if t.start.IsZero() {
		return
	}
	t.day = d
	t.missing = !plan.Exists(d, t.loc)
	if t.missing {
		return
	}
	t.paused, t.ended = t.p.Paused(d), t.p.Ended(d)
	t.meals(d)
	t.notices(d)
	t.soreness(d)
}

// add takes a nudge as its kind planned it, with the reason for which that kind
// drops it (empty: none), and settles what becomes of it.
func (t *table) add(n plan.Nudge, reason string) {
	switch {
	case t.paused:
		reason = plan.DropPaused
	case t.ended:
		reason = plan.DropEnded
	case reason == "":
		n, reason = t.quiet.settle(n)
	}
	if reason != "" {
		t.dropped = append(t.dropped, plan.Dropped{Kind: n.Kind, Slot: n.Slot, Day: n.Day, Reason: reason})
		return
	}
	t.nudges = append(t.nudges, n)
}

func minutes(n int) time.Duration { return time.Duration(n) * time.Minute }
