package demo

import (
	"context"
	"fmt"

	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/store/compliance"
)

// between is how many days lie between two visits of the demo's patients.
const between = 28

// visits has the doctor measure those who are at the chair on a day: on the
// first day of wear (or of the demo, where wear began before it) and four weeks
// later. What four weeks did is made up from the habit.
func (c *Clinic) visits(ctx context.Context, day plan.Date) error {
	for _, p := range c.people {
		first := p.written.Start()
		if first.Before(firstDay) {
			first = firstDay
		}
		n := day.DaysSince(first)
		if n != 0 && n != between {
			continue
		}
		overjet, side := 5+float64(p.ID%4)/2, 2+float64(p.ID%3)/2
		if n == between {
			overjet -= corrected[p.habit]
			side -= corrected[p.habit]
		}
		reading := func(mm, target float64) *compliance.Taken {
			return &compliance.Taken{Measured: mm, Unit: compliance.Millimetres, Target: target}
		}
		v := store.Visit{Date: day, Overjet: reading(overjet, 2), Left: reading(side, 0), Right: reading(side+0.5, 0)}
		if _, err := c.o.DB.AddVisit(ctx, p.Ref, v, "doctor", c.clock.now()); err != nil {
			return fmt.Errorf("measure %s: %w", p.Ref, err)
		}
	}
	return nil
}

// corrected is what four weeks did for the bite, in mm; made up, by habit.
var corrected = map[habit]float64{
	diligent: 0.7, bilingual: 0.6, holiday: 0.4, sibling: 0.5, sore: 0.3, forgetful: 0.2,
	silent: 0.1, latex: 0, bounces: 0.3, responder: 0.4,
}
