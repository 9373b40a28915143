package compliance

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// minutely decides the ledger minute by minute and by the rules' own words,
// with no cleverness at all: a second way to the same answer.
func minutely(r *Record, from, to plan.Date) []State {
	type evidence struct {
		on       bool
		received time.Time
	}
	points := map[int64]evidence{}
	put := func(at time.Time, on bool, received time.Time) {
		k := at.Unix() / 60
		old, ok := points[k]
		if !ok || received.After(old.received) || received.Equal(old.received) && !on {
			points[k] = evidence{on, received}
		}
	}
	type pair struct{ a, b int64 }
	var offs []pair
	for _, e := range r.Reports {
		if e.At.After(r.AsOf) {
			continue
		}
		switch {
		case e.What == plan.ReportOn:
			put(e.At, true, e.At)
		case e.What == plan.ReportOff:
			put(e.At, false, e.At)
			if !e.Since.IsZero() {
				put(e.Since, true, e.At)
				offs = append(offs, pair{e.Since.Unix() / 60, e.At.Unix() / 60})
			}
		case e.What == plan.ReportOffSpan:
			put(e.From, true, e.At)
			put(e.To, true, e.At)
			offs = append(offs, pair{e.From.Unix() / 60, e.To.Unix() / 60})
		}
	}
	var times []int64
	for k := range points {
		times = append(times, k)
	}
	slices.Sort(times)
	eaten := map[int64]bool{}
	for d := from.AddDays(-1); !d.After(to); d = d.AddDays(1) {
		if d.Before(r.Plan.Start()) || r.Plan.Ended(d) || !plan.Exists(d, r.Zone) {
			continue
		}
		for _, m := range r.Plan.Meals {
			if m.Days.Has(d.Weekday()) {
				for i := range m.Minutes {
					eaten[plan.Instant(d, m.At, r.Zone).Unix()/60+int64(i)] = true
				}
			}
		}
	}
	var out []State
	for d := from; !d.After(to); d = d.AddDays(1) {
		for m := plan.DayStart(d, r.Zone).Unix() / 60; m < plan.DayEnd(d, r.Zone).Unix()/60; m++ {
			s := Unknown
			i, exact := slices.BinarySearch(times, m)
			if exact {
				i++
			}
			if i > 0 && i < len(times) && float64(times[i]-times[i-1]) <= r.Settings.CarryMin && points[times[i]].on == points[times[i-1]].on {
				s = Off
				if points[times[i]].on {
					s = On
				}
			}
			if slices.ContainsFunc(offs, func(p pair) bool { return m >= p.a && m < p.b }) {
				s = Off
			}
			if s == On && eaten[m] {
				s = Off
			}
			if s == Unknown && (d.Before(r.Plan.Start()) || r.Plan.Ended(d) || r.Plan.BandsPaused(d)) {
				s = Off
			}
			if m >= r.AsOf.Unix()/60 {
				s = Unknown
			}
			out = append(out, s)
		}
	}
	return out
}

func TestLedgerAgainstMinutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		want := minutely(r, r.Window.From, r.Window.To)
		list, err := Ledger(r, r.Window.From, r.Window.To)
		if err != nil {
			t.Fatal(err)
		}
		var got []State
		at := plan.DayStart(r.Window.From, r.Zone)
		for _, s := range list {
			// The spans tile the window: each begins where the last ended.
			if !s.From.Equal(at) || !s.To.After(s.From) {
				t.Fatalf("span from %v to %v does not follow %v", s.From, s.To, at)
			}
			at = s.To
			for range int(s.To.Sub(s.From).Minutes()) {
				got = append(got, s.State)
			}
		}
		if !at.Equal(plan.DayEnd(r.Window.To, r.Zone)) {
			t.Fatalf("the last span ends at %v", at)
		}
		if !slices.Equal(want, got) {
			for i := range want {
				if i >= len(got) || got[i] != want[i] {
					t.Fatalf("minute %d: got %v, want %v", i, got[min(i, len(got)-1)], want[i])
				}
			}
			t.Fatalf("got %d minutes, want %d", len(got), len(want))
		}
	})
}

// Working minutes the slow way: each run is gathered as a list of the days of
// its worn minutes, and all but the first of them, as long as the ramp, count.
func TestWorkAgainstMinutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		f := figuresOf(t, r)
		states := minutely(r, r.Window.From, r.Window.To)
		for _, bound := range []string{"low", "high"} {
			want := make([]int, len(f.Days))
			var run []int
			end := func() {
				for i, day := range run {
					if i >= int(r.Settings.RampMin) {
						want[day]++
					}
				}
				run = nil
			}
			off, next := 0, 0
			for day, d := range f.Days {
				for range int(d.Length) {
					s := states[next]
					next++
					switch {
					case d.Stated:
						end()
						off = 0
					case s == On || s == Unknown && bound == "high":
						off = 0
						run = append(run, day)
					default:
						if off++; off > int(r.Settings.GraceMin) {
							end()
						}
					}
				}
			}
			end()
			for i, d := range f.Days {
				got := d.Working.Low
				if bound == "high" {
					got = d.Working.High
				}
				if !d.Stated && int(got) != want[i] {
					t.Fatalf("%s of %v: got %v, want %d", bound, d.Date, got, want[i])
				}
			}
		}
	})
}
