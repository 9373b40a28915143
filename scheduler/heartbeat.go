package scheduler

import (
	"context"
	"fmt"
	"log/slog"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"github.com/robfig/cron/v3"

	"bandbell/scheduler/plan"
)

// Common practice, no source.
const (
	// beat is the heartbeat: short, so that a step of the system clock delays a
	// nudge by no more than this.
	beat = 20 * time.Second

	// stopWait is how long a step in flight is waited for when the daemon stops.
	stopWait = 10 * time.Second

	// foldAgain is when a fold that failed is tried again.
	foldAgain = 15 * time.Minute
)

// Run ticks at once and with every heartbeat, and folds at once and each night,
// until ctx ends. A step that is still running is not started again, and a
// panic in one is logged and does not end the heartbeat: of the wrappers the
// one that skips stands outside and the one that recovers inside, for the other
// way round one panic would stop the step for good. A step that does not end
// with ctx is abandoned after ten seconds.
//
// Both steps hang on one heartbeat, and the fold looks at the clock for itself.
// As a cron spec it would be left out on a night whose hour spring takes, and a
// clock set back just before it would stop the heartbeat until the old time
// came again.
func (s *Scheduler) Run(ctx context.Context) error {
	step := func(name string, now time.Time, f func(context.Context, time.Time) (int, error)) error {
		n, err := f(ctx, now)
		if err != nil && ctx.Err() == nil {
			s.Log.Error("scheduler step failed", "step", name, "err", err)
		} else if n > 0 {
			s.Log.Info("scheduler step", "step", name, "count", n)
		}
		return err
	}
	// The moment of the last heartbeat whose clock was trusted. The steps go by
	// it and ask no clock again: it could have leapt meanwhile.
	var moment atomic.Pointer[time.Time]
	alive := s.Alive
	if alive == nil {
		alive = func() {}
	}
	tick := s.job("tick", slog.LevelWarn, func() {
		if step("tick", *moment.Load(), s.tick) == nil {
			alive()
		}
	})
	var night nightly
	fold := s.job("fold", slog.LevelDebug, func() {
		now := *moment.Load()
		if !night.due(now) {
			return
		}
		night = nightly{last: now, next: now.Add(foldAgain)} // also where it panics
		if step("fold", now, s.fold) == nil {
			night.next = foldAfter(now, s.FoldAt, s.Zone)
		}
	})
	var clock clockWatch
	var running sync.WaitGroup
	heart := s.job("heartbeat", slog.LevelWarn, func() {
		// The wall clock alone: compared by the time since the program began, a
		// clock set back would not show.
		if now := s.Now().Round(0); clock.trusted(now, s.Log) {
			moment.Store(&now)
			running.Go(tick.Run)
			running.Go(fold.Run)
		} else {
			alive() // it waits on purpose
		}
	})
	c := cron.New(cron.WithLocation(s.Zone), cron.WithLogger(cronLog{log: s.Log}))
	c.Schedule(cron.Every(beat), heart)
	heart.Run() // what came due while the daemon was down, and a night missed
	c.Start()
	<-ctx.Done()

	// cron's own context waits for ever for a stuck job.
	ended := make(chan struct{})
	go func() {
		<-c.Stop().Done()
		running.Wait()
		close(ended)
	}()
	select {
	case <-ended:
	case <-time.After(stopWait):
		s.Log.Warn("a scheduler step did not end in time")
	}
	return nil
}

// job wraps a step: skip outside, recover inside. A step that is skipped because
// it still runs is told at the level given.
func (s *Scheduler) job(name string, skip slog.Level, f func()) cron.Job {
	recovered := func(j cron.Job) cron.Job {
		return cron.FuncJob(func() {
			defer func() {
				if r := recover(); r != nil {
					s.Log.Error("panic in a scheduler step", "step", name, "panic", panicked(r), "stack", string(debug.Stack()))
				}
			}()
			j.Run()
		})
	}
	return cron.NewChain(cron.SkipIfStillRunning(cronLog{s.Log.With("step", name), skip}), recovered).Then(cron.FuncJob(f))
}

// panicked says what a panic was without its value, which may hold anything a
// patient wrote. The runtime's own hold numbers and types.
func panicked(r any) string {
	if e, ok := r.(runtime.Error); ok {
		return e.Error()
	}
	return fmt.Sprintf("%T", r)
}

// nightly is when the fold was last begun and when it is owed next.
type nightly struct{ last, next time.Time }

// due is also true of a clock set back: next may then lie far ahead.
func (n nightly) due(now time.Time) bool { return now.Before(n.last) || !now.Before(n.next) }

// foldAfter is the first moment after t at which the wall clock in zone shows
// at: once a day, also where the zone skips that hour or repeats it.
func foldAfter(t time.Time, at plan.Clock, zone *time.Location) time.Time {
	for d := plan.DateOf(t, zone); ; d = d.AddDays(1) {
		if i := plan.Instant(d, at, zone); i.After(t) {
			return i
		}
	}
}

// cronLog hands cron's messages to slog. Cron names no patient.
type cronLog struct {
	log  *slog.Logger
	skip slog.Level // of the message that a step was passed over
}

// Info tells what cron does, for debugging.
func (c cronLog) Info(msg string, kv ...any) {
	level := slog.LevelDebug
	if msg == "skip" {
		level, msg = c.skip, "a step is still running and is not begun again"
	}
	c.log.Log(context.Background(), level, "cron: "+msg, kv...)
}

// Error tells what went wrong in cron itself.
func (c cronLog) Error(err error, msg string, kv ...any) {
	c.log.Error("cron: "+msg, append(kv, "err", err)...)
}
