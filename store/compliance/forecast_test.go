package compliance

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func mm(v float64) *float64 { return &v }

// certain makes the rate of correction all but known, so that the day of the
// finish can be worked out by hand: 1 mm by 100 working hours.
func certain(r *Record) *Record {
	r.Settings.RatePer100h, r.Settings.RateSD, r.Settings.MeasureSD, r.Settings.ToleranceMM = 1, 1e-6, 1e-6, 0.5
	return r
}

// steadyHours states so many hours for each day of the fortnight. The ramp is
// nothing, so that every hour worn works and low and high agree.
func steadyHours(t *testing.T, hours float64) *Record {
	r := certain(fortnight(t))
	r.Settings.RampMin = 0
	var all []float64
	for range 14 {
		all = append(all, hours)
	}
	return r.totals(all...)
}

func TestForecastByHand(t *testing.T) {
	r := steadyHours(t, 20)
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Overjet: mm(4), Left: mm(8)}}
	f := compute(t, r).Forecast
	// Overjet: 3.5 mm need 350 h; 14 days of 20 h are done, 70 h are left: 4
	// days. Left: 7.5 mm need 750 h, 470 left: 23.5 days, so 24.
	at := func(days int) Points {
		d := date(t, "2026-06-15").AddDays(days)
		return Points{d, d, d}
	}
	if diff := cmp.Diff(Measures{Overjet: &Measure{Points: at(4)}, Left: &Measure{Points: at(24)}}, f.Measures); diff != "" {
		t.Errorf("measures: -want +got\n%s", diff)
	}
	if f.Finish != at(24) {
		t.Errorf("finish %v, want %v", f.Finish, at(24))
	}
	// As prescribed, at 22 h: 470 / 22 = 21.4, so 22 days.
	if got, want := f.AsPrescribed.Median, at(22).Median; got != want {
		t.Errorf("as prescribed %v, want %v", got, want)
	}
	// 24 trays of 10 days from 18 May 2026 end on 13 January 2027; the finish
	// on 9 July is 188 days before.
	if f.AlignerEnd != date(t, "2027-01-13") {
		t.Errorf("aligner end %v", f.AlignerEnd)
	}
	if got, want := float64(*f.LagWeeks), -188.0/7; math.Abs(got-want) > 1e-12 || *f.ExtraTrays != 0 {
		t.Errorf("lag %v weeks and %d trays, want %v and 0", got, *f.ExtraTrays, want)
	}
	if f.Basis != Assumption {
		t.Errorf("basis %s on one reading each", f.Basis)
	}
}

func TestLagAndTrays(t *testing.T) {
	tests := []struct {
		end   string
		lag   int // days
		trays int
	}{
		{"2026-07-09", 0, 0}, {"2026-07-08", 1, 1}, {"2026-06-29", 10, 1}, {"2026-06-28", 11, 2}, {"2026-07-19", -10, 0},
	}
	for _, tt := range tests {
		r := steadyHours(t, 20)
		r.Plan.PlannedEnd = date(t, tt.end)
		r.Visits = []Visit{{Date: date(t, "2026-06-01"), Left: mm(8)}} // done on 9 July, as above
		f := compute(t, r).Forecast
		if math.Abs(float64(*f.LagWeeks)*7-float64(tt.lag)) > 1e-9 || *f.ExtraTrays != tt.trays {
			t.Errorf("end %s: %v weeks, %d trays; want %d days, %d trays", tt.end, *f.LagWeeks, *f.ExtraTrays, tt.lag, tt.trays)
		}
		r.Plan.Appliance, r.Plan.AlignerStart, r.Plan.DaysPerTray, r.Plan.Trays = plan.Braces, plan.Date{}, 0, 0
		r.Plan.BandsStart = date(t, "2026-06-01")
		if f := compute(t, r).Forecast; f.ExtraTrays != nil || f.LagWeeks == nil {
			t.Errorf("braces: %v trays", f.ExtraTrays)
		}
	}
}

func TestForecastDoneAlready(t *testing.T) {
	r := steadyHours(t, 20)
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Right: mm(2)}} // 150 h; 280 are done
	if got, want := compute(t, r).Forecast.Finish.Median, date(t, "2026-06-15"); got != want {
		t.Errorf("finish %v, want today", got)
	}
}

// 1095 days at 20 h are 21,900 h, which correct 219 mm.
func TestForecastHorizon(t *testing.T) {
	for _, tt := range []struct {
		mm   float64
		want bool
	}{{219.4 + 2.8, true}, {219.6 + 2.8, false}} { // 2.8 mm are done already, 0.5 tolerated
		r := steadyHours(t, 20)
		r.Visits = []Visit{{Date: date(t, "2026-06-01"), Overjet: mm(tt.mm)}}
		f := compute(t, r).Forecast
		if got := !f.Finish.Median.IsZero(); got != tt.want {
			t.Errorf("%v mm: finish %v", tt.mm, f.Finish)
		}
		if !tt.want && (f.LagWeeks != nil || f.ExtraTrays != nil || f.AsPrescribed.Median.IsZero()) {
			t.Errorf("%v mm, never: lag %v, trays %v, as prescribed %v", tt.mm, f.LagWeeks, f.ExtraTrays, f.AsPrescribed)
		}
	}
}

func TestForecastNeedsAVisitAndTwoDays(t *testing.T) {
	empty := Forecast{AlignerEnd: date(t, "2027-01-13"), Basis: Assumption}
	same := cmp.AllowUnexported(Forecast{})
	r := steadyHours(t, 20)
	if diff := cmp.Diff(empty, compute(t, r).Forecast, same); diff != "" {
		t.Errorf("no visit: -want +got\n%s", diff)
	}
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Overjet: mm(4)}}
	empty.Measures.Overjet = &Measure{}
	r.Reports = r.Reports[:1]
	if diff := cmp.Diff(empty, compute(t, r).Forecast, same); diff != "" {
		t.Errorf("one usable day: -want +got\n%s", diff)
	}
	r = steadyHours(t, 20)
	r.Reports = r.Reports[:2]
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Overjet: mm(4)}}
	if compute(t, r).Forecast.Finish.Median.IsZero() {
		t.Error("two usable days gave no forecast")
	}
}

func TestWhichReadingsCount(t *testing.T) {
	visit := func(day string, overjet float64) Visit { return Visit{Date: date(t, day), Overjet: mm(overjet)} }
	left := Visit{Date: date(t, "2026-05-20"), Left: mm(3), SD: mm(1)}
	tests := []struct {
		name   string
		visits []Visit
		want   []reading
	}{
		{"within", []Visit{visit("2026-06-10", 4), visit("2026-06-02", 5)},
			[]reading{{date(t, "2026-06-02"), 5, .5}, {date(t, "2026-06-10"), 4, .5}}},
		{"the last before the window", []Visit{visit("2026-05-01", 7), visit("2026-05-20", 6), left, visit("2026-06-10", 4)},
			[]reading{{date(t, "2026-06-01"), 6, .5}, {date(t, "2026-06-10"), 4, .5}}},
		{"read on the first day", []Visit{visit("2026-05-20", 6), visit("2026-06-01", 5)},
			[]reading{{date(t, "2026-06-01"), 5, .5}}},
		{"after the window, on the day of reckoning", []Visit{visit("2026-06-14", 5), visit("2026-06-15", 4)},
			[]reading{{date(t, "2026-06-14"), 5, .5}}},
		{"another measure", []Visit{left}, nil},
	}
	for _, tt := range tests {
		r := fortnight(t)
		r.Visits = tt.visits
		got := newView(r).readings(Overjet)
		if diff := cmp.Diff(tt.want, got, cmp.AllowUnexported(reading{})); diff != "" {
			t.Errorf("%s: -want +got\n%s", tt.name, diff)
		}
	}
	// A visit on the day of reckoning is seen, one the day after is not.
	r := fortnight(t)
	r.Window.To = date(t, "2026-06-20")
	r.Visits = []Visit{visit("2026-06-15", 4), visit("2026-06-16", 3)}
	if got := newView(r).readings(Overjet); len(got) != 1 || got[0].mm != 4 {
		t.Errorf("seen on the 15th: %v", got)
	}
}

// Two exact readings fix the line whatever the prior: 1 mm in 100 h between
// them, then 1.5 mm to go from the second, 150 h less the 80 h since.
func TestReadingsOverrideTheRate(t *testing.T) {
	r := steadyHours(t, 20)
	r.Settings.RatePer100h, r.Settings.RateSD = 0.0523, 10
	r.Visits = []Visit{{Date: date(t, "2026-06-06"), Overjet: mm(3)}, {Date: date(t, "2026-06-11"), Overjet: mm(2)}}
	f := compute(t, r).Forecast
	if got, want := f.Finish.Median, date(t, "2026-06-19"); got != want { // 70 h at 20 a day: 4 days
		t.Errorf("finish %v, want %v", got, want)
	}
	if f.Basis != Readings {
		t.Errorf("basis %s on two readings", f.Basis)
	}
}

func TestWrongWay(t *testing.T) {
	for _, tt := range []struct {
		first, last float64
		want        bool
	}{{4, 3, false}, {4, 4.5, false}, {4, 4.6, true}} {
		r := fortnight(t)
		r.Visits = []Visit{{Date: date(t, "2026-06-01"), Left: mm(tt.first)}, {Date: date(t, "2026-06-10"), Left: mm(tt.last)}}
		if got := compute(t, r).Forecast.Measures.Left.WrongWay; got != tt.want {
			t.Errorf("%v to %v mm: wrong way %v", tt.first, tt.last, got)
		}
	}
}

// The pace to come is an EWMA begun at the mean, with half the spread: of 10
// and 20 the mean is 15, then 0.2 x 10 + 0.8 x 15 = 14 and 0.2 x 20 + 0.8 x 14
// = 15.2; the s.d. is sqrt(50).
func TestPace(t *testing.T) {
	mean, sd := pace([]float64{10, 20})
	within(t, "mean", mean, 15.2, 1e-14)
	within(t, "s.d.", sd, math.Sqrt(50)/2, 1e-14)
}

func TestDaysFor(t *testing.T) {
	for _, tt := range []struct {
		need, perDay float64
		want         int
	}{{-5, 20, 0}, {0, 20, 0}, {0.1, 20, 1}, {20, 20, 1}, {20.1, 20, 2}, {21900, 20, 1095}, {21900.1, 20, 1096}, {math.Inf(1), 20, 1096}} {
		if got := daysFor(tt.need, tt.perDay); got != tt.want {
			t.Errorf("%v h at %v: got %d, want %d", tt.need, tt.perDay, got, tt.want)
		}
	}
}

// With r0 known and b ~ N(1, 0.5) mm by 100 h, at a sure pace, the day is a
// falling function of b, so that its median and tenths are those of b: z = 0
// and 1.2816 (tables of the normal distribution).
func TestForecastQuantiles(t *testing.T) {
	r := steadyHours(t, 20)
	r.Settings.RateSD = 0.5
	r.Visits = []Visit{{Date: date(t, "2026-06-14"), Overjet: mm(10.5)}} // 1000 h at b = 1; 20 done
	f := compute(t, r).Forecast.Finish
	day := func(b float64) int { return int(math.Ceil((10/b*100 - 20) / 20)) }
	today := date(t, "2026-06-15")
	for _, c := range []struct {
		what      string
		got       plan.Date
		b, spread float64
	}{{"median", f.Median, 1, 1}, {"early", f.Early, 1 + 0.5*1.2816, 1}, {"late", f.Late, 1 - 0.5*1.2816, 4}} {
		if got, want := c.got.DaysSince(today), day(c.b); math.Abs(float64(got-want)) > c.spread {
			t.Errorf("%s: %d days, want %d give or take %v", c.what, got, want, c.spread)
		}
	}
}

func TestLagWords(t *testing.T) {
	r := steadyHours(t, 20)
	f := compute(t, r)
	if got := f.LagWords(); !strings.Contains(got, "too little") {
		t.Errorf("no visit: %q", got)
	}
	r.Plan.PlannedEnd = date(t, "2026-06-25")
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Left: mm(8)}}
	if got, want := compute(t, r).LagWords(), "2 weeks behind (an assumption: no measure was read twice)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	quiet := compute(t, r)
	quiet.Standing = Quiet
	if got, want := quiet.LagWords(), "not known, no answer since 15 Jun 2026"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestOwnRate(t *testing.T) {
	if _, _, ok := OwnRate(make([]float64, 9)); ok {
		t.Error("nine patients made a rate")
	}
	mean, sd, ok := OwnRate([]float64{.04, .06, .04, .06, .04, .06, .04, .06, .04, .06})
	if !ok || math.Abs(mean-.05) > 1e-12 || math.Abs(sd-.01*math.Sqrt(10.0/9)) > 1e-12 {
		t.Errorf("got %v, %v, %v", mean, sd, ok)
	}
	r := steadyHours(t, 20)
	r.Visits = []Visit{{Date: date(t, "2026-06-06"), Overjet: mm(3)}, {Date: date(t, "2026-06-11"), Overjet: mm(2)}}
	if rate, ok, err := ObservedRate(r, Overjet); err != nil || !ok || math.Abs(rate-1) > 1e-9 {
		t.Errorf("1 mm in 100 h: got %v, %v, %v", rate, ok, err)
	}
	r.Visits = r.Visits[:1]
	if _, ok, _ := ObservedRate(r, Overjet); ok {
		t.Error("one reading made a rate")
	}
}
