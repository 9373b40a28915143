package chart

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// The changes are those of the IANA time zone database.
func TestDayOnWall(t *testing.T) {
	const all = "00:00-24:00"
	for _, tt := range []struct {
		zone, day string
		lanes     [][]string // what the clock shows, and below it what it shows again
		missing   []string
	}{
		{"UTC", "2026-06-01", [][]string{{all}}, nil},
		{"Asia/Kathmandu", "2026-06-01", [][]string{{all}}, nil},
		{"America/New_York", "2026-03-07", [][]string{{all}}, nil},
		{"America/New_York", "2026-03-08", [][]string{{"00:00-02:00", "03:00-24:00"}}, []string{"02:00-03:00"}},
		{"America/New_York", "2026-03-09", [][]string{{all}}, nil},
		{"America/New_York", "2026-10-31", [][]string{{all}}, nil},
		{"America/New_York", "2026-11-01", [][]string{{all}, {"01:00-02:00"}}, nil},
		{"America/New_York", "2026-11-02", [][]string{{all}}, nil},
		{"Australia/Lord_Howe", "2026-04-05", [][]string{{all}, {"01:30-02:00"}}, nil},
		{"Australia/Lord_Howe", "2026-10-04", [][]string{{"00:00-02:00", "02:30-24:00"}}, []string{"02:00-02:30"}},
		{"Africa/Cairo", "2026-04-24", [][]string{{"01:00-24:00"}}, []string{"00:00-01:00"}},
		{"America/Havana", "2026-11-01", [][]string{{all}, {"00:00-01:00"}}, nil},
		{"America/Santiago", "2026-04-04", [][]string{{all}, {"23:00-24:00"}}, nil},
		// Clocks went back at a minute past midnight: the day before was shown again.
		{"America/St_Johns", "2006-10-29", [][]string{{all}, {"00:00-00:01", "23:01-24:00"}}, nil},
		{"Pacific/Apia", "2011-12-30", nil, []string{all}},
	} {
		l := dayOnWall(date(t, tt.day), zone(t, tt.zone))
		var lanes [][]string
		for _, lane := range l.taken {
			lanes = append(lanes, spell(lane))
		}
		if diff := cmp.Diff(tt.lanes, lanes); diff != "" {
			t.Errorf("%s %s: lanes (-want +got):\n%s", tt.zone, tt.day, diff)
		}
		if diff := cmp.Diff(tt.missing, spell(l.missing())); diff != "" {
			t.Errorf("%s %s: missing (-want +got):\n%s", tt.zone, tt.day, diff)
		}
	}
}

func spell(list []interval) []string {
	var out []string
	for _, k := range list {
		out = append(out, clock(k.from)+"-"+clock(k.to))
	}
	return out
}

// Whatever the day, its pieces follow one another from its first instant to
// its last, lie within a day of the clock, and no two share a place.
func TestDayOnWallHidesNothing(t *testing.T) {
	zones := []string{"America/New_York", "Australia/Lord_Howe", "America/St_Johns", "Africa/Cairo", "Africa/Casablanca", "Pacific/Apia", "America/Havana", "Europe/Dublin", "Antarctica/Troll", "Asia/Pyongyang"}
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		day := plan.NewDate(1975, 1, 1).AddDays(rapid.IntRange(0, 365*60).Draw(t, "day"))
		l := dayOnWall(day, loc)
		at, end := plan.DayStart(day, loc).UnixMicro(), plan.DayEnd(day, loc).UnixMicro()
		for i, w := range l.walls {
			if w.at != at || w.n <= 0 {
				t.Fatalf("%v: piece %d begins at %d and lasts %d, want it at %d", day, i, w.at, w.n, at)
			}
			at += w.n
			if w.wall < 0 || w.wall+w.n > microDay {
				t.Fatalf("%v: piece %d lies beyond the clock: %+v", day, i, w)
			}
			if got, want := clock(w.wall), time.UnixMicro(w.at).In(loc).Format("15:04"); got != want {
				t.Fatalf("%v: piece %d stands at %s, the clock shows %s", day, i, got, want)
			}
			for _, v := range l.walls[:i] {
				if v.lane == w.lane && v.wall < w.wall+w.n && w.wall < v.wall+v.n {
					t.Fatalf("%v: %+v hides %+v", day, w, v)
				}
			}
		}
		if at != end {
			t.Fatalf("%v: the pieces end at %d, the day at %d", day, at, end)
		}
	})
}

// Where clocks go back past midnight the day begins twice: what the clock
// shows before its midnight is the second showing, and the evening stays in
// the row of its day.
func TestClockGoesBackPastMidnight(t *testing.T) {
	l := dayOnWall(date(t, "2006-10-29"), zone(t, "America/St_Johns"))
	var got []string
	for _, w := range l.walls {
		got = append(got, fmt.Sprintf("%s for %d min in lane %d", clock(w.wall), w.n/microMinute, w.lane))
	}
	want := []string{"00:00 for 1 min in lane 0", "23:01 for 59 min in lane 1", "00:00 for 1 min in lane 1", "00:01 for 1439 min in lane 0"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
