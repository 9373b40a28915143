package compliance

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func (r *Record) flag(t testing.TB, at string, what plan.FlagKind, level plan.Level, closed string) *Record {
	f := plan.Flag{At: r.instant(t, at), What: what, Level: level}
	if closed != "" {
		f.Closed = r.instant(t, closed)
	}
	r.Flags = append(r.Flags, f)
	return r
}

// hours is n days of so many hours.
func hours(n int, h float64) []float64 { return repeat(h, n) }

func TestStanding(t *testing.T) {
	tests := []struct {
		name string
		make func(r *Record)
		want Standing
		why  string // words among the reasons
	}{
		{"no day yet", func(r *Record) {}, New, "0 days so far"},
		{"bands still to begin", func(r *Record) { r.Plan.BandsStart = date(t, "2026-06-20") }, New, "bands begin on 20 Jun 2026"},
		{"two usable days", func(r *Record) { r.totals(22, 22) }, New, "2 days so far"},
		{"three usable days", func(r *Record) { r.totals(22, 22, 22) }, Steady, "target reached on 3 of 3 days"},
		{"allergy", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagAllergy, plan.Red, "") }, Call, "signs of allergy (red) reported on 14 Jun 2026"},
		{"broken", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagBroken, "", "") }, Call, "broken"},
		{"out of bands", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagOutOfBands, "", "") }, Call, "out of bands"},
		{"swelling", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagSwelling, "", "") }, Call, "swelling"},
		{"ulcer", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagUlcer, "", "") }, Call, "ulcer"},
		{"fever", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagFever, "", "") }, Call, "fever"},
		{"jaw", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagJaw, "", "") }, Call, "jaw"},
		{"running low", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagRunningLow, "", "") }, New, ""},
		{"other", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagOther, "", "") }, New, ""},
		{"closed", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagBroken, "", "2026-06-15 12:00") }, New, ""},
		{"closed later than the reckoning", func(r *Record) { r.flag(t, "2026-06-14 08:00", plan.FlagBroken, "", "2026-06-15 12:01") }, Call, "broken"},
		{"raised later than the reckoning", func(r *Record) { r.flag(t, "2026-06-15 12:01", plan.FlagBroken, "", "") }, New, ""},
		{"a question for 24 hours", func(r *Record) { r.flag(t, "2026-06-14 12:00", plan.FlagQuestion, "", "") }, New, ""},
		{"a question for a minute more", func(r *Record) { r.flag(t, "2026-06-14 11:59", plan.FlagQuestion, "", "") }, Call, "waited more than 24 hours"},
		{"bags empty today", func(r *Record) {
			r.Plan.Bands, r.Plan.Bags = []plan.Prescription{band(t, "2026-06-01", "")}, []plan.Bag{{Date: date(t, "2026-06-01"), Count: 14 * 4}}
		}, Call, "ran out on 15 Jun 2026"},
		{"bags empty tomorrow", func(r *Record) {
			r.Plan.Bands, r.Plan.Bags = []plan.Prescription{band(t, "2026-06-01", "")}, []plan.Bag{{Date: date(t, "2026-06-01"), Count: 15 * 4}}
		}, New, ""},
		{"quiet", func(r *Record) {
			r.totals(22, 22, 22)
			r.nudge(t, "2026-06-10", OutcomeAccepted).nudge(t, "2026-06-11", OutcomeAccepted).nudge(t, "2026-06-12", OutcomeAccepted)
		}, Quiet, "no answer since 4 Jun 2026: 3 messages in a row unanswered"},
		// Six days at 0.7 are not judged; seven are. Nine would be the third day
		// in a row on which it slips.
		{"six days at 70 %", func(r *Record) { r.totals(hours(6, 15.4)...) }, Steady, ""},
		{"seven days at 70 %", func(r *Record) { r.totals(hours(7, 15.4)...) }, Slipping, "70 % of the prescribed hours"},
		{"eight days at 70 %", func(r *Record) { r.totals(hours(8, 15.4)...) }, Slipping, "70 %"},
		{"nine days at 70 %", func(r *Record) { r.totals(hours(9, 15.4)...) }, Call, "slipping at the end of each of the last 3 days"},
		{"nine days at 75 %", func(r *Record) { r.totals(hours(9, 16.5)...) }, Steady, "75 %"},
		{"call before quiet", func(r *Record) {
			r.nudge(t, "2026-06-12", OutcomeAccepted).nudge(t, "2026-06-13", OutcomeAccepted).nudge(t, "2026-06-14", OutcomeAccepted)
			r.flag(t, "2026-06-11 08:00", plan.FlagBroken, "", "")
		}, Call, "broken"},
	}
	for _, tt := range tests {
		r := fortnight(t)
		tt.make(r)
		f := compute(t, r)
		if f.Standing != tt.want || len(f.Why) == 0 || !strings.Contains(strings.Join(f.Why, "; "), tt.why) {
			t.Errorf("%s: %s because %q, want %s (%s)", tt.name, f.Standing, f.Why, tt.want, tt.why)
		}
	}
}

// long is a record of n usable days with the given hours, seen on the morrow.
func long(t *testing.T, all []float64) *Record {
	r := fortnight(t)
	r.totals(all...)
	return r.seenOn(t, r.Window.From.AddDays(len(all)-1).String())
}

// A chart's signal counts only while the week's mean is under 0.9.
func TestSlippingByTheChart(t *testing.T) {
	base := hours(14, 22) // mean 1, s at the floor 0.05, lower limit 0.95
	for _, tt := range []struct {
		after []float64
		want  Standing
	}{
		// EWMA .2 x .5 + .8 = .9 is under .95; the week's mean is (6+.5)/7 = .93.
		{[]float64{11}, Steady},
		// Two: the mean is (5+1)/7 = .86.
		{[]float64{11, 11}, Slipping},
		{[]float64{11, 11, 11}, Slipping},
		{[]float64{11, 11, 11, 11}, Call}, // the third day in a row on which it slips
	} {
		f := compute(t, long(t, append(base[:14:14], tt.after...)))
		if f.Standing != tt.want {
			t.Errorf("%v: %s because %q, want %s", tt.after, f.Standing, f.Why, tt.want)
		}
	}
}

// Under 0.75 but hardly known: the mean of high - low must be under 8 hours.
func TestSlippingNeedsKnownHours(t *testing.T) {
	for _, tt := range []struct {
		offFrom string
		want    Standing
	}{
		// Each day: on 00:00 to 06:00, off to offFrom, unknown to midnight.
		{"16:01", Call},   // 7 h 59 min unknown
		{"16:00", Steady}, // 8 h
	} {
		r := fortnight(t)
		for d := r.Window.From; !d.After(r.Window.To); d = d.AddDays(1) {
			s := d.String()
			r.on(t, s+" 00:00")
			// The off that ends the stretch differs from the on at midnight.
			r.off(t, s+" "+tt.offFrom, s+" 06:00")
		}
		f := compute(t, r)
		if f.Standing != tt.want {
			t.Errorf("off until %s: %s because %q; worn %v", tt.offFrom, f.Standing, f.Why, f.Days[3].Worn)
		}
	}
}

// Behind by the forecast: only on readings, and only past four weeks more than
// as prescribed.
func TestSlippingByTheForecast(t *testing.T) {
	for _, tt := range []struct {
		hours float64
		left  float64 // mm still to correct at the second reading
		want  Standing
	}{
		// 1 mm by 100 h, 17.6 h a day (0.8 of the target): x mm need 100 x / 17.6
		// days, against 100 x / 22 as prescribed: 1.136 x days more; 28 of them
		// are 24.6 mm, of which 0.5 are tolerated and some are done.
		{17.6, 22, Steady}, {17.6, 30, Slipping},
		{22, 30, Steady},
	} {
		r := steadyHours(t, tt.hours)
		r.Visits = []Visit{
			{Date: date(t, "2026-06-01"), Left: mm(tt.left + 13*tt.hours/100)},
			{Date: date(t, "2026-06-14"), Left: mm(tt.left)},
		}
		f := compute(t, r)
		if f.Standing != tt.want {
			t.Errorf("%v h, %v mm: %s because %q; lag %v, as prescribed %v", tt.hours, tt.left, f.Standing, f.Why, *f.Forecast.LagWeeks, *f.Forecast.AsPrescribed.LagWeeks)
		}
		r.Visits = r.Visits[1:]
		if f := compute(t, r); f.Standing != Steady || f.Forecast.Basis != Assumption {
			t.Errorf("%v h, %v mm, one reading: %s on %s; an assumption must cause nothing", tt.hours, tt.left, f.Standing, f.Forecast.Basis)
		}
	}
}

func TestSlippingByNever(t *testing.T) {
	r := steadyHours(t, 17.6)
	// 1095 days at 17.6 h correct 192.7 mm, at 22 h 240.9 mm.
	r.Visits = []Visit{{Date: date(t, "2026-06-01"), Left: mm(202 + 13*.176)}, {Date: date(t, "2026-06-14"), Left: mm(202)}}
	f := compute(t, r)
	if f.Standing != Slipping || !strings.Contains(strings.Join(f.Why, "; "), "not done within three years") {
		t.Errorf("%s because %q; %+v", f.Standing, f.Why, f.Forecast)
	}
}

func TestOrder(t *testing.T) {
	want := []Row{
		{Patient: "A-7", Safety: Emergency},
		{Patient: "A-6", Safety: Harm, LagPerWeek: 0.1, Waiting: 1},
		{Patient: "A-5", LagPerWeek: 1, Waiting: 2},
		{Patient: "A-4", LagPerWeek: 1, Waiting: 1},
		{Patient: "A-2", LagPerWeek: 0.5, Waiting: 9},
		{Patient: "A-3", LagPerWeek: 0.5, Waiting: 9},
		{Patient: "A-1", Waiting: 40},
	}
	for turn := range want {
		got := append(append([]Row{}, want[turn:]...), want[:turn]...)
		Order(got)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("turn %d: -want +got\n%s", turn, diff)
		}
	}
}

func TestRow(t *testing.T) {
	tests := []struct {
		name string
		make func(r *Record)
		want string // standing, safety, lag, waiting
	}{
		{"red", func(r *Record) { r.flag(t, "2026-06-13 08:00", plan.FlagAllergy, plan.Red, "") }, "call 2 0.00 2"},
		{"yellow", func(r *Record) { r.flag(t, "2026-06-15 08:00", plan.FlagAllergy, plan.Yellow, "") }, "call 1 0.00 0"},
		{"broken: a whole week is lost", func(r *Record) {
			r.flag(t, "2026-06-10 08:00", plan.FlagBroken, "", "").flag(t, "2026-06-08 08:00", plan.FlagOther, "", "")
		}, "call 0 1.00 5"},
		{"sore", func(r *Record) { r.sore(t, "2026-06-05 08:00", 8).sore(t, "2026-06-06 08:00", 9) }, "call 1 0.00 10"},
		// 15.4 of 22 hours, all working.
		{"slipping", func(r *Record) { r.Settings.RampMin = 0; r.totals(hours(8, 15.4)...) }, "slipping 0 0.30 8"},
		{"steady", func(r *Record) { r.Settings.RampMin = 0; r.totals(hours(8, 22)...) }, "steady 0 0.00 0"},
		{"quiet", func(r *Record) {
			r.nudge(t, "2026-06-10", OutcomeAccepted).nudge(t, "2026-06-11", OutcomeAccepted).nudge(t, "2026-06-12", OutcomeAccepted)
		}, "quiet 0 0.00 5"},
		{"out of bands by our count", func(r *Record) {
			r.Plan.Bands, r.Plan.Bags = []plan.Prescription{band(t, "2026-06-01", "")}, []plan.Bag{{Date: date(t, "2026-06-01"), Count: 40}}
		}, "call 0 1.00 4"},
	}
	for _, tt := range tests {
		r := fortnight(t)
		tt.make(r)
		row, err := NewRow("A-1", r, compute(t, r))
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%s %d %.2f %d", row.Standing, row.Safety, row.LagPerWeek, row.Waiting); got != tt.want || len(row.Why) == 0 {
			t.Errorf("%s: got %s because %q, want %s", tt.name, got, row.Why, tt.want)
		}
	}
	if _, err := NewRow("A-1", &Record{}, &Figures{}); err == nil {
		t.Error("an empty record made a row")
	}
}
