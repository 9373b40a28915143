package scheduler

import (
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// lunchtime is when the base patient's lunch of 10 June has just come due.
var lunchtime = ny("2026-06-10 12:30:10")

// crowd is n base patients, all handled through noon of 10 June and due now.
func crowd(n int) []plan.DuePatient {
	var out []plan.DuePatient
	for id := range int64(n) {
		d := person(id+1, base())
		d.Patient.Ref = fmt.Sprintf("ref%03d", id+1)
		d.Through = ny("2026-06-10 12:00")
		out = append(out, d)
	}
	return out
}

// newTick makes a Scheduler at lunchtime, and counts the calls of OnDue.
func newTick(f *file, batch int) (s *Scheduler, woken *int) {
	woken = new(int)
	return New(Config{
		Store: f, Now: func() time.Time { return lunchtime }, Log: slog.New(slog.DiscardHandler),
		Batch: batch, OnDue: func() { *woken++ },
	}), woken
}

func lunchOf(id int64) nudgeKey {
	return nudgeKey{id, plan.BandChange, day("2026-06-10"), "2026-06-10/PCD"}
}

// lunches checks that on file is the lunch of each of the patients 1..n but for
// the exceptions, and nothing else.
func lunches(t *testing.T, f *file, n int, except ...int64) {
	t.Helper()
	want, got := map[nudgeKey]string{}, map[nudgeKey]string{}
	for id := range int64(n) {
		want[lunchOf(id+1)] = ""
	}
	for _, id := range except {
		delete(want, lunchOf(id))
	}
	for k, n := range f.nudges {
		got[k] = n.Lapse
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(nudgeKey{})); diff != "" {
		t.Errorf("on file (-want +got):\n%s", diff)
	}
}

func TestTickTwice(t *testing.T) {
	f := newFile(crowd(5)...)
	s, woken := newTick(f, 0)
	if n := mustTick(t, s); n != 5 {
		t.Errorf("the first tick found %d, want 5", n)
	}
	lunches(t, f, 5)
	if n := mustTick(t, s); n != 0 {
		t.Errorf("the second tick found %d", n)
	}
	if len(f.nudges) != 5 || *woken != 1 || len(f.enqueued) != 1 || len(f.lapsed) != 2 {
		t.Errorf("%d nudges, woken %d times, %d transactions, %d times lapsed; want 5, 1, 1, 2", len(f.nudges), *woken, len(f.enqueued), len(f.lapsed))
	}
}

// The file, not the tick, makes a nudge unique: a patient looked at anew from
// before (a restored backup) gets nothing twice.
func TestTickAgainFromBefore(t *testing.T) {
	f := newFile(crowd(1)...)
	s, _ := newTick(f, 0)
	mustTick(t, s)
	first := f.nudges[lunchOf(1)]
	f.patients[1].Through = ny("2026-06-10 12:00")
	f.wake(1, lunchtime)
	mustTick(t, s)
	lunches(t, f, 1)
	if diff := cmp.Diff(first.at, f.nudges[lunchOf(1)].at); diff != "" {
		t.Errorf("the nudge was put on file again: %s", diff)
	}
}

func TestTickBatches(t *testing.T) {
	for _, c := range []struct {
		patients int
		want     []int
	}{
		{0, nil}, {1, []int{1}}, {2, []int{2}}, {3, []int{3}}, {4, []int{3, 1}}, {6, []int{3, 3}}, {7, []int{3, 3, 1}},
	} {
		f := newFile(crowd(c.patients)...)
		s, woken := newTick(f, 3)
		if n := mustTick(t, s); n != c.patients {
			t.Errorf("%d patients: found %d", c.patients, n)
		}
		lunches(t, f, c.patients)
		if diff := cmp.Diff(c.want, f.batches); diff != "" {
			t.Errorf("%d patients: batches (-want +got):\n%s", c.patients, diff)
		}
		if *woken != min(1, c.patients) {
			t.Errorf("%d patients: woken %d times", c.patients, *woken)
		}
		// Each full batch may hide another; a short one is the last.
		if most := c.patients/3 + 1; len(f.listed) != most {
			t.Errorf("%d patients: asked %d times, want %d", c.patients, len(f.listed), most)
		}
	}
}

// A tick without a due nudge looks, moves the patient on and wakes nobody.
func TestTickFindsNothing(t *testing.T) {
	people := crowd(1)
	people[0].Versions[0].Plan.Meals = nil
	f := newFile(people...)
	s, woken := newTick(f, 0)
	if n := mustTick(t, s); n != 0 || *woken != 0 || len(f.nudges) != 0 {
		t.Errorf("found %d, woken %d times, %d on file", n, *woken, len(f.nudges))
	}
	if next := f.next[1]; !next.Equal(lunchtime.Add(24 * time.Hour)) {
		t.Errorf("next look %v, want a day later", next)
	}
	s.OnDue = nil
	f.patients[1].Versions[0].Plan.Meals = base().Meals
	f.patients[1].Through = ny("2026-06-10 12:00")
	f.wake(1, lunchtime)
	if n := mustTick(t, s); n != 1 {
		t.Errorf("with nobody to wake: found %d, want 1", n)
	}
}

func TestTickPassesOverAnUnknownZone(t *testing.T) {
	people := crowd(5)
	people[1].Versions[0].Zone = "Mars/anna@example.org"
	people[3].Versions = nil
	f := newFile()
	for _, p := range people {
		f.add(p, ny("2026-06-10 12:30"))
	}
	s, woken := newTick(f, 2)
	n, err := s.Tick(t.Context())
	if n != 3 || *woken != 1 {
		t.Errorf("found %d, woken %d times; want 3 and once", n, *woken)
	}
	lunches(t, f, 5, 2, 4)
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok || len(joined.Unwrap()) != 2 {
		t.Fatalf("error %v; want both faults joined", err)
	}
	for i, ref := range []string{"ref002", "ref004"} {
		if text := joined.Unwrap()[i].Error(); !strings.Contains(text, ref) || strings.Contains(text, "Nadia") || strings.Contains(text, "@") {
			t.Errorf("fault %q; want it to name %s and nobody else", text, ref)
		}
	}
	for _, id := range []int64{2, 4} {
		if !f.next[id].Equal(lunchtime.Add(24*time.Hour)) || !f.patients[id].Through.Equal(people[id-1].Through) {
			t.Errorf("patient %d: next look %v, handled through %v; want tomorrow, and no further than before", id, f.next[id], f.patients[id].Through)
		}
	}
	// Once the zone is known, nothing that came due meanwhile is lost.
	f.patients[2].Versions[0].Zone = newYorkName
	f.wake(2, lunchtime)
	mustTick(t, s)
	lunches(t, f, 5, 4)
}

// What was found before the file failed is told beside it.
func TestTickTellsAllFaults(t *testing.T) {
	broken, worse := errors.New("disk is full"), errors.New("disk is gone")
	people := crowd(5)
	people[0].Versions[0].Zone = "Mars/Olympus"
	f := newFile(people...)
	f.onEnqueue = func(time.Time, []plan.Owed) error {
		if len(f.batches) == 2 {
			return broken
		}
		return nil
	}
	f.onLapse = func(time.Time) error { return worse }
	s, _ := newTick(f, 2)
	_, err := s.Tick(t.Context())
	if !errors.Is(err, broken) || !errors.Is(err, worse) || !strings.Contains(err.Error(), "patient ref001") {
		t.Errorf("error %v; want the patient and both faults of the file", err)
	}
}

// Whatever step of the file fails, before its transaction or after, the next
// tick makes good.
func TestTickAfterAnError(t *testing.T) {
	broken := errors.New("disk is full")
	onSecond := func() func(time.Time, []plan.Owed) error {
		calls := 0
		return func(time.Time, []plan.Owed) error {
			if calls++; calls == 2 {
				return broken
			}
			return nil
		}
	}
	cases := []struct {
		name  string
		harm  func(*file)
		found int // by the tick that fails
	}{
		{"listing", func(f *file) { f.onList = func(time.Time) error { return broken } }, 0},
		{"listing again", func(f *file) {
			calls := 0
			f.onList = func(time.Time) error {
				if calls++; calls == 2 {
					return broken
				}
				return nil
			}
		}, 2},
		{"the first transaction", func(f *file) { f.onEnqueue = func(time.Time, []plan.Owed) error { return broken } }, 0},
		{"the second transaction", func(f *file) { f.onEnqueue = onSecond() }, 2},
		{"after the second is committed", func(f *file) { f.onCommit = onSecond() }, 2},
		{"lapsing", func(f *file) { f.onLapse = func(time.Time) error { return broken } }, 5},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f := newFile(crowd(5)...)
			c.harm(f)
			s, woken := newTick(f, 2)
			n, err := s.Tick(t.Context())
			if !errors.Is(err, broken) {
				t.Errorf("error %v, want %v", err, broken)
			}
			if n != c.found || *woken != min(1, c.found) {
				t.Errorf("found %d, woken %d times; want %d, and woken if any", n, *woken, c.found)
			}
			if len(f.lapsed) != 1 {
				t.Errorf("stale messages lapsed %d times, want once all the same", len(f.lapsed))
			}
			f.onList, f.onEnqueue, f.onCommit, f.onLapse = nil, nil, nil, nil
			mustTick(t, s)
			lunches(t, f, 5)
			if ids := f.waiting(lunchtime); len(ids) > 0 {
				t.Errorf("patients %v still wait", ids)
			}
		})
	}
}

// A patient whom the file will not move neither holds the tick for ever nor
// hides the others.
func TestTickPassesOverWhomTheFileRefuses(t *testing.T) {
	for _, c := range []struct {
		name    string
		batch   int
		refused []int64
	}{
		{"the first", 1, []int64{1}}, {"a whole batch", 2, []int64{1, 2}}, {"more than a batch", 2, []int64{1, 2, 3, 4}},
		{"the last", 2, []int64{7}}, {"some", 3, []int64{2, 3, 6}}, {"everyone", 2, []int64{1, 2, 3, 4, 5, 6, 7}}, {"nobody", 2, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFile(crowd(7)...)
			for _, id := range c.refused {
				f.refuse[id] = true
			}
			f.onList = func(time.Time) error {
				if len(f.listed) > 30 {
					return errors.New("the tick does not end")
				}
				return nil
			}
			s, _ := newTick(f, c.batch)
			mustTick(t, s)
			lunches(t, f, 7, c.refused...)
			clear(f.refuse)
			mustTick(t, s)
			lunches(t, f, 7)
		})
	}
}

// A plan set between reading a patient and putting the nudges on file: the
// patient is left alone, and the next look goes by the new plan.
func TestTickMeetsAPlanBeingSet(t *testing.T) {
	f := newFile(crowd(3)...)
	f.onEnqueue = func(time.Time, []plan.Owed) error {
		f.onEnqueue = nil
		f.setPlan(2, plan.Version{First: day("2026-06-10"), Zone: newYorkName, Created: lunchtime, Plan: lunchAt("13:00")})
		return nil
	}
	s, _ := newTick(f, 2)
	mustTick(t, s)
	lunches(t, f, 3, 2)
	s.Now = func() time.Time { return ny("2026-06-10 13:30") }
	mustTick(t, s)
	lunches(t, f, 3)
	if due := f.nudges[lunchOf(2)].Nudge.Due; !due.Equal(ny("2026-06-10 13:30")) {
		t.Errorf("lunch of the changed plan is due %v, want 13:30", due)
	}
}

// A file restored after half a year is caught up with in one tick, by
// transactions of a month.
func TestTickCatchesUp(t *testing.T) {
	people := crowd(2)
	people[0].Through = ny("2026-06-10 00:00")
	f := newFile(people...)
	s, _ := newTick(f, 0)
	now := ny("2026-12-07 00:00") // 180 days of four meals, and a bedtime sent until 23:30
	s.Now = func() time.Time { return now }
	f.patients[2].Through = ny("2026-12-06 21:00")
	if n := mustTick(t, s); n != 180*4+1 || len(f.waiting(now)) > 0 {
		t.Errorf("found %d, %v wait; want %d and none", n, f.waiting(now), 180*4+1)
	}
	if diff := cmp.Diff([]int{2, 1, 1, 1, 1, 1}, f.batches); diff != "" {
		t.Errorf("batches (-want +got):\n%s", diff)
	}
	for k, n := range f.nudges {
		if n.Lapse != LapsePassed {
			t.Errorf("%v does not lapse", k)
		}
	}
}

// A clock that cannot be right plans nothing: what lapses stays lapsed.
func TestClockOutOfRange(t *testing.T) {
	for _, c := range []struct {
		now string
		ok  bool
	}{
		{"1970-01-01T00:00:00Z", false}, {"2019-12-31T23:59:59Z", false}, {"2020-01-01T00:00:00Z", true},
		{"2099-12-31T23:59:59Z", true}, {"2100-01-01T00:00:00Z", false}, {"2100-01-01T01:00:00+02:00", true},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		f := newFile()
		s, _ := newTick(f, 0)
		s.Now = func() time.Time { return now }
		_, tick := s.Tick(t.Context())
		_, fold := s.Fold(t.Context())
		calls := len(f.listed) + len(f.lapsed) + len(f.folded)
		if (tick == nil) != c.ok || (fold == nil) != c.ok || (calls == 3) != c.ok || calls != 0 && !c.ok {
			t.Errorf("%s: tick %v, fold %v, %d calls of the file", c.now, tick, fold, calls)
		}
	}
}

func TestFold(t *testing.T) {
	broken := errors.New("disk is full")
	f := newFile()
	s, _ := newTick(f, 0)
	if _, err := s.Fold(t.Context()); err != nil || !cmp.Equal(f.folded, []time.Time{lunchtime}) {
		t.Errorf("folded at %v, %v; want once, now", f.folded, err)
	}
	f.onFold = func(time.Time) error { return broken }
	if _, err := s.Fold(t.Context()); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
}
