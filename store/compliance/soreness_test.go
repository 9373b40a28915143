package compliance

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func TestSorenessCourse(t *testing.T) {
	r := fortnight(t).sore(t, "2026-05-31 20:00", 9). // before the bands
								sore(t, "2026-06-01 18:00", 3).sore(t, "2026-06-02 18:00", 4).sore(t, "2026-06-02 22:00", 2).
								sore(t, "2026-06-15 12:01", 9) // not yet seen
	if diff := cmp.Diff([]SoreDay{{1, 3}, {2, 4}}, compute(t, r).Soreness); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
	// A restart begins a cycle; one still to come does not.
	r.Plan.Restarts = []plan.Date{date(t, "2026-06-20"), date(t, "2026-06-02")}
	f := compute(t, r)
	if diff := cmp.Diff([]SoreDay{{1, 4}}, f.Soreness); diff != "" {
		t.Errorf("restarted: -want +got\n%s", diff)
	}
	if diff := cmp.Diff([]plan.Date{date(t, "2026-06-02"), date(t, "2026-06-20")}, f.Restarts); diff != "" {
		t.Errorf("restarts: -want +got\n%s", diff)
	}
}

func TestAlarmingSoreness(t *testing.T) {
	tests := []struct {
		name   string
		values map[string]int // by June day; day of wear = day of June
		change func(p *plan.Plan)
		want   string // words in why; empty: no call
	}{
		{"7 early", map[string]int{"02": 7}, nil, ""},
		{"8 early", map[string]int{"02": 8}, nil, "soreness 8 of 10"},
		{"4 on day 7", map[string]int{"07": 4}, nil, ""},
		// Trays change on 28 May, 7 June and 17 June: 8 and 9 June are the second
		// and third day of one.
		{"4 on day 8, new tray", map[string]int{"08": 4}, nil, ""},
		{"4 on day 9, new tray", map[string]int{"09": 4}, nil, ""},
		{"4 on day 10", map[string]int{"10": 4}, nil, "still sore"},
		{"3 on day 10", map[string]int{"10": 3}, nil, ""},
		{"8 on a new tray", map[string]int{"08": 8}, nil, "soreness 8 of 10"},
		{"4 on day 8, after the last tray", map[string]int{"08": 4}, func(p *plan.Plan) { p.Trays = 2 }, "still sore"},
		{"4 on day 8, braces", map[string]int{"08": 4}, func(p *plan.Plan) {
			*p = plan.Plan{Appliance: plan.Braces, BandsStart: date(t, "2026-06-01"), PlannedEnd: date(t, "2027-01-01"), HoursPerDay: 22, ChangesPerDay: 4}
		}, "still sore"},
		{"as sore on day 5 as on day 3", map[string]int{"03": 3, "05": 3}, nil, ""},
		{"sorer on day 5", map[string]int{"03": 3, "05": 4}, nil, "rose from 3 of 10 on days 2-3 to 4"},
		{"sorer on day 7 than on day 2", map[string]int{"02": 1, "07": 2}, nil, "rose"},
		{"sorer on day 4 only", map[string]int{"02": 1, "04": 5}, nil, ""},
		{"the greatest of both counts", map[string]int{"02": 5, "03": 1, "06": 5}, nil, ""},
		{"nothing to compare with", map[string]int{"01": 1, "06": 3}, nil, ""},
	}
	for _, tt := range tests {
		r := fortnight(t)
		for day, v := range tt.values {
			r.sore(t, "2026-06-"+day+" 18:00", v)
		}
		if tt.change != nil {
			tt.change(&r.Plan)
		}
		f := compute(t, r)
		if got := f.Standing == Call; got != (tt.want != "") || !strings.Contains(strings.Join(f.Why, "; "), tt.want) {
			t.Errorf("%s: %s because %q, want %q", tt.name, f.Standing, f.Why, tt.want)
		}
	}
}

func TestLapses(t *testing.T) {
	tests := []struct {
		name string
		make func(r *Record)
		want []string
	}{
		{"24 hours to the minute", func(r *Record) {
			r.span(t, "2026-06-05 12:00", "2026-06-03 10:00", "2026-06-04 10:00").on(t, "2026-06-04 12:00")
		}, []string{"2026-06-04"}},
		{"a minute less", func(r *Record) {
			r.span(t, "2026-06-05 12:00", "2026-06-03 10:01", "2026-06-04 10:00").on(t, "2026-06-04 12:00")
		}, nil},
		{"worn again after unknown time", func(r *Record) {
			r.span(t, "2026-06-05 12:00", "2026-06-03 10:00", "2026-06-04 10:00").on(t, "2026-06-06 08:00", "2026-06-06 12:00")
		}, []string{"2026-06-06"}},
		{"never worn again", func(r *Record) { r.span(t, "2026-06-05 12:00", "2026-06-03 10:00", "2026-06-04 10:00") }, nil},
		{"of several answers", func(r *Record) {
			r.off(t, "2026-06-03 10:00").off(t, "2026-06-03 22:00").off(t, "2026-06-04 10:00").on(t, "2026-06-04 12:00", "2026-06-04 13:00")
		}, []string{"2026-06-04"}},
		{"two lapses with no wear between", func(r *Record) {
			r.span(t, "2026-06-09 12:00", "2026-06-03 10:00", "2026-06-04 10:00").span(t, "2026-06-09 12:00", "2026-06-06 10:00", "2026-06-07 10:00").on(t, "2026-06-07 12:00")
		}, []string{"2026-06-07"}},
		{"paused by the doctor for a day", func(r *Record) {
			r.Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-03"), To: date(t, "2026-06-03"), Of: plan.PauseBands}}
			r.on(t, "2026-06-04 08:00", "2026-06-04 12:00")
		}, []string{"2026-06-04"}},
		{"before the bands", func(r *Record) {
			r.Plan.BandsStart = date(t, "2026-06-03")
			r.on(t, "2026-06-03 08:00", "2026-06-03 12:00")
		}, nil},
		{"from before the bands into their first day", func(r *Record) {
			r.Plan.BandsStart = date(t, "2026-06-03")
			r.span(t, "2026-06-03 12:00", "2026-06-02 10:00", "2026-06-03 10:00").on(t, "2026-06-03 12:00")
		}, []string{"2026-06-03"}},
		{"after the bands", func(r *Record) {
			r.Plan.BandsEnd = date(t, "2026-06-03")
			r.on(t, "2026-06-08 08:00", "2026-06-08 12:00")
		}, nil},
	}
	for _, tt := range tests {
		r := fortnight(t)
		tt.make(r)
		var got []string
		for _, d := range compute(t, r).Restarts {
			got = append(got, d.String())
		}
		if diff := cmp.Diff(tt.want, got); diff != "" {
			t.Errorf("%s: -want +got\n%s", tt.name, diff)
		}
	}
}
