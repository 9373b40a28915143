package compliance

import (
	"bandbell/scheduler/plan"
)

// Counts are how the band-change nudges were met.
type Counts struct {
	Delivered      int       `json:"delivered"`       // accepted by a mail server, and their time is over
	Answered       int       `json:"answered"`        // a report or a flag names the slot, whenever it came
	Confirmed      int       `json:"confirmed"`       // a fresh set was put on
	Denied         int       `json:"denied"`          // the bands were off
	AnsweredShare  *Interval `json:"answered_share"`  // answered of delivered; nil for none delivered
	ConfirmedShare *Interval `json:"confirmed_share"` // confirmed of answered; nil for none answered
	DaysAtTarget   DaysOf    `json:"days_at_target"`  // usable days whose point reached the target
}

// DaysOf is a number of days out of how many.
type DaysOf struct {
	Days int `json:"days"`
	Of   int `json:"of"`
}

// met says how one slot was met.
type met struct{ answered, confirmed, denied bool }

// answers gathers how each of the nudges' slots was met.
func (v *view) answers(nudges []Nudge) map[string]met {
	out := make(map[string]met, len(nudges))
	for _, n := range nudges {
		out[n.Slot] = met{}
	}
	for i := range v.reports {
		e := &v.reports[i]
		m, asked := out[e.Slot]
		if !asked || e.Slot == "" {
			continue
		}
		m.answered = true
		m.confirmed = m.confirmed || e.What == plan.ReportOn && e.Fresh
		m.denied = m.denied || e.What == plan.ReportOff
		out[e.Slot] = m
	}
	for _, f := range v.flags {
		if m, asked := out[f.Slot]; asked && f.Slot != "" {
			m.answered = true
			out[f.Slot] = m
		}
	}
	return out
}

// delivered lists the band-change nudges that a mail server took and whose
// time is over. One that lapsed, failed or bounced never reached the patient.
func (v *view) delivered() []Nudge {
	return filter(v.nudges, v.wasDelivered)
}

func (v *view) wasDelivered(n Nudge) bool {
	return n.Kind == plan.BandChange && n.Outcome == OutcomeAccepted && !n.Until.After(v.AsOf)
}

// counts counts all nudges of the record; the days at target are the
// window's.
func (v *view) counts(days []Day) Counts {
	var c Counts
	delivered := v.delivered()
	answers := v.answers(delivered)
	for _, n := range delivered {
		c.add(answers[n.Slot])
	}
	c.AnsweredShare = Wilson(c.Answered, c.Delivered)
	c.ConfirmedShare = Wilson(c.Confirmed, c.Answered)
	for _, d := range days {
		if d.Usable {
			c.DaysAtTarget.Of++
			if d.Worn.Point >= d.Target {
				c.DaysAtTarget.Days++
			}
		}
	}
	return c
}

func (c *Counts) add(m met) {
	c.Delivered++
	if m.answered {
		c.Answered++
	}
	if m.confirmed {
		c.Confirmed++
	}
	if m.denied {
		c.Denied++
	}
}
