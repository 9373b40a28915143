package compliance

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// known makes every minute of the window known: on from the first to the last
// but for the off spans given.
func known(t *testing.T, r *Record, offs ...[2]string) *Record {
	r.Settings.CarryMin = 100 * 1440
	before, after := r.Window.From.AddDays(-1), r.Window.To.AddDays(1)
	r.AsOf = plan.DayEnd(after, r.Zone)
	r.on(t, before.String()+" 12:00", after.String()+" 12:00")
	for _, o := range offs {
		r.span(t, after.String()+" 13:00", o[0], o[1])
	}
	return r
}

func working(f *Figures) (low, high []Minutes) {
	for _, d := range f.Days {
		low, high = append(low, d.Working.Low), append(high, d.Working.High)
	}
	return low, high
}

// Common practice, no source: six hours of wear in one run work for two.
func TestSixHoursWorkForTwo(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From
	known(t, r, [2]string{"2026-05-31 12:00", "2026-06-01 08:00"}, [2]string{"2026-06-01 14:00", "2026-06-02 12:00"})
	d := compute(t, r).Days[0]
	if want := (Bounds{120, 120, 120}); d.Working != want {
		t.Errorf("working %v of worn %v, want %v", d.Working, d.Worn, want)
	}
}

// Common practice, no source: seven days with no gap but four meals of half an
// hour work for 7 x 22 - 4 = 150 hours.
func TestAWeekWithMealsOnly(t *testing.T) {
	r := fortnight(t)
	r.Window.To = date(t, "2026-06-07")
	r.Plan.Meals = []plan.Meal{meal(plan.AfterBreakfast, 450, 30), meal(plan.AfterLunch, 720, 30), meal(plan.AfterMeal, 960, 30), meal(plan.AfterDinner, 1140, 30)}
	var low, high Minutes
	for _, d := range compute(t, known(t, r)).Days {
		low, high = low+d.Working.Low, high+d.Working.High
	}
	if low.Hours() != 150 || high.Hours() != 150 {
		t.Errorf("got %v to %v hours, want 150", low.Hours(), high.Hours())
	}
}

// Common practice, no source: 22 hours a day, each ended by a gap of two, work
// for 18 hours a day.
func TestDaysEndedByAGap(t *testing.T) {
	r := fortnight(t)
	var gaps [][2]string
	for d := r.Window.From; !d.After(r.Window.To); d = d.AddDays(1) {
		gaps = append(gaps, [2]string{d.String() + " 22:00", d.AddDays(1).String() + " 00:00"})
	}
	for _, d := range compute(t, known(t, r, gaps...)).Days {
		if d.Working.Low.Hours() != 18 || d.Working.High.Hours() != 18 {
			t.Errorf("%v: got %v, want 18 hours", d.Date, d.Working)
		}
	}
}

// A gap of exactly the grace does not break the run, a minute more does: then
// the ramp is paid again.
func TestGraceToTheMinute(t *testing.T) {
	for _, tt := range []struct {
		end  string
		want Minutes
	}{
		{"2026-06-01 12:59", 1440 - 59 - 240},
		{"2026-06-01 13:00", 1440 - 60 - 240},
		{"2026-06-01 13:01", 1440 - 61 - 480},
	} {
		r := fortnight(t)
		r.Window.To = r.Window.From
		d := compute(t, known(t, r, [2]string{"2026-06-01 12:00", tt.end})).Days[0]
		if d.Working.Low != tt.want || d.Working.High != tt.want {
			t.Errorf("gap to %s: got %v, want %v", tt.end, d.Working, tt.want)
		}
	}
}

// An off-time is one however many things made it: a meal that runs into a
// stated gap, and unknown time beside them where it is taken as off.
func TestOneOffTimeOfSeveralCauses(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From
	r.Plan.Meals = []plan.Meal{meal(plan.AfterLunch, 12*60, 30)}
	d := compute(t, known(t, r, [2]string{"2026-06-01 12:30", "2026-06-01 13:01"})).Days[0]
	if want := Minutes(1440 - 61 - 480); d.Working.Low != want {
		t.Errorf("got %v, want %v", d.Working.Low, want)
	}
}

// The ramp begun on one day is paid on the next where the run goes on over
// midnight; the first day of the window begins anew.
func TestRunsOverMidnight(t *testing.T) {
	r := fortnight(t)
	r.Window.To = date(t, "2026-06-02")
	// Worn from 22:00 on the 1st: two hours of ramp there, two on the 2nd.
	f := compute(t, known(t, r, [2]string{"2026-06-01 00:00", "2026-06-01 22:00"}))
	low, _ := working(f)
	if diff := cmp.Diff([]Minutes{0, 1440 - 120}, low); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

// A stated total takes part in no run. With 4 changes it pays the ramp up to
// five times; the day after begins a run anew.
func TestStatedTotalWorks(t *testing.T) {
	for _, tt := range []struct {
		hours     float64
		changes   int
		low, high Minutes
	}{
		{22, 4, 120, 1320}, // 1320 - 5 x 240
		{20, 4, 0, 1200},
		{19.9, 4, 0, 1194},
		{10, 1, 120, 600},  // nights only: 600 - 2 x 240
		{25, 4, 240, 1440}, // cut to the day's length
		{0, 4, 0, 0},
	} {
		r := fortnight(t)
		r.Plan.ChangesPerDay = tt.changes
		r.Window.To = date(t, "2026-06-02")
		known(t, r).total(t, "2026-06-03 12:00", "2026-06-01", tt.hours)
		f := compute(t, r)
		low, high := working(f)
		if diff := cmp.Diff([]Minutes{tt.low, 1200}, low); diff != "" {
			t.Errorf("%v h, low: -want +got\n%s", tt.hours, diff)
		}
		if diff := cmp.Diff([]Minutes{tt.high, 1200}, high); diff != "" {
			t.Errorf("%v h, high: -want +got\n%s", tt.hours, diff)
		}
		d := f.Days[0]
		point := float64(tt.low) + float64(f.WearP)*float64(tt.high-tt.low)
		if math.Abs(float64(d.Working.Point)-point) > 1e-9 {
			t.Errorf("%v h: point %v, want %v", tt.hours, d.Working.Point, point)
		}
		if !d.Stated || d.On != 1440 {
			t.Errorf("%v h: stated %v, on %v; the ledger's minutes stay", tt.hours, d.Stated, d.On)
		}
	}
}

// Unknown is off for low and on for high, and the point lies p of the way.
func TestUnknownTimeBoundsTheWork(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From
	r.on(t, "2026-06-01 00:00", "2026-06-01 10:00") // 10 h known, 14 unknown
	f := compute(t, r)
	p := (600 + 1440*0.7) / (600 + 1440)
	d := f.Days[0]
	want := Bounds{360, Minutes(360 + p*840), 1200}
	if math.Abs(float64(d.Working.Point-want.Point)) > 1e-9 || d.Working.Low != want.Low || d.Working.High != want.High {
		t.Errorf("got %v, want %v", d.Working, want)
	}
	if fmt.Sprintf("%.12f", f.WearP) != fmt.Sprintf("%.12f", p) {
		t.Errorf("p = %v, want %v", f.WearP, p)
	}
}
