package scheduler

import (
	"log/slog"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
	"bandbell/scheduler/timetable"
)

// zonesOfInterest change their clocks on, or skip, the day beside them (IANA
// time zone database), or do nothing of the kind.
var zonesOfInterest = []struct{ zone, day string }{
	{"UTC", "2026-06-10"}, {"Asia/Kathmandu", "2028-02-28"},
	{newYorkName, "2026-03-08"}, {newYorkName, "2026-11-01"},
	{"Africa/Cairo", "2026-04-24"}, {"Africa/Cairo", "2026-10-29"}, {"Asia/Beirut", "2026-03-29"},
	{"America/Santiago", "2026-09-06"}, {"America/Santiago", "2026-04-04"},
	{"Australia/Lord_Howe", "2026-10-04"}, {"Australia/Lord_Howe", "2026-04-05"}, {"Pacific/Kiritimati", "2026-06-10"},
}

// clocks are every half hour of the day, and its last minutes.
var clocks = func() (out []int) {
	for c := 0; c < 1440; c += 30 {
		out = append(out, c)
	}
	return append(out, 1438, 1439)
}()

// anyPlan draws a plan about an anchor day.
func anyPlan(t *rapid.T, anchor plan.Date) plan.Plan {
	near := func(label string, from, to int) plan.Date {
		return anchor.AddDays(rapid.IntRange(from, to).Draw(t, label))
	}
	some := func(label string) bool { return rapid.Bool().Draw(t, label) }
	clock := func(label string) plan.Clock {
		return plan.Clock(rapid.SampledFrom(clocks).Draw(t, label))
	}
	p := plan.Plan{
		Appliance: plan.Braces, PlannedEnd: anchor.AddDays(400), BandsStart: anchor.AddDays(rapid.SampledFrom([]int{-12, -6, -2, -1, 0, 1, 3}).Draw(t, "start")), HoursPerDay: 22, ChangesPerDay: 4,
		NoticeAt: clock("notice"), EveningAt: clock("evening"), UsefulMin: rapid.SampledFrom([]int{1, 30, 90, 240, 720, 1440}).Draw(t, "useful"),
	}
	if some("ends") {
		p.BandsEnd = anchor.AddDays(rapid.SampledFrom([]int{-2, 2, 5, 20}).Draw(t, "end"))
	}
	if some("quiet") {
		p.Quiet = plan.Quiet{From: clock("quiet from"), To: clock("quiet to")}
	}
	for _, code := range []plan.MealCode{plan.AfterBreakfast, plan.AfterLunch, plan.AfterDinner, plan.AfterMeal, plan.Bedtime} {
		if some("has "+string(code)) || code == plan.AfterLunch {
			m := plan.Meal{Code: code, At: clock("at"), Days: rapid.SampledFrom([]plan.Weekdays{plan.AllDays, plan.AllDays, 0x55, 0x1f}).Draw(t, "days")}
			if code != plan.Bedtime {
				m.Minutes = rapid.SampledFrom([]int{0, 1, 30, 75, 720}).Draw(t, "minutes")
			}
			p.Meals = append(p.Meals, m)
		}
	}
	if some("restarts") {
		p.Restarts = []plan.Date{near("restart", -5, 8)}
	}
	if some("pauses") {
		from := near("pause", -5, 8)
		p.Pauses = []plan.Pause{{From: from, To: from.AddDays(rapid.IntRange(0, 5).Draw(t, "pause days")), Of: plan.PauseBands}}
	}
	if some("eased") {
		p.Cadence = []plan.Cadence{{From: near("eased from", -10, 8), Level: rapid.IntRange(1, 3).Draw(t, "level")}}
	}
	if some("changes") {
		p.Bands = []plan.Prescription{{From: near("band", -5, 8)}}
	}
	return p
}

// Small draws come too often in ranges; these come evenly.
var (
	gaps = []time.Duration{
		20 * time.Second, time.Minute, 15 * time.Minute, time.Hour, 2 * time.Hour, 5 * time.Hour, 9 * time.Hour,
		13 * time.Hour, 24 * time.Hour, 30 * time.Hour, 80 * time.Hour, 50 * 24 * time.Hour,
	}
	odds = []time.Duration{0, 0, time.Millisecond, 7 * time.Second, 59999 * time.Millisecond, 7 * time.Minute}
)

// act is one thing that happens: a new version of the plan (the first one
// enrols), or a tick.
type act struct {
	at      time.Time
	version *plan.Version
}

// However and whenever it ticks, over gaps of weeks and clocks set back, on
// file is in the end what the timetable holds between the writing of the plan
// and the last tick: each nudge once, to be sent if its moment had come and not
// gone when it was put there.
func TestOnFileIsWhatTheTimetableHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.SampledFrom(zonesOfInterest).Draw(t, "zone")
		anchor := day(z.day)
		now := plan.DayStart(anchor, zone(z.zone)).Add(time.Duration(rapid.IntRange(-2*24*60, 24*60).Draw(t, "written")) * time.Minute)
		var acts []act
		addVersion := func(first plan.Date) {
			v := plan.Version{First: first, Zone: z.zone, Created: now, Plan: anyPlan(t, anchor)}
			if len(acts) > 0 && rapid.Bool().Draw(t, "moves") {
				v.Zone = rapid.SampledFrom(zonesOfInterest).Draw(t, "moves to").zone
			}
			acts = append(acts, act{now, &v})
		}
		addVersion(plan.DateOf(now, zone(z.zone)).AddDays(rapid.IntRange(-3, 3).Draw(t, "first")))
		versions := rapid.IntRange(1, 4).Draw(t, "versions")
		for range rapid.IntRange(10, 50).Draw(t, "acts") {
			now = now.Add(rapid.SampledFrom(gaps).Draw(t, "gap")).Add(rapid.SampledFrom(odds).Draw(t, "odd"))
			switch kind := rapid.SampledFrom([]int{0, 1, 2, 3, 4, 5, 6, 7}).Draw(t, "act"); {
			case kind == 0 && versions > 1:
				versions--
				addVersion(plan.DateOf(now, zone(z.zone)).AddDays(rapid.IntRange(-4, 4).Draw(t, "first")))
			case kind == 1 && versions == 1 && acts[len(acts)-1].version == nil:
				// For one tick the clock is behind.
				acts = append(acts, act{at: now.Add(-time.Duration(rapid.IntRange(1, 4000).Draw(t, "back")) * time.Minute)})
			default:
				acts = append(acts, act{at: now})
			}
		}
		acts = append(acts, act{at: now})
		replay(t, acts)
	})
}

func replay(t *rapid.T, acts []act) {
	d := plan.DuePatient{Patient: person(1, plan.Plan{}).Patient, Versions: []plan.Version{*acts[0].version}}
	d.Versions[0].Number = 1
	f := newFile(d)
	clock := acts[0].at
	s := New(Config{Store: f, Now: func() time.Time { return clock }, Log: slog.New(slog.DiscardHandler)})
	var last time.Time
	for _, a := range acts[1:] {
		clock = a.at
		if a.version != nil {
			f.setPlan(1, *a.version)
			continue
		}
		if clock.After(last) {
			last = clock
		}
		mustTickIn(t, s)
		if ids := f.waiting(clock); len(ids) > 0 {
			t.Fatalf("after the tick at %v a patient waits", clock)
		}
		if n := mustTickIn(t, s); n > 0 {
			t.Fatalf("a second tick at %v found %d nudges", clock, n)
		}
	}

	all := f.patients[1].Versions
	want := map[nudgeKey][]time.Time{} // when it is due; more than once where a version moved it
	for i, v := range all {
		loc := zone(v.Zone)
		nudges, _ := timetable.Nudges(&v.Plan, loc, v.First, plan.DateOf(last, loc))
		for _, n := range nudges {
			// In force: written by then and begun, and no newer one is.
			governs := func(v plan.Version) bool { return !n.Due.Before(v.Created) && !n.Day.Before(v.First) }
			if governs(v) && !slices.ContainsFunc(all[i+1:], governs) && !n.Due.After(last) {
				k := nudgeKey{1, n.Kind, n.Day, n.Slot}
				want[k] = append(want[k], n.Due)
			}
		}
	}
	for k := range want {
		if _, found := f.nudges[k]; !found {
			t.Errorf("%v, due %v, is not on file", k, want[k])
		}
	}
	for k, n := range f.nudges {
		if !slices.ContainsFunc(want[k], n.Nudge.Due.Equal) {
			t.Errorf("on file is %v, due %v; wanted due %v", k, n.Nudge.Due, want[k])
		}
		if n.at.Before(n.Nudge.Due) {
			t.Errorf("%v, due %v, was on file at %v", k, n.Nudge.Due, n.at)
		}
		if sendable := n.at.Before(n.Nudge.Until); sendable != (n.Lapse == "") {
			t.Errorf("%v, of use until %v, put on file at %v, lapses %q", k, n.Nudge.Until, n.at, n.Lapse)
		}
	}
}

func mustTickIn(t *rapid.T, s *Scheduler) int {
	n, err := s.Tick(t.Context())
	if err != nil {
		t.Fatalf("tick: %v", err)
	}
	return n
}
