package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"time"

	"bandbell/store"

	"github.com/spf13/cobra"
)

func (a *app) runVerb() *cobra.Command {
	return &cobra.Command{
		Use:   "run",
		Short: "Run the daemon: send what is due, take in replies, keep the record",
		Long: `Run in the foreground until SIGTERM or an interrupt: what is in flight is then
finished, and nothing new is begun. A second signal ends the program at once.
Logs go to standard error. Under a service manager readiness is told by
sd_notify(3).`,
		Args: exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if a.asOf != "" {
				return usage("run works at the present time only; leave out --as-of")
			}
			cfg, err := loadConfig(findConfig(a.file))
			if err != nil {
				return err
			}
			return a.daemon(c.Context(), cfg)
		},
	}
}

// daemon runs the workers until ctx ends.
func (a *app) daemon(ctx context.Context, cfg *Config) error {
	log := cfg.logger(a.err)
	release, err := store.Lock(cfg.Database.Path)
	if err != nil {
		return err
	}
	defer release()
	db, err := openDatabase(cfg)
	if err != nil {
		return err
	}
	defer db.Close()
	kick := make(chan struct{}, 1)
	alive := &pulse{}
	w, err := cfg.wire(db, log, time.Now, kick, alive.beat)
	if err != nil {
		return &badConfig{err}
	}
	if err := w.sender.Recover(ctx); err != nil {
		return fmt.Errorf("take up messages in flight: %w", err)
	}
	var listener net.Listener
	if cfg.Intake.Listen != "" {
		if listener, err = net.Listen("tcp", cfg.Intake.Listen); err != nil {
			return fmt.Errorf("listen for replies: %w\n  hint: is another program using %s? Set intake.listen", err, cfg.Intake.Listen)
		}
		log.Info("taking in replies", "listen", listener.Addr().String())
	}
	log.Info("started", "version", programVersion(), "zone_data", zoneData())
	tell(log, "READY=1\nSTATUS=running")

	group, fail := newGroup(ctx)
	group.run("scheduler", w.scheduler.Run)
	group.run("sender", func(ctx context.Context) error { return w.sender.Run(ctx, kick) })
	group.run("reader", w.inbox.Run)
	if listener != nil {
		group.run("listener", func(ctx context.Context) error { return w.inbox.Serve(ctx, listener) })
	}
	if every := watchdogInterval(); every > 0 {
		group.run("watchdog", func(ctx context.Context) error { return alive.watch(ctx, every, log) })
	}
	<-group.ctx.Done()
	tell(log, "STOPPING=1\nSTATUS=finishing what is in flight")
	log.Info("stopping")
	group.wait.Wait()
	log.Info("stopped")
	if err := fail(); err != nil && ctx.Err() == nil {
		return err
	}
	return nil
}

func tell(log *slog.Logger, state string) {
	if err := notifySystem(state); err != nil {
		log.Warn("could not tell the service manager", "err", err)
	}
}

// group runs workers side by side; when one fails, all are told to end.
type group struct {
	ctx    context.Context
	cancel context.CancelCauseFunc
	wait   sync.WaitGroup
}

func newGroup(parent context.Context) (*group, func() error) {
	g := &group{}
	g.ctx, g.cancel = context.WithCancelCause(parent)
	return g, func() error { return context.Cause(g.ctx) }
}

func (g *group) run(name string, work func(context.Context) error) {
	g.wait.Go(func() {
		err := work(g.ctx)
		if err == nil || errors.Is(err, context.Canceled) {
			if g.ctx.Err() != nil {
				return
			}
			err = errors.New("ended by itself")
		}
		g.cancel(fmt.Errorf("%s: %w", name, err))
	})
}

// pulse is the scheduler's sign of life, handed on to the service manager.
type pulse struct{ last atomic.Int64 }

// pulseWorth is how long one sign of life vouches for the scheduler: a few of
// its heartbeats, each of which reads and writes the database.
const pulseWorth = 90 * time.Second

func (p *pulse) beat() { p.last.Store(time.Now().UnixNano()) }

// watch hands the sign of life on for as long as the scheduler gives one.
func (p *pulse) watch(ctx context.Context, every time.Duration, log *slog.Logger) error {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
			if since := time.Since(time.Unix(0, p.last.Load())); since > pulseWorth {
				log.Error("the scheduler gives no sign of life")
				continue
			}
			tell(log, "WATCHDOG=1")
		}
	}
}
