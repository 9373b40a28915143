package scheduler

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/robfig/cron/v3"
)

// every is the heartbeat: short, so that a step of the system clock delays a
// nudge by no more than this.
const every = "@every 20s"

// stopWait is how long a job in flight is waited for when the daemon stops.
const stopWait = 10 * time.Second

// Run ticks until ctx ends. A tick that is still running is not started again,
// and a panic in one is logged and does not end the heartbeat: of cron's
// wrappers SkipIfStillRunning stands outside and Recover inside, for the other
// way round one panic would stop the job for good.
func (s *Scheduler) Run(ctx context.Context) error {
	log := cronLog{s.Log}
	c := cron.New(
		cron.WithLocation(s.Zone),
		cron.WithLogger(log),
		cron.WithChain(cron.SkipIfStillRunning(log), cron.Recover(log)),
	)
	step := func(name string, f func(context.Context) (int, error)) cron.FuncJob {
		return func() {
			if n, err := f(ctx); err != nil && ctx.Err() == nil {
				s.Log.Error("scheduler step failed", "step", name, "err", err)
			} else if n > 0 {
				s.Log.Info("scheduler step", "step", name, "count", n)
			}
		}
	}
	tick, fold := step("tick", s.Tick), step("fold", s.Fold)
	if _, err := c.AddJob(every, tick); err != nil {
		return fmt.Errorf("set the heartbeat: %w", err)
	}
	// The spec is built from two numbers, never from text: the library panics
	// on some malformed ones.
	if _, err := c.AddJob(fmt.Sprintf("%d %d * * *", int(s.FoldAt)%60, int(s.FoldAt)/60), fold); err != nil {
		return fmt.Errorf("set the nightly fold: %w", err)
	}
	safe := cron.NewChain(cron.Recover(log))
	safe.Then(tick).Run() // what came due while the daemon was down
	safe.Then(fold).Run() // a night missed
	c.Start()
	<-ctx.Done()
	// cron's own context waits for ever for a stuck job.
	select {
	case <-c.Stop().Done():
	case <-time.After(stopWait):
		s.Log.Warn("a scheduler step did not end in time")
	}
	return nil
}

// cronLog hands cron's messages to slog. Cron names no patient.
type cronLog struct{ log *slog.Logger }

func (c cronLog) Info(msg string, kv ...any) { c.log.Debug("cron: "+msg, kv...) }
func (c cronLog) Error(err error, msg string, kv ...any) {
	c.log.Error("cron: "+msg, append(kv, "err", err)...)
}
