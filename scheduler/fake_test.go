package scheduler

import (
	"cmp"
	"container/heap"
	"context"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"bandbell/scheduler/plan"
)

func day(s string) plan.Date {
	d, err := plan.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func at(s string) plan.Clock {
	c, err := plan.ParseClock(s)
	if err != nil {
		panic(err)
	}
	return c
}

func meal(code plan.MealCode, clock string, minutes int) plan.Meal {
	return plan.Meal{Code: code, At: at(clock), Minutes: minutes, Days: plan.AllDays}
}

func zone(name string) *time.Location {
	loc, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return loc
}

const newYorkName = "America/New_York"

var newYork = zone(newYorkName)

// ny is a wall reading of New York, 2006-01-02 15:04 or with seconds and parts
// of them.
func ny(s string) time.Time {
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05.999999999"} {
		if t, err := time.ParseInLocation(layout, s, newYork); err == nil {
			return t
		}
	}
	panic("no time: " + s)
}

// base is an invented plan. On 10 June 2026, a Wednesday after the sore week,
// it owes PCM 08:00-09:30, PCD 12:30-14:00, PCV 19:30-21:00, HS 22:00-23:30.
func base() plan.Plan {
	return plan.Plan{
		Appliance: plan.Braces, BandsStart: day("2026-06-01"), PlannedEnd: day("2027-12-01"), HoursPerDay: 22, ChangesPerDay: 4,
		NoticeAt: at("08:00"), EveningAt: at("17:30"), UsefulMin: 90,
		Meals: []plan.Meal{
			meal(plan.AfterBreakfast, "07:30", 30), meal(plan.AfterLunch, "12:00", 30),
			meal(plan.AfterDinner, "19:00", 30), meal(plan.Bedtime, "22:00", 0),
		},
	}
}

// with is the base plan, changed.
func with(change func(*plan.Plan)) plan.Plan {
	p := base()
	change(&p)
	return p
}

var consent = plan.Consent{At: ny("2026-05-01 09:00"), How: "paper"}

// person is an invented patient on one version of a plan, written on 20 May.
func person(id int64, p plan.Plan) plan.DuePatient {
	return plan.DuePatient{
		Patient: plan.Patient{
			ID: id, Ref: "ref" + string(rune('a'+id%26)), FirstName: "Nadia", Zone: newYorkName,
			Recipients: []plan.Recipient{{ID: id, Role: plan.RolePatient, Address: "nadia@example.org", Consent: consent}},
		},
		Versions: []plan.Version{{Number: 1, First: day("2026-05-20"), Zone: newYorkName, Created: ny("2026-05-20 09:00"), Plan: p}},
	}
}

type nudgeKey struct {
	patient int64
	kind    plan.Kind
	day     plan.Date
	slot    string
}

// filed is a nudge on file, and the moment it was put there.
type filed struct {
	plan.Owing
	at time.Time
}

// file is an in-memory Store: nudges are unique, versions are checked, and
// patients are found by an index on their next moment.
type file struct {
	mu       sync.Mutex
	patients map[int64]*plan.DuePatient
	next     map[int64]time.Time
	index    index // may hold moments that no longer stand
	nudges   map[nudgeKey]filed

	listed, enqueued, lapsed, folded []time.Time // the moments of the calls
	batches                          []int       // patients in each Enqueue

	onList, onFold func(now time.Time) error                   // nil: nothing
	onEnqueue      func(now time.Time, owed []plan.Owed) error // before the transaction
	onCommit       func(now time.Time, owed []plan.Owed) error // after it
	onLapse        func(now time.Time) error
	refuse         map[int64]bool // patients Enqueue leaves as they are
}

func newFile(people ...plan.DuePatient) *file {
	f := &file{patients: map[int64]*plan.DuePatient{}, next: map[int64]time.Time{}, nudges: map[nudgeKey]filed{}, refuse: map[int64]bool{}}
	for _, p := range people {
		f.add(p, latest(p).Created)
	}
	return f
}

func (f *file) add(p plan.DuePatient, next time.Time) {
	f.patients[p.Patient.ID] = &p
	f.wake(p.Patient.ID, next)
}

func (f *file) wake(id int64, next time.Time) {
	f.next[id] = next
	if !next.IsZero() {
		heap.Push(&f.index, moment{next, id})
	}
}

// setPlan adds a version and has the next tick look, as the database does.
func (f *file) setPlan(id int64, v plan.Version) {
	p := f.patients[id]
	v.Number = len(p.Versions) + 1
	p.Versions = append(p.Versions[:len(p.Versions):len(p.Versions)], v)
	f.wake(id, v.Created)
}

func ifSet(f func(time.Time) error, now time.Time) error {
	if f == nil {
		return nil
	}
	return f(now)
}

func (f *file) DuePatients(_ context.Context, now time.Time, limit int) ([]plan.DuePatient, error) {
	f.mu.Lock()
	f.listed = append(f.listed, now)
	f.mu.Unlock()
	if err := ifSet(f.onList, now); err != nil {
		return nil, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	var due []plan.DuePatient
	var taken []moment
	for len(due) < limit && len(f.index) > 0 && !f.index[0].at.After(now) {
		m := heap.Pop(&f.index).(moment)
		if !f.next[m.id].Equal(m.at) || len(taken) > 0 && taken[len(taken)-1] == m {
			continue
		}
		taken = append(taken, m)
		due = append(due, *f.patients[m.id])
	}
	for _, m := range taken {
		heap.Push(&f.index, m)
	}
	return due, nil
}

func (f *file) Enqueue(_ context.Context, now time.Time, owed []plan.Owed) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.enqueued = append(f.enqueued, now)
	f.batches = append(f.batches, len(owed))
	if f.onEnqueue != nil {
		if err := f.onEnqueue(now, owed); err != nil {
			return err
		}
	}
	for _, o := range owed {
		p := f.patients[o.PatientID]
		if f.refuse[o.PatientID] || o.Version != latest(*p).Number {
			continue
		}
		p.Through = o.Through.Truncate(time.Millisecond) // as milliseconds are stored
		f.wake(o.PatientID, o.NextDue)
		for _, owing := range o.Nudges {
			k := nudgeKey{o.PatientID, owing.Nudge.Kind, owing.Nudge.Day, owing.Nudge.Slot}
			if _, found := f.nudges[k]; !found {
				f.nudges[k] = filed{owing, now}
			}
		}
	}
	if f.onCommit != nil {
		return f.onCommit(now, owed)
	}
	return nil
}

func (f *file) LapseStale(_ context.Context, now time.Time) (int, error) {
	f.mu.Lock()
	f.lapsed = append(f.lapsed, now)
	f.mu.Unlock()
	return 0, ifSet(f.onLapse, now)
}

func (f *file) FoldDue(_ context.Context, now time.Time) (int, error) {
	f.mu.Lock()
	f.folded = append(f.folded, now)
	f.mu.Unlock()
	return 0, ifSet(f.onFold, now)
}

type moment struct {
	at time.Time
	id int64
}

// index is a heap of moments, the earliest first.
type index []moment

func (x index) Len() int { return len(x) }
func (x index) Less(i, j int) bool {
	return cmp.Or(x[i].at.Compare(x[j].at), cmp.Compare(x[i].id, x[j].id)) < 0
}
func (x index) Swap(i, j int) { x[i], x[j] = x[j], x[i] }
func (x *index) Push(v any)   { *x = append(*x, v.(moment)) }
func (x *index) Pop() any {
	old := *x
	v := old[len(old)-1]
	*x = old[:len(old)-1]
	return v
}

// waiting lists the patients that wait before or at now.
func (f *file) waiting(now time.Time) (ids []int64) {
	for id, next := range f.next {
		if !next.IsZero() && !next.After(now) {
			ids = append(ids, id)
		}
	}
	return ids
}

func mustTick(t testing.TB, s *Scheduler) int {
	t.Helper()
	n, err := s.Tick(t.Context())
	if err != nil {
		t.Fatalf("Tick: %v", err)
	}
	return n
}
