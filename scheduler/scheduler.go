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
// It returns how many nudges it found due. One patient whose plan cannot be
// reckoned (an unknown zone) is reported and passed over until tomorrow; the
// others are planned.
//
// Its invariant: after a tick no patient waits before now, and a second tick at
// the same moment finds nothing.
func (s *Scheduler) Tick(ctx context.Context) (int, error) {
	now := s.Now()
	found := 0
	var faults []error
	for {
		due, err := s.Store.DuePatients(ctx, now, s.Batch)
		if err != nil {
			return found, fmt.Errorf("list due patients: %w", err)
		}
		if len(due) == 0 {
			break
		}
		batch := make([]plan.Owed, 0, len(due))
		for _, d := range due {
			owed, err := Owed(d, now)
			if err != nil {
				faults = append(faults, fmt.Errorf("plan for patient %s: %w", d.Patient.Ref, err))
				owed = plan.Owed{PatientID: d.Patient.ID, Version: latest(d).Number, Through: d.Through, NextDue: now.Add(lookAgain)}
			}
			found += len(owed.Nudges)
			batch = append(batch, owed)
		}
		if err := s.Store.Enqueue(ctx, now, batch); err != nil {
			return found, fmt.Errorf("put nudges on file: %w", err)
		}
		if len(due) < s.Batch {
			break
		}
	}
	if _, err := s.Store.LapseStale(ctx, now); err != nil {
		faults = append(faults, fmt.Errorf("lapse stale messages: %w", err))
	}
	if found > 0 && s.OnDue != nil {
		s.OnDue()
	}
	return found, errors.Join(faults...)
}

// Fold brings the day records up to date.
func (s *Scheduler) Fold(ctx context.Context) (int, error) {
	n, err := s.Store.FoldDue(ctx, s.Now())
	if err != nil {
		return n, fmt.Errorf("fold day records: %w", err)
	}
	return n, nil
}
