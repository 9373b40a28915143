package timetable

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

func TestNext(t *testing.T) {
	late := all(only(meal("PC", "23:50", 20), meal("PCM", "00:05", 0)), func(p *plan.Plan) { p.UsefulMin = 400 })
	tests := []struct {
		name    string
		change  func(*plan.Plan)
		after   string
		horizon int
		want    string // slot and due; empty: none
	}{
		{"a second before", nil, "2026-06-20T07:59:59Z", 1, "2026-06-20/PCM 2026-06-20T08:00:00Z"},
		{"at due: strictly after", nil, "2026-06-20T08:00:00Z", 1, "2026-06-20/PCD 2026-06-20T12:30:00Z"},
		{"the next day", nil, "2026-06-20T22:00:00Z", 1, "2026-06-21/PCM 2026-06-21T08:00:00Z"},
		{"the next day, beyond the horizon", nil, "2026-06-20T22:00:00Z", 0, ""},
		{"long before the start", nil, "2026-01-01T00:00:00Z", 200, "d-3 2026-05-29T08:00:00Z"},
		{"the horizon ends on the day", nil, "2026-05-19T12:00:00Z", 10, "d-3 2026-05-29T08:00:00Z"},
		{"the horizon ends on the eve", nil, "2026-05-19T12:00:00Z", 9, ""},
		{"after the end", func(p *plan.Plan) { p.BandsEnd = day("2026-06-20") }, "2026-06-20T22:00:00Z", 400, ""},
		{"over a pause", func(p *plan.Plan) {
			p.Pauses = []plan.Pause{{From: day("2026-06-21"), To: day("2026-06-30"), Of: plan.PauseMail}}
		}, "2026-06-20T22:00:00Z", 30, "2026-07-01/PCM 2026-07-01T08:00:00Z"},
		{"a late meal of the day before", late, "2026-06-21T00:04:59Z", 1, "2026-06-21/PCM 2026-06-21T00:05:00Z"},
		{"after which the late one is still to come", late, "2026-06-21T00:05:00Z", 0, "2026-06-20/PC 2026-06-21T00:10:00Z"},
		{"moved by quiet hours, later than one of the next day", all(late, hours("23:00", "00:20")), "2026-06-20T22:00:00Z", 2,
			"2026-06-20/PC 2026-06-21T00:20:00Z"},
		{"a restart long before the start", func(p *plan.Plan) { p.Restarts = []plan.Date{day("2026-03-01")} }, "2026-02-20T00:00:00Z", 30,
			"2026-03-01/s1 2026-03-01T17:30:00Z"},
		{"no first day", func(p *plan.Plan) { p.AlignerStart = plan.Date{} }, "2026-06-20T00:00:00Z", 30, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := base()
			if tt.change != nil {
				tt.change(p)
			}
			after, err := time.Parse(time.RFC3339, tt.after)
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			if n, ok := Next(p, time.UTC, after, tt.horizon); ok {
				got = n.Slot + " " + n.Due.Format(time.RFC3339)
			}
			if got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

// Next is what stands first in the list of all nudges that are due later.
func TestNextIsFirstOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := scenes().Draw(t, "scene")
		after := plan.Instant(s.anchor, 0, s.loc).Add(time.Duration(rapid.IntRange(-12*1440, 8*1440).Draw(t, "minutes")) * time.Minute)
		horizon := rapid.IntRange(0, 12).Draw(t, "horizon")

		nudges, _ := Nudges(s.p, s.loc, s.anchor.AddDays(-30), plan.DateOf(after, s.loc).AddDays(horizon))
		var want plan.Nudge
		found := false
		for _, n := range nudges {
			if !found && n.Due.After(after) {
				want, found = n, true
			}
		}
		got, ok := Next(s.p, s.loc, after, horizon)
		if diff := cmp.Diff(want, got); diff != "" || ok != found {
			t.Errorf("after %s within %d days: got %v, want %v\n%s", after, horizon, ok, found, diff)
		}
		if ok {
			if again, _ := Next(s.p, s.loc, got.Due.Add(-time.Nanosecond), horizon); again.Due != got.Due {
				t.Errorf("a nanosecond before %s: %s", got.Due, again.Due)
			}
		}
	})
}

// Stepping from due to due visits every due instant once.
func TestNextVisitsAll(t *testing.T) {
	p := base()
	hours("21:45", "08:15")(p)
	p.Restarts = []plan.Date{day("2026-06-20")}
	loc := zone(t, "America/New_York")
	from, to := day("2026-05-20"), day("2026-11-10")
	nudges, _ := Nudges(p, loc, from, to)
	var want, got []time.Time
	for _, n := range nudges {
		if len(want) == 0 || !want[len(want)-1].Equal(n.Due) {
			want = append(want, n.Due)
		}
	}
	for at := plan.DayStart(from, loc); ; {
		n, ok := Next(p, loc, at, 30)
		if !ok || n.Day.After(to) {
			break
		}
		got = append(got, n.Due)
		at = n.Due
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-listed +stepped\n%s", diff)
	}
	if len(want) < 400 {
		t.Errorf("only %d instants in half a year", len(want))
	}
}
