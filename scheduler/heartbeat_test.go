package scheduler

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// running is a Scheduler whose Run has been started in a synctest bubble.
type running struct {
	*file
	log   *bytes.Buffer
	shift *atomic.Int64 // what is wrong with the clock, in nanoseconds
	stop  func()        // ends Run and waits for it
	ended chan error
}

// run starts a Scheduler at a moment of the bubble's clock.
func run(t *testing.T, start time.Time, f *file, c Config) running {
	t.Helper()
	time.Sleep(time.Until(start))
	ctx, cancel := context.WithCancel(t.Context())
	r := running{file: f, log: &bytes.Buffer{}, shift: &atomic.Int64{}, ended: make(chan error, 1)}
	c.Store, c.Log = f, slog.New(slog.NewTextHandler(r.log, &slog.HandlerOptions{Level: slog.LevelInfo}))
	c.Now = func() time.Time { return time.Now().Add(time.Duration(r.shift.Load())) }
	s := New(c)
	go func() { r.ended <- s.Run(ctx) }()
	r.stop = func() {
		cancel()
		if err := <-r.ended; err != nil {
			t.Errorf("Run: %v", err)
		}
	}
	return r
}

// sinceStart writes moments as the time since a start.
func sinceStart(start time.Time, moments []time.Time) (out []time.Duration) {
	for _, m := range moments {
		out = append(out, m.Sub(start))
	}
	return out
}

func TestRunTicks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := ny("2026-06-10 12:29")
		f := newFile(crowd(2)...)
		r := run(t, start, f, Config{})
		time.Sleep(2*time.Minute + time.Second)
		r.stop()
		want := []time.Duration{0, 20e9, 40e9, 60e9, 80e9, 100e9, 120e9}
		if diff := cmp.Diff(want, sinceStart(start, f.lapsed)); diff != "" {
			t.Errorf("ticks (-want +got):\n%s", diff)
		}
		lunches(t, f, 2)
		if at := f.nudges[lunchOf(1)].at; !at.Equal(ny("2026-06-10 12:30")) {
			t.Errorf("lunch, due at 12:30, was on file at %v", at)
		}
		if len(f.folded) != 1 || !f.folded[0].Equal(start) {
			t.Errorf("folded at %v; want once, at the start", f.folded)
		}
	})
}

// Three weeks of heartbeats: each nudge within twenty seconds of its moment,
// and a fold a night.
func TestRunForWeeks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := ny("2026-06-07 23:59:50")
		people := crowd(1)
		people[0].Through = start
		f := newFile(people...)
		woken := 0
		r := run(t, start, f, Config{OnDue: func() { woken++ }, FoldAt: at("03:40"), Zone: newYork})
		time.Sleep(21*24*time.Hour + time.Second)
		r.stop()
		if len(f.nudges) != 21*4 || woken != 21*4 {
			t.Errorf("%d nudges on file, woken %d times; want %d", len(f.nudges), woken, 21*4)
		}
		for k, n := range f.nudges {
			if late := n.at.Sub(n.Nudge.Due); late < 0 || late >= beat || n.Lapse != "" {
				t.Errorf("%v was put on file %v after it came due, lapses %q", k, late, n.Lapse)
			}
		}
		if len(f.folded) != 1+21 {
			t.Errorf("folded %d times, want at the start and on 21 nights", len(f.folded))
		}
		if beats := 21 * 24 * 180; len(f.lapsed) != beats+1 {
			t.Errorf("%d ticks, want %d", len(f.lapsed), beats+1)
		}
	})
}

// The fold comes once a night at its hour in the clinic's zone, also on the
// nights on which New York skips 2:00 to 3:00 and repeats 1:00 to 2:00 (15
// U.S.C. 260a), and where midnight does not exist (Cairo on 24 April 2026: IANA
// time zone database).
func TestRunFoldsNightly(t *testing.T) {
	for _, c := range []struct {
		zone, at, start string // start in UTC
		want            []string
	}{
		{newYorkName, "03:40", "2026-06-10 00:00", []string{"06-10 07:40", "06-11 07:40", "06-12 07:40"}},
		{newYorkName, "02:30", "2026-03-07 06:00", []string{"03-07 07:30", "03-08 07:00", "03-09 06:30"}},
		{newYorkName, "01:30", "2026-10-31 05:00", []string{"10-31 05:30", "11-01 05:30", "11-02 06:30"}},
		{"Africa/Cairo", "00:00", "2026-04-22 12:00", []string{"04-22 22:00", "04-23 22:00", "04-24 21:00"}},
		{"Asia/Kathmandu", "00:00", "2026-06-10 12:00", []string{"06-10 18:15", "06-11 18:15", "06-12 18:15"}},
		{"UTC", "23:59", "2026-12-30 12:00", []string{"12-30 23:59", "12-31 23:59", "01-01 23:59"}},
	} {
		t.Run(c.zone+" "+c.at, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start, err := time.Parse("2006-01-02 15:04", c.start)
				if err != nil {
					t.Fatal(err)
				}
				f := newFile()
				r := run(t, start, f, Config{FoldAt: at(c.at), Zone: zone(c.zone)})
				time.Sleep(72*time.Hour - time.Second)
				r.stop()
				got := []string{}
				for _, m := range f.folded[1:] {
					got = append(got, m.UTC().Format("01-02 15:04"))
				}
				if diff := cmp.Diff(c.want, got); diff != "" || !f.folded[0].Equal(start) {
					t.Errorf("first fold %v; the others in UTC (-want +got):\n%s", f.folded[0], diff)
				}
			})
		})
	}
}

// A fold that fails is tried again within the hour, not on the next night; one
// that panics too.
func TestRunFoldsAgainAfterAnError(t *testing.T) {
	for name, harm := range map[string]func(){"error": func() {}, "panic": func() { panic("at the disco") }} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start := ny("2026-06-10 12:00")
				f := newFile()
				f.onFold = func(now time.Time) error {
					if now.Sub(start) > 20*time.Minute {
						return nil
					}
					harm()
					return errors.New("disk is full")
				}
				r := run(t, start, f, Config{FoldAt: at("03:40"), Zone: newYork})
				time.Sleep(15 * time.Hour)
				r.stop()
				if diff := cmp.Diff([]time.Duration{0, 15 * time.Minute, 30 * time.Minute}, sinceStart(start, f.folded)); diff != "" {
					t.Errorf("folds (-want +got):\n%s", diff)
				}
				if n := strings.Count(r.log.String(), "level=ERROR"); n != 2 {
					t.Errorf("%d errors told, want 2:\n%s", n, r.log)
				}
			})
		})
	}
}

// One panic must not stop the step for good: the next tick, and all after it,
// run. Its value, which may hold anything, is not told.
func TestRunSurvivesPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := ny("2026-06-10 12:29")
		f := newFile(crowd(1)...)
		f.onList = func(now time.Time) error {
			if now.Before(start.Add(50 * time.Second)) {
				panic("anna@example.org wrote: my lips are swelling")
			}
			return nil
		}
		r := run(t, start, f, Config{})
		time.Sleep(2*time.Minute + time.Second)
		r.stop()
		if diff := cmp.Diff([]time.Duration{0, 20e9, 40e9, 60e9, 80e9, 100e9, 120e9}, sinceStart(start, f.listed)); diff != "" {
			t.Errorf("ticks (-want +got):\n%s", diff)
		}
		lunches(t, f, 1)
		if log := r.log.String(); strings.Count(log, "panic in a scheduler step") != 3 || !strings.Contains(log, "heartbeat_test.go") || strings.Contains(log, "anna") {
			t.Errorf("want three panics told, with where and without what:\n%s", log)
		}
	})
}

// A tick that takes longer than a heartbeat is not begun twice, and the fold
// goes on beside it.
func TestRunDoesNotOverlap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := ny("2026-06-10 12:00")
		var ticks, folds, most atomic.Int32
		f := newFile()
		f.onList = func(time.Time) error {
			most.Store(max(most.Load(), ticks.Add(1)))
			time.Sleep(65 * time.Second)
			ticks.Add(-1)
			return nil
		}
		f.onFold = func(time.Time) error {
			most.Store(max(most.Load(), folds.Add(1)))
			time.Sleep(65 * time.Second)
			folds.Add(-1)
			return nil
		}
		r := run(t, start, f, Config{})
		time.Sleep(4*time.Minute + time.Second)
		r.stop()
		time.Sleep(2 * time.Minute) // for the tick that was abandoned
		synctest.Wait()
		if most.Load() != 1 {
			t.Errorf("%d at once, want 1", most.Load())
		}
		// The heartbeats are at 0, 20, 40 ... seconds; the tick begun at 0 ends
		// at 65, so that the next begins at 80.
		if diff := cmp.Diff([]time.Duration{0, 80e9, 160e9, 240e9}, sinceStart(start, f.listed)); diff != "" {
			t.Errorf("ticks (-want +got):\n%s", diff)
		}
		if !f.folded[0].Equal(start) {
			t.Errorf("the fold at the start waited until %v", f.folded[0])
		}
		if log := r.log.String(); !strings.Contains(log, "step=tick") || !strings.Contains(log, "still running") {
			t.Errorf("nothing told of ticks passed over:\n%s", log)
		}
	})
}

// Ticks are wanted at once, however long the first fold takes.
func TestRunTicksBesideALongFold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFile(crowd(1)...)
		f.onFold = func(time.Time) error { time.Sleep(5 * time.Minute); return nil }
		r := run(t, ny("2026-06-10 12:29"), f, Config{})
		time.Sleep(2 * time.Minute)
		synctest.Wait()
		lunches(t, f, 1)
		time.Sleep(5 * time.Minute)
		r.stop()
	})
}

func TestRunEnds(t *testing.T) {
	for _, c := range []struct {
		name  string
		inJob time.Duration // how long a tick goes on after the end was asked for
		want  time.Duration
	}{
		{"idle", 0, 0}, {"in a tick", 4 * time.Second, 4 * time.Second}, {"in a tick that takes just too long", 11 * time.Second, 10 * time.Second},
		{"in a stuck tick", 1000 * time.Hour, 10 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start := ny("2026-06-10 12:00")
				f := newFile()
				f.onList = func(now time.Time) error {
					if c.inJob > 0 && now.Equal(start.Add(beat)) {
						time.Sleep(5*time.Second + c.inJob)
					}
					return nil
				}
				r := run(t, start, f, Config{})
				time.Sleep(beat + 5*time.Second)
				asked := time.Now()
				r.stop()
				if took := time.Since(asked); took != c.want {
					t.Errorf("Run ended after %v, want %v", took, c.want)
				}
				if told := strings.Contains(r.log.String(), "did not end in time"); told != (c.want == stopWait) {
					t.Errorf("told of a stuck step: %v", told)
				}
				time.Sleep(1001 * time.Hour)
				synctest.Wait()
				if n := len(f.listed); n != 2 {
					t.Errorf("%d ticks; want 2, none of them after the end", n)
				}
			})
		})
	}
}

// A stuck first tick does not keep Run from ending either.
func TestRunEndsInTheFirstTick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFile()
		release := make(chan struct{})
		f.onList = func(time.Time) error { <-release; return nil }
		r := run(t, ny("2026-06-10 12:00"), f, Config{})
		time.Sleep(time.Second)
		asked := time.Now()
		r.stop()
		if took := time.Since(asked); took != stopWait {
			t.Errorf("Run ended after %v, want %v", took, stopWait)
		}
		close(release)
	})
}

// Three hours back, in the last seconds before the nightly fold: the heartbeat
// goes on, nothing is put on file twice, and the fold comes at its hour again.
func TestRunWithTheClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := ny("2026-06-10 12:29:55")
		f := newFile(crowd(1)...)
		r := run(t, start, f, Config{FoldAt: at("12:31"), Zone: newYork})
		time.Sleep(58 * time.Second) // 12:30:53: lunch is on file
		synctest.Wait()
		lunches(t, f, 1)
		r.shift.Store(int64(-3 * time.Hour))
		time.Sleep(3*time.Hour + 9*time.Minute) // it shows 12:39
		r.stop()
		lunches(t, f, 1)
		if want := int((3*time.Hour+10*time.Minute)/beat) + 1; len(f.lapsed) < want-1 {
			t.Errorf("%d ticks, want %d: the heartbeat stalled", len(f.lapsed), want)
		}
		if next := f.next[1]; !next.Equal(ny("2026-06-10 19:30")) {
			t.Errorf("next look %v, want at dinner", next)
		}
		var hours []string
		for _, m := range f.folded {
			hours = append(hours, m.In(newYork).Format("15:04"))
		}
		if diff := cmp.Diff([]string{"12:29", "09:30", "12:31"}, hours); diff != "" {
			t.Errorf("folds (-want +got):\n%s", diff)
		}
		if log := r.log.String(); strings.Count(log, "the clock was set back") != 1 {
			t.Errorf("want the step told once:\n%s", log)
		}
	})
}

// A clock that runs a year ahead for some minutes must not use up a year of
// nudges. Where it stays ahead, it is believed after ten minutes.
func TestRunWithTheClockAhead(t *testing.T) {
	const year = 365 * 24 * time.Hour
	for _, c := range []struct {
		name   string
		lasts  time.Duration
		burned bool
	}{{"for a minute", time.Minute, false}, {"for nine minutes", 9 * time.Minute, false}, {"for eleven minutes", 11 * time.Minute, true}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := newFile(crowd(1)...)
				r := run(t, ny("2026-06-10 12:04:55"), f, Config{FoldAt: at("03:40"), Zone: newYork})
				time.Sleep(5 * time.Minute)
				r.shift.Store(int64(year))
				time.Sleep(c.lasts)
				r.shift.Store(0)
				time.Sleep(time.Until(ny("2026-06-10 12:35")))
				r.stop()
				if !c.burned {
					lunches(t, f, 1)
				} else if len(f.nudges) != 4*365 {
					t.Errorf("%d nudges on file, want a year of them", len(f.nudges))
				}
				ahead := 0
				for _, m := range append(f.folded, f.lapsed...) {
					if m.Year() == 2027 {
						ahead++
					}
				}
				if (ahead > 0) != c.burned {
					t.Errorf("%d steps were taken by the wrong clock", ahead)
				}
				if log := r.log.String(); strings.Count(log, "the clock leapt ahead") != 1 || strings.Count(log, "the clock was set back") != 1 {
					t.Errorf("want both steps told once:\n%s", log)
				}
			})
		})
	}
}

// Nothing that names or reaches a person stands in a log line, whatever goes
// wrong.
func TestLogsNameNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hostile := plan.Patient{
			ID: 1, Ref: "k7m2qx", FirstName: "Annabel\nlevel=ERROR msg=forged", LastName: "{{O'Hostile}}", Phone: "+1 555 0199",
			Hold: plan.Hold{Since: consent.At, Reason: "swollen lips"},
			Recipients: []plan.Recipient{
				{ID: 1, Address: "annabel.hostile@patient.test", Consent: consent},
				{ID: 2, Role: plan.RoleGuardian, Name: "Guardiana", Address: "guardiana@patient.test", Consent: consent},
			},
		}
		people := crowd(3)
		for i := range people {
			hostile.ID = int64(i + 1)
			people[i].Patient = hostile
		}
		people[1].Versions[0].Zone = "annabel.hostile@patient.test"
		f := newFile(people...)
		beats := 0
		f.onList = func(time.Time) error {
			if beats++; beats == 3 {
				panic(people[0].Patient)
			}
			return nil
		}
		f.onEnqueue = func(time.Time, []plan.Owed) error {
			if beats == 1 {
				return errors.New("disk is full")
			}
			return nil
		}
		var log bytes.Buffer
		time.Sleep(time.Until(lunchtime))
		s := New(Config{Store: f, Log: slog.New(slog.NewJSONHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))})
		ctx, cancel := context.WithTimeout(t.Context(), 70*time.Second)
		defer cancel()
		if err := s.Run(ctx); err != nil {
			t.Fatal(err)
		}
		s.look(people[2], lunchtime, func(string) (*time.Location, error) { panic(people[2].Patient.FirstName) })
		out := log.String()
		for _, must := range []string{"k7m2qx", "disk is full", "panic in a scheduler step", "panic over a plan", "no known time zone"} {
			if !strings.Contains(out, must) {
				t.Errorf("the log does not hold %q, so it was not put to the test", must)
			}
		}
		for _, never := range []string{"nnabel", "ostile", "uardian", "patient.test", "0199", "swollen", "forged", "nadia"} {
			if strings.Contains(out, never) {
				t.Errorf("the log holds %q:\n%s", never, out)
			}
		}
	})
}

// A plan over which the program stumbles is one patient's trouble.
func TestPanicOverOnePlan(t *testing.T) {
	s, _ := newTick(newFile(), 0)
	d := crowd(1)[0]
	_, err := s.look(d, lunchtime, func(string) (*time.Location, error) { var none []int; _ = none[d.Patient.ID]; return nil, nil })
	if err == nil || !strings.Contains(err.Error(), "index out of range") {
		t.Errorf("error %v; want the runtime's own words", err)
	}
	_, err = s.look(d, lunchtime, func(string) (*time.Location, error) { panic("anna@example.org") })
	if err == nil || strings.Contains(err.Error(), "anna") {
		t.Errorf("error %v; want one without the value", err)
	}
}
