package timetable

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := scenes().Draw(t, "scene")
		from, to := s.around()
		nudges, dropped := Nudges(s.p, s.loc, from, to)

		if !slices.IsSortedFunc(nudges, func(a, b plan.Nudge) int {
			if c := a.Due.Compare(b.Due); c != 0 {
				return c
			}
			return slices.Compare([]string{string(a.Kind), a.Slot}, []string{string(b.Kind), b.Slot})
		}) {
			t.Errorf("nudges out of order: %v", nudges)
		}
		if !slices.IsSortedFunc(dropped, func(a, b plan.Dropped) int {
			return slices.Compare([]string{a.Day.String(), string(a.Kind), a.Slot}, []string{b.Day.String(), string(b.Kind), b.Slot})
		}) {
			t.Errorf("dropped out of order: %v", dropped)
		}

		type key struct {
			kind plan.Kind
			day  plan.Date
			slot string
		}
		seen := map[key]bool{}
		once := func(k key) {
			if seen[k] {
				t.Errorf("%v comes twice", k)
			}
			seen[k] = true
			if !plan.Exists(k.day, s.loc) {
				t.Errorf("%v is on a day that the zone skipped", k)
			}
			if k.day.Before(from) || k.day.After(to) {
				t.Errorf("%v lies outside the days asked for", k)
			}
		}
		for _, n := range nudges {
			once(key{n.Kind, n.Day, n.Slot})
			if !n.Until.After(n.Due) {
				t.Errorf("%s: until %s is not after due %s", n.Slot, n.Until, n.Due)
			}
			if s.p.Paused(n.Day) || s.p.Ended(n.Day) {
				t.Errorf("%s stands on a day paused or after the end", n.Slot)
			}
			// Each date's quiet period, straight from its definition.
			for d := n.Day.AddDays(-3); !s.p.Quiet.None() && d.Before(n.Day.AddDays(4)); d = d.AddDays(1) {
				last := d
				if s.p.Quiet.From > s.p.Quiet.To {
					last = d.AddDays(1)
				}
				a, b := plan.Instant(d, s.p.Quiet.From, s.loc), plan.Instant(last, s.p.Quiet.To, s.loc)
				if a.Before(b) && n.Due.Before(b) && a.Before(n.Until) {
					t.Errorf("%s, %s to %s, meets the quiet period from %s to %s", n.Slot, n.Due, n.Until, a, b)
				}
			}
		}
		for _, x := range dropped {
			once(key{x.Kind, x.Day, x.Slot})
		}
		ofDay := map[plan.Date]int{} // evenings that stand or fall for themselves
		for _, n := range nudges {
			if n.Kind == plan.Soreness {
				ofDay[n.Day]++
			}
		}
		for d, n := range ofDay {
			if n > 1 {
				t.Errorf("%d soreness questions on %s", n, d)
			}
		}

		again, droppedAgain := Nudges(s.p, s.loc, from, to)
		if diff := cmp.Diff(nudges, again) + cmp.Diff(dropped, droppedAgain); diff != "" {
			t.Errorf("the same plan gave something else:\n%s", diff)
		}

		// Cut anywhere, the two ranges hold what the whole does.
		m := from.AddDays(rapid.IntRange(-1, to.DaysSince(from)).Draw(t, "cut"))
		n1, d1 := Nudges(s.p, s.loc, from, m)
		n2, d2 := Nudges(s.p, s.loc, m.AddDays(1), to)
		joined := append(n1, n2...)
		slices.SortFunc(joined, compareNudges)
		if diff := cmp.Diff(nudges, nilIfEmpty(joined)) + cmp.Diff(dropped, nilIfEmpty(append(d1, d2...))); diff != "" {
			t.Errorf("cut after %s:\n%s", m, diff)
		}
	})
}

func nilIfEmpty[T any](s []T) []T {
	if len(s) == 0 {
		return nil
	}
	return s
}

// In a zone without clock changes a plan moved by a week gives nudges moved by
// a week.
func TestWeekShift(t *testing.T) {
	still := []struct{ zone, day string }{{"UTC", "2026-06-10"}, {"UTC", "2028-02-26"}, {"UTC", "2025-12-29"}}
	rapid.Check(t, func(t *rapid.T) {
		s := scenesIn(still).Draw(t, "scene")
		from, to := s.around()
		nudges, dropped := Nudges(s.p, s.loc, from, to)

		move := func(d *plan.Date) {
			if !d.IsZero() {
				*d = d.AddDays(7)
			}
		}
		p := *s.p
		move(&p.BandsStart)
		move(&p.BandsEnd)
		p.Restarts, p.Pauses, p.Cadence = slices.Clone(p.Restarts), slices.Clone(p.Pauses), slices.Clone(p.Cadence)
		p.Wear, p.Bands = slices.Clone(p.Wear), slices.Clone(p.Bands)
		for i := range p.Restarts {
			move(&p.Restarts[i])
		}
		for i := range p.Pauses {
			move(&p.Pauses[i].From)
			move(&p.Pauses[i].To)
		}
		for i := range p.Cadence {
			move(&p.Cadence[i].From)
		}
		for i := range p.Wear {
			move(&p.Wear[i].From)
		}
		for i := range p.Bands {
			move(&p.Bands[i].From)
			move(&p.Bands[i].To)
		}
		later, laterDropped := Nudges(&p, s.loc, from.AddDays(7), to.AddDays(7))
		if len(later) != len(nudges) || len(laterDropped) != len(dropped) {
			t.Fatalf("%d nudges and %d dropped became %d and %d", len(nudges), len(dropped), len(later), len(laterDropped))
		}
		for i, n := range nudges {
			l := later[i]
			if l.Kind != n.Kind || l.Moved != n.Moved || l.Whole != n.Whole || l.Day != n.Day.AddDays(7) ||
				l.Due.Sub(n.Due) != 7*24*time.Hour || l.Until.Sub(n.Until) != 7*24*time.Hour {
				t.Errorf("%v became %v", n, l)
			}
		}
		for i, x := range dropped {
			if l := laterDropped[i]; l.Kind != x.Kind || l.Reason != x.Reason || l.Day != x.Day.AddDays(7) {
				t.Errorf("%v became %v", x, l)
			}
		}
	})
}
