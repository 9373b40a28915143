package plan

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func june(day int) Date { return NewDate(2026, time.June, day) }

// Aligner day 1 is aligner_start, so the first day of week three is day 15.
func TestStartIsDay15(t *testing.T) {
	tests := []struct {
		plan Plan
		want Date
	}{
		{Plan{AlignerStart: Date{2026, 5, 18}}, june(1)},
		{Plan{AlignerStart: Date{2028, 2, 16}}, Date{2028, 3, 1}}, // over a leap day
		{Plan{AlignerStart: Date{2026, 5, 18}, BandsStart: june(9)}, june(9)},
		{Plan{Appliance: Braces, BandsStart: june(9)}, june(9)},
		{Plan{}, Date{}},
	}
	for _, tt := range tests {
		if got := tt.plan.Start(); got != tt.want {
			t.Errorf("%+v: %v, want %v", tt.plan, got, tt.want)
		}
	}
}

func TestWornFromTheFirstDayToTheLast(t *testing.T) {
	p := Plan{BandsStart: june(2), BandsEnd: june(4)}
	for day, want := range map[int][2]bool{1: {false, false}, 2: {true, false}, 3: {true, false}, 4: {true, false}, 5: {false, true}} {
		if got := [2]bool{p.Worn(june(day)), p.Ended(june(day))}; got != want {
			t.Errorf("%v: worn, ended %v, want %v", june(day), got, want)
		}
	}
	p.BandsEnd = Date{}
	if d := june(2).AddDays(10000); !p.Worn(d) || p.Ended(d) {
		t.Error("bands without an end have ended")
	}
}

func TestTreatmentEnd(t *testing.T) {
	tests := []struct {
		plan Plan
		want Date
	}{
		{Plan{AlignerStart: june(1), DaysPerTray: 10, Trays: 3}, Date{2026, 7, 1}},
		{Plan{AlignerStart: june(1), DaysPerTray: 1, Trays: 1}, june(2)},
		{Plan{AlignerStart: june(1), DaysPerTray: 10, Trays: 3, PlannedEnd: june(20)}, june(20)},
		{Plan{Appliance: Braces, BandsStart: june(1), PlannedEnd: june(25)}, june(25)},
	}
	for _, tt := range tests {
		if got := tt.plan.TreatmentEnd(); got != tt.want {
			t.Errorf("%+v: %v, want %v", tt.plan, got, tt.want)
		}
	}
}

func TestWearAndLevelOn(t *testing.T) {
	full, nights, out := Wear{june(10), 20, 3, false}, Wear{june(20), 10, 1, true}, Wear{HoursPerDay: 22, ChangesPerDay: 4}
	for _, p := range []Plan{ // in whatever order they stand
		{HoursPerDay: 22, ChangesPerDay: 4, Wear: []Wear{nights, full}, Cadence: []Cadence{{june(20), 1}, {june(10), 2}}},
		{HoursPerDay: 22, ChangesPerDay: 4, Wear: []Wear{full, nights}, Cadence: []Cadence{{june(10), 2}, {june(20), 1}}},
	} {
		for day, want := range map[int]struct {
			wear  Wear
			level int
		}{9: {out, 3}, 10: {full, 2}, 19: {full, 2}, 20: {nights, 1}, 30: {nights, 1}} {
			if got := p.WearOn(june(day)); got != want.wear {
				t.Errorf("%v: %+v, want %+v", june(day), got, want.wear)
			}
			if got := p.LevelOn(june(day)); got != want.level {
				t.Errorf("%v: level %d, want %d", june(day), got, want.level)
			}
		}
	}
}

func TestPaused(t *testing.T) {
	p := Plan{Pauses: []Pause{{june(3), june(5), PauseMail}, {june(5), june(6), PauseBands}, {june(9), june(9), PauseBands}}}
	for day, want := range map[int][2]bool{
		2: {false, false}, 3: {true, false}, 4: {true, false}, 5: {true, true}, 6: {true, true}, 7: {false, false},
		8: {false, false}, 9: {true, true}, 10: {false, false},
	} {
		if got := [2]bool{p.Paused(june(day)), p.BandsPaused(june(day))}; got != want {
			t.Errorf("%v: paused, bands paused %v, want %v", june(day), got, want)
		}
	}
}

func TestMealsOn(t *testing.T) {
	const sat, sun = 1 << 6, 1 << 0
	bed, brunch := Meal{Bedtime, 1320, 0, AllDays}, Meal{AfterMeal, 660, 60, sat | sun}
	breakfast, lunch := Meal{AfterBreakfast, 450, 30, AllDays &^ (sat | sun)}, Meal{AfterLunch, 660, 30, AllDays &^ sun}
	p := Plan{Meals: []Meal{bed, lunch, brunch, breakfast}}
	for day, want := range map[time.Weekday][]Meal{
		time.Monday: {breakfast, lunch, bed}, time.Friday: {breakfast, lunch, bed},
		time.Saturday: {brunch, lunch, bed}, // at one time PC stands before PCD
		time.Sunday:   {brunch, bed},
	} {
		if diff := cmp.Diff(want, p.MealsOn(day)); diff != "" {
			t.Errorf("%v: %s", day, diff)
		}
	}
	if got := (&Plan{}).MealsOn(time.Monday); len(got) != 0 {
		t.Errorf("no meals are %v", got)
	}
	if p.Meals[0] != bed {
		t.Error("the plan's own order was changed")
	}
}

func TestWeekdays(t *testing.T) {
	for day := time.Sunday; day <= time.Saturday; day++ {
		if only := Weekdays(1 << day); !only.Has(day) || only.Has((day+1)%7) || !AllDays.Has(day) {
			t.Errorf("%v: %b", day, only)
		}
	}
	if got := AllDays.names(); cmp.Diff([]string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}, got) != "" {
		t.Errorf("all days are %v", got)
	}
}

func TestBandsOn(t *testing.T) {
	p := Plan{Bands: []Prescription{{From: june(2), To: june(4), Bag: "a"}, {From: june(4), Bag: "b"}, {From: june(6), To: june(6), Bag: "c"}}}
	for day, want := range map[int]string{1: "", 2: "a", 3: "a", 4: "ab", 5: "b", 6: "bc", 7: "b", 999: "b"} {
		got := ""
		for _, b := range p.BandsOn(june(day)) {
			got += b.Bag
		}
		if got != want {
			t.Errorf("%v: %q, want %q", june(day), got, want)
		}
	}
}

func TestQuietNone(t *testing.T) {
	for q, want := range map[Quiet]bool{{}: true, {420, 420}: true, {1305, 420}: false, {0, 1}: false} {
		if got := q.None(); got != want {
			t.Errorf("%v: %v", q, got)
		}
	}
}

func TestFlagsThatHold(t *testing.T) {
	holds := map[FlagKind]bool{FlagAllergy: true, FlagBroken: true, FlagOutOfBands: true, FlagJaw: true, FlagFever: true, FlagSwelling: true}
	if len(AllFlags) != 10 {
		t.Errorf("%d kinds of flag, want ten", len(AllFlags))
	}
	for _, what := range AllFlags {
		for _, level := range []Level{"", Yellow, Red} {
			if got := (Flag{What: what, Level: level}).Holds(); got != holds[what] {
				t.Errorf("%s %s: holds is %v", what, level, got)
			}
		}
	}
	now := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	if (Hold{}).Held() || !(Hold{Since: now}).Held() || (Consent{}).Given() || !(Consent{At: now}).Given() {
		t.Error("a hold and a consent are told by their instant")
	}
}
