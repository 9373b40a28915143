package compliance

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// spans writes the ledger of the days as "HH:MM state cause" lines, each at
// its start on the wall clock.
func spans(t *testing.T, r *Record, from, to string) string {
	t.Helper()
	list, err := Ledger(r, date(t, from), date(t, to))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, s := range list {
		out = append(out, fmt.Sprintf("%s %s %s", s.From.Format("02 15:04"), s.State, s.By))
	}
	return strings.Join(out, "\n")
}

func meal(code plan.MealCode, at, minutes int) plan.Meal {
	return plan.Meal{Code: code, At: plan.Clock(at), Minutes: minutes, Days: plan.AllDays}
}

func TestLedger(t *testing.T) {
	tests := []struct {
		name string
		make func(r *Record)
		want string
	}{
		{"no report", func(r *Record) {}, `
			01 00:00 unknown no answer`},
		{"carry to the minute", func(r *Record) { r.on(t, "2026-06-01 06:00", "2026-06-01 20:00") }, `
			01 00:00 unknown no answer
			01 06:00 on reports
			01 20:00 unknown no answer`},
		{"a minute over the carry", func(r *Record) { r.on(t, "2026-06-01 06:00", "2026-06-01 20:01") }, `
			01 00:00 unknown no answer`},
		{"evidence from outside the window", func(r *Record) {
			r.on(t, "2026-05-31 22:00", "2026-06-01 08:00", "2026-06-01 20:00", "2026-06-02 10:00")
		}, `
			01 00:00 on reports
			01 08:00 on reports
			01 20:00 on reports`},
		{"off and off is off", func(r *Record) { r.off(t, "2026-06-01 08:00").off(t, "2026-06-01 12:00") }, `
			01 00:00 unknown no answer
			01 08:00 off reports
			01 12:00 unknown no answer`},
		{"on and off differ", func(r *Record) { r.on(t, "2026-06-01 08:00").off(t, "2026-06-01 12:00") }, `
			01 00:00 unknown no answer
			01 08:00 unknown answers differ
			01 12:00 unknown no answer`},
		{"off since", func(r *Record) { r.on(t, "2026-06-01 08:00").off(t, "2026-06-01 12:00", "2026-06-01 11:00") }, `
			01 00:00 unknown no answer
			01 08:00 on reports
			01 11:00 off stated off
			01 12:00 unknown no answer`},
		{"off span", func(r *Record) {
			r.on(t, "2026-06-01 08:00", "2026-06-01 18:00").span(t, "2026-06-01 18:00", "2026-06-01 12:00", "2026-06-01 14:00")
		}, `
			01 00:00 unknown no answer
			01 08:00 on reports
			01 12:00 off stated off
			01 14:00 on reports
			01 18:00 unknown no answer`},
		{"off spans that overlap", func(r *Record) {
			r.span(t, "2026-06-01 18:00", "2026-06-01 12:00", "2026-06-01 14:00").
				span(t, "2026-06-01 18:00", "2026-06-01 13:00", "2026-06-01 15:00")
		}, `
			01 00:00 unknown no answer
			01 12:00 off stated off
			01 14:00 off stated off
			01 15:00 unknown no answer`},
		{"an off span longer than the carry", func(r *Record) { r.span(t, "2026-06-02 18:00", "2026-06-01 01:00", "2026-06-02 03:00") }, `
			01 00:00 unknown no answer
			01 01:00 off stated off`},
		{"tie: off stands", func(r *Record) {
			r.off(t, "2026-06-01 12:00").on(t, "2026-06-01 08:00", "2026-06-01 12:00", "2026-06-01 16:00")
		}, `
			01 00:00 unknown no answer
			01 08:00 unknown answers differ
			01 12:00 unknown answers differ
			01 16:00 unknown no answer`},
		{"the report received later stands", func(r *Record) {
			// An off at 12:00, and a span told at 18:00 that ends on at 12:00.
			r.off(t, "2026-06-01 12:00").on(t, "2026-06-01 16:00").span(t, "2026-06-01 18:00", "2026-06-01 10:00", "2026-06-01 12:00")
		}, `
			01 00:00 unknown no answer
			01 10:00 off stated off
			01 12:00 on reports
			01 16:00 unknown no answer`},
		{"meals are off where it was on", func(r *Record) {
			r.Plan.Meals = []plan.Meal{meal(plan.AfterBreakfast, 7*60+30, 30), meal(plan.AfterLunch, 12*60, 45), meal(plan.Bedtime, 22*60, 0)}
			r.on(t, "2026-06-01 07:45", "2026-06-01 12:30")
		}, `
			01 00:00 unknown no answer
			01 07:45 off meal
			01 08:00 on reports
			01 12:00 off meal
			01 12:30 unknown no answer`},
		{"a late meal of the day before", func(r *Record) {
			r.Plan.BandsStart = date(t, "2026-05-31")
			r.Plan.Meals = []plan.Meal{meal(plan.AfterDinner, 23*60+45, 30)}
			r.on(t, "2026-05-31 22:00", "2026-06-01 06:00")
		}, `
			01 00:00 off meal
			01 00:15 on reports
			01 06:00 unknown no answer`},
		{"no meal of the day before the first", func(r *Record) {
			r.Plan.Meals = []plan.Meal{meal(plan.AfterDinner, 23*60+45, 30)}
			r.on(t, "2026-05-31 22:00", "2026-06-01 06:00")
		}, `
			01 00:00 on reports
			01 06:00 unknown no answer`},
		{"paused by the doctor", func(r *Record) {
			r.Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-01"), To: date(t, "2026-06-01"), Of: plan.PauseBands}}
			r.on(t, "2026-06-01 08:00", "2026-06-01 10:00")
		}, `
			01 00:00 off bands paused
			01 08:00 on reports
			01 10:00 off bands paused`},
		{"a pause of the mail changes nothing", func(r *Record) {
			r.Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-01"), To: date(t, "2026-06-01"), Of: plan.PauseMail}}
		}, `
			01 00:00 unknown no answer`},
		{"before the bands start", func(r *Record) { r.Plan.BandsStart = date(t, "2026-06-02") }, `
			01 00:00 off before first day`},
		{"the last day of bands", func(r *Record) { r.Plan.BandsEnd = date(t, "2026-06-01") }, `
			01 00:00 unknown no answer`},
		{"after the bands end", func(r *Record) { r.Plan.BandsEnd = date(t, "2026-05-31") }, `
			01 00:00 off after last day`},
		{"reckoned inside the day", func(r *Record) {
			r.AsOf = r.instant(t, "2026-06-01 09:00")
			r.on(t, "2026-06-01 08:00", "2026-06-01 10:00") // the second is not seen
			r.span(t, "2026-06-01 08:30", "2026-06-01 08:30", "2026-06-01 09:30")
		}, `
			01 00:00 unknown no answer
			01 08:00 on reports
			01 08:30 off stated off
			01 09:00 unknown after the reckoning`},
		{"after the reckoning even a pause is unknown", func(r *Record) {
			r.AsOf = r.instant(t, "2026-06-01 09:00")
			r.Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-01"), To: date(t, "2026-06-01"), Of: plan.PauseBands}}
		}, `
			01 00:00 off bands paused
			01 09:00 unknown after the reckoning`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := fortnight(t)
			tt.make(r)
			want := strings.ReplaceAll(strings.TrimSpace(tt.want), "\t", "")
			if diff := cmp.Diff(want, spans(t, r, "2026-06-01", "2026-06-01")); diff != "" {
				t.Errorf("-want +got\n%s", diff)
			}
		})
	}
}

func TestLedgerNamesItsReports(t *testing.T) {
	r := fortnight(t).on(t, "2026-06-01 18:00", "2026-06-01 08:00").span(t, "2026-06-01 18:30", "2026-06-01 11:00", "2026-06-01 12:00")
	r.Plan.Meals = []plan.Meal{meal(plan.AfterLunch, 13*60, 30)}
	list, err := Ledger(r, r.Window.From, r.Window.From)
	if err != nil {
		t.Fatal(err)
	}
	type made struct {
		Reports []int
		Meal    plan.MealCode
	}
	var got []made
	for _, s := range list {
		got = append(got, made{s.Reports, s.Meal})
	}
	want := []made{{nil, ""}, {[]int{1, 2}, ""}, {[]int{2}, ""}, {[]int{2, 0}, ""}, {nil, plan.AfterLunch}, {[]int{2, 0}, ""}, {nil, ""}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

// The lengths are those of the IANA time zone database: the United States
// change on 8 March and 1 November 2026, Lord Howe by half an hour on 4
// October and 5 April 2026, Cairo at midnight on 24 April and 30 October 2026;
// Samoa had no 30 December 2011.
func TestDaysWhereClocksChange(t *testing.T) {
	tests := []struct {
		zone, from, to string
		lengths        []Minutes
	}{
		{"America/New_York", "2026-03-07", "2026-03-09", []Minutes{1440, 1380, 1440}},
		{"America/New_York", "2026-10-31", "2026-11-02", []Minutes{1440, 1500, 1440}},
		{"Australia/Lord_Howe", "2026-10-04", "2026-10-04", []Minutes{1410}},
		{"Australia/Lord_Howe", "2026-04-05", "2026-04-05", []Minutes{1470}},
		{"Africa/Cairo", "2026-04-24", "2026-04-24", []Minutes{1380}},
		{"Pacific/Apia", "2011-12-29", "2011-12-31", []Minutes{1440, 1440}},
		{"UTC", "2026-03-08", "2026-03-08", []Minutes{1440}},
	}
	for _, tt := range tests {
		r := fortnight(t)
		r.Zone = zone(t, tt.zone)
		r.Window = Window{date(t, tt.from), date(t, tt.to)}
		r.Plan.AlignerStart, r.Plan.BandsStart = date(t, "2011-01-01"), date(t, "2011-01-01")
		r.AsOf = r.instant(t, "2026-12-31 12:00")
		// On from before the window to after it.
		r.Settings.CarryMin = 7 * 1440
		r.on(t, r.Window.From.AddDays(-1).String()+" 12:00", r.Window.To.AddDays(1).String()+" 12:00")
		var got []Minutes
		for _, d := range compute(t, r).Days {
			got = append(got, d.Length)
			if d.On != d.Length || d.Worn != (Bounds{d.Length, d.Length, d.Length}) {
				t.Errorf("%s %v: on %v of %v, worn %v", tt.zone, d.Date, d.On, d.Length, d.Worn)
			}
		}
		if diff := cmp.Diff(tt.lengths, got); diff != "" {
			t.Errorf("%s %s: -want +got\n%s", tt.zone, tt.from, diff)
		}
	}
}

func TestLedgerNeedsAZone(t *testing.T) {
	if _, err := Ledger(&Record{}, plan.NewDate(2026, 6, 1), plan.NewDate(2026, 6, 1)); err == nil {
		t.Error("a record without a zone was laid out")
	}
}
