package store

import (
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// The reasons kept with a message that is not sent.
const (
	reasonPast      = "its moment passed"
	reasonStopped   = "all mail to this patient was stopped"
	reasonSaidStop  = "this recipient stopped the mail"
	reasonNoConsent = "no consent on record"
	reasonDead      = "the address was found dead"
	reasonNoPlan    = "no plan on record"
	reasonPaused    = "paused on that day"
	reasonEnded     = "band wear has ended"
	reasonChanged   = "the plan was changed and no longer has it"
	reasonQuiet     = "quiet hours"
	reasonConsented = "consent is on record"
	reasonHold      = "on hold: "
	reasonStoppedUp = "the program ended before it was sent"
	reasonInDoubt   = "the program ended between the message and its answer"
)

// barred tells whether something forbids a nudge to a recipient now, and the
// state it then ends in. The empty reason: nothing does.
func barred(p plan.Patient, r plan.Recipient) (plan.State, string) {
	switch {
	case p.Hold.Held():
		return plan.Lapsed, reasonHold + p.Hold.Reason
	case !p.Stopped.IsZero():
		return plan.Suppressed, reasonStopped
	case !r.Stopped.IsZero():
		return plan.Suppressed, reasonSaidStop
	case !r.Consent.Given():
		return plan.Suppressed, reasonNoConsent
	case !r.Bounced.IsZero():
		return plan.Suppressed, reasonDead
	}
	return "", ""
}

// barredByPlan asks of the plan in force on the nudge's day what may have
// changed since the nudge came due. from is the version it was reckoned from.
func barredByPlan(v plan.Version, n plan.Nudge, from int, now time.Time) (plan.State, string) {
	p := &v.Plan
	switch {
	case p.Ended(n.Day):
		return plan.Suppressed, reasonEnded
	case p.Paused(n.Day):
		return plan.Suppressed, reasonPaused
	case v.Number == from:
		return "", ""
	case !stillPlanned(p, n):
		return plan.Suppressed, reasonChanged
	case inQuiet(p.Quiet, now, v.Zone):
		return plan.Lapsed, reasonQuiet
	}
	return "", ""
}

// stillPlanned reports whether a changed plan still has the nudge's slot. The
// instants may have moved; the slot was promised for its day and stands.
func stillPlanned(p *plan.Plan, n plan.Nudge) bool {
	switch n.Kind {
	case plan.BandChange:
		if n.Day.Before(p.Start()) {
			return false
		}
		_, code, _ := strings.Cut(n.Slot, "/")
		if p.WearOn(n.Day).Nights && plan.MealCode(code) != plan.Bedtime {
			return false
		}
		for _, m := range p.MealsOn(n.Day.Weekday()) {
			if string(m.Code) == code {
				return true
			}
		}
		return false
	case plan.WearStart:
		if at, ok := strings.CutPrefix(n.Slot, "b/"); ok {
			return bandsTurn(p, at)
		}
		var before int
		if _, err := fmt.Sscanf(n.Slot, "d-%d", &before); err != nil {
			before = 0
		}
		return p.Start().AddDays(-before) == n.Day
	case plan.Soreness:
		var k int
		restart, slot, again := strings.Cut(n.Slot, "/")
		if !again {
			slot = restart
		}
		if _, err := fmt.Sscanf(slot, "s%d", &k); err != nil {
			return false
		}
		first := n.Day.AddDays(1 - k)
		if !again {
			return first == p.Start()
		}
		for _, r := range p.Restarts {
			if r == first {
				return true
			}
		}
		return false
	}
	return false
}

// bandsTurn reports whether a prescription begins, or has ended, on a day.
func bandsTurn(p *plan.Plan, at string) bool {
	for _, b := range p.Bands {
		if b.From.String() == at || !b.To.IsZero() && b.To.AddDays(1).String() == at {
			return true
		}
	}
	return false
}

// inQuiet reports whether the wall clock in the zone stands in quiet hours.
func inQuiet(q plan.Quiet, now time.Time, zone string) bool {
	loc, err := time.LoadLocation(zone)
	if err != nil || q.None() {
		return false
	}
	l := now.In(loc)
	c := plan.Clock(l.Hour()*60 + l.Minute())
	if q.From < q.To {
		return c >= q.From && c < q.To
	}
	return c >= q.From || c < q.To
}
