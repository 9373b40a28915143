// Package scheduler is the heartbeat of the daemon. Each tick looks at the
// patients who have something due, puts those nudges on file and lapses what
// went stale; each night it folds the day records.
//
// Its promises: a tick costs what is due, not who is enrolled. A nudge is put
// on file once, whatever happens between two ticks, because the file refuses a
// second one of the same patient, kind, day and slot. What came due while the
// daemon was down is put on file as lapsed once its moment has passed, and is
// never sent late.
//
// robfig/cron is the heartbeat only. No patient's meal is ever a cron spec: the
// library skips an hour that spring takes and repeats one that autumn gives.
package scheduler

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"bandbell/scheduler/plan"
)

// Store is what the scheduler needs of the database.
type Store interface {
	// DuePatients lists patients to look at by now, longest waiting first.
	DuePatients(ctx context.Context, now time.Time, limit int) ([]plan.DuePatient, error)
	// Enqueue puts a batch on file in one transaction. A patient whose plan
	// changed since it was read is left for the next tick.
	Enqueue(ctx context.Context, now time.Time, owed []plan.Owed) error
	// LapseStale ends messages whose moment has passed.
	LapseStale(ctx context.Context, now time.Time) (int, error)
	// FoldDue brings the day records up to date.
	FoldDue(ctx context.Context, now time.Time) (int, error)
}

// Config is what a Scheduler is made of.
type Config struct {
	Store  Store
	Now    func() time.Time // nil: time.Now
	Log    *slog.Logger     // nil: slog.Default
	Batch  int              // patients a transaction; 0: 200
	OnDue  func()           // called after a tick that put something on file; may be nil
	Alive  func()           // called after each tick that ended well, for a watchdog; may be nil
	FoldAt plan.Clock       // when day records are folded
	Zone   *time.Location   // of FoldAt, the clinic's; nil: UTC
}

// Scheduler plans due nudges and folds day records.
type Scheduler struct{ Config }

// defaultBatch is how many patients one transaction plans for.
const defaultBatch = 200

// New makes a Scheduler.
func New(c Config) *Scheduler {
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.Batch <= 0 {
		c.Batch = defaultBatch
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	return &Scheduler{c}
}

// Tick puts on file every nudge that has come due, and lapses the stale ones.
// It returns how many nudges it handed to the file. One patient whose plan cannot be
// reckoned (an unknown zone) is reported and passed over until tomorrow; the
// others are planned. The error joins all that went wrong; it names patients by
// their internal reference only.
//
// Its invariant: after a tick without an error no patient waits before now but
// those the file would not take because they had just changed, and a second
// tick at the same moment finds nothing.
func (s *Scheduler) Tick(ctx context.Context) (int, error) { return s.tick(ctx, s.Now()) }

func (s *Scheduler) tick(ctx context.Context, now time.Time) (int, error) {
	if err := credible(now); err != nil {
		return 0, err
	}
	found, err := s.plan(ctx, now)
	if ctx.Err() == nil {
		if _, stale := s.Store.LapseStale(ctx, now); stale != nil {
			err = errors.Join(err, fmt.Errorf("lapse stale messages: %w", stale))
		}
	}
	// Also after an error: what earlier batches put on file is due now.
	if found > 0 && s.OnDue != nil {
		s.OnDue()
	}
	return found, err
}

// plan works through the patients who are due, batch by batch.
//
// It ends: each round moves some patient on in time, finds one more whom the
// file gives back unmoved, or is the last. Those unmoved are passed over for
// this tick, and more are asked for, so that the ones behind are reached.
func (s *Scheduler) plan(ctx context.Context, now time.Time) (found int, err error) {
	var faults []error
	zones := zoneCache{}
	through := map[int64]time.Time{} // of each patient looked at in this tick
	stuck := map[int64]bool{}
	for more := true; more; {
		limit := s.Batch + len(stuck)
		due, err := s.Store.DuePatients(ctx, now, limit)
		if err != nil {
			faults = append(faults, fmt.Errorf("list due patients: %w", err))
			break
		}
		more = len(due) >= limit
		batch, nudges := make([]plan.Owed, 0, len(due)), 0
		for _, d := range due {
			if before, seen := through[d.Patient.ID]; seen && !d.Through.After(before) {
				stuck[d.Patient.ID] = true
				continue
			}
			through[d.Patient.ID] = d.Through
			owed, err := s.look(d, now, zones.load)
			if err != nil {
				faults = append(faults, fmt.Errorf("plan for patient %s: %w", d.Patient.Ref, err))
				owed = plan.Owed{PatientID: d.Patient.ID, Version: latest(d).Number, Through: d.Through, NextDue: now.Add(lookAgain)}
			}
			more = more || !owed.NextDue.IsZero() && !owed.NextDue.After(now)
			nudges += len(owed.Nudges)
			batch = append(batch, owed)
		}
		if len(batch) == 0 {
			continue // all of them unmoved: those behind, if there are any
		}
		if err := s.Store.Enqueue(ctx, now, batch); err != nil {
			faults = append(faults, fmt.Errorf("put nudges on file: %w", err))
			break
		}
		found += nudges
	}
	return found, errors.Join(faults...)
}

// look is owed, held to one patient: a plan over which the program stumbles
// silences nobody else.
func (s *Scheduler) look(d plan.DuePatient, now time.Time, load func(string) (*time.Location, error)) (o plan.Owed, err error) {
	defer func() {
		if r := recover(); r != nil {
			s.Log.Error("panic over a plan", "patient", d.Patient.Ref, "panic", panicked(r), "stack", string(debug.Stack()))
			err = errors.New("the program stumbled over this plan: " + panicked(r))
		}
	}()
	return owed(d, now, load)
}

// Fold brings the day records up to date and returns how many patients it
// folded.
func (s *Scheduler) Fold(ctx context.Context) (int, error) { return s.fold(ctx, s.Now()) }

func (s *Scheduler) fold(ctx context.Context, now time.Time) (int, error) {
	if err := credible(now); err != nil {
		return 0, err
	}
	n, err := s.Store.FoldDue(ctx, now)
	if err != nil {
		return n, fmt.Errorf("fold day records: %w", err)
	}
	return n, nil
}

// The years in which a clock is believed. An unset one reads 1970, a broken one
// runs far ahead, and what has gone on file as lapsed stays so. Common
// practice, no source.
const (
	firstYear = 2020
	lastYear  = 2099
)

// credible refuses a moment at which no right clock can stand.
func credible(now time.Time) error {
	if y := now.UTC().Year(); y < firstYear || y > lastYear {
		return fmt.Errorf("the clock says it is the year %d, so nothing is done; set the clock of this machine", y)
	}
	return nil
}

// zoneCache loads each time zone once; it lives for one tick, so that new zone
// data is seen.
type zoneCache map[string]*time.Location

func (c zoneCache) load(name string) (*time.Location, error) {
	if loc, ok := c[name]; ok {
		return loc, nil
	}
	loc, err := time.LoadLocation(name)
	if err == nil {
		c[name] = loc
	}
	return loc, err
}
