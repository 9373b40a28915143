package notify

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"bandbell/scheduler/plan"
)

// Drain sends what is due until nothing is, and reports how many messages the
// server took.
//
// Its invariant: whenever it returns, each row it claimed has its outcome
// written or kept to be written, and no row is both. Draining again when
// nothing new is due sends nothing. The error is a *HeldError while sending is
// paused, the error of the outbox where it cannot be read or written, or the
// context's; messages refused one by one are no error of Drain.
func (s *Sender) Drain(ctx context.Context) (sent int, err error) {
	s.turn.Lock()
	defer s.turn.Unlock()
	if err := s.books.settle(ctx); err != nil {
		return 0, err
	}
	lanes := make([]*lane, s.lanes)
	for i := range lanes {
		lanes[i] = &lane{Sender: s}
	}
	defer func() {
		for _, l := range lanes {
			l.leave()
		}
	}()
	for {
		if err := s.halt(ctx); err != nil {
			return sent, err
		}
		jobs, err := s.outbox.Claim(context.WithoutCancel(ctx), s.now(), s.lanes*batchPerConnection)
		if err != nil {
			return sent, fmt.Errorf("claim what is due: %w", err)
		}
		s.at("claimed")
		if len(jobs) == 0 {
			return sent, nil
		}
		n, err := s.work(ctx, lanes, jobs)
		sent += n
		if err != nil {
			return sent, err
		}
	}
}

// halt says why no message may leave now.
func (s *Sender) halt(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := s.books.trouble(); err != nil {
		return err
	}
	if held := s.breaker.standing(s.now()); held != nil {
		return held
	}
	return nil
}

// work shares claimed jobs among the lanes and waits for all.
func (s *Sender) work(ctx context.Context, lanes []*lane, jobs []plan.Job) (sent int, err error) {
	queue := make(chan plan.Job, len(jobs))
	for _, j := range jobs {
		queue <- j
	}
	close(queue)
	var (
		wg   sync.WaitGroup
		mu   sync.Mutex
		errs []error
	)
	for _, l := range lanes[:min(len(lanes), len(jobs))] {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for job := range queue {
				ok, err := l.handle(ctx, job)
				mu.Lock()
				if ok {
					sent++
				}
				if err != nil {
					errs = append(errs, err)
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	return sent, errors.Join(errs...)
}

// Run drains whenever kicked and every so often, until ctx ends; then nothing
// new is claimed and what is in flight is finished or given back. It recovers
// first what an earlier run left behind. Errors are logged, a pause once.
func (s *Sender) Run(ctx context.Context, kick <-chan struct{}) error {
	for {
		err := s.Recover(ctx)
		if err == nil {
			break
		}
		s.log.Error("cannot recover the outbox", "err", err)
		if !sleep(ctx, nil, s.every) {
			return nil
		}
	}
	var paused *HeldError
	for ctx.Err() == nil {
		sent, err := s.Drain(ctx)
		var held *HeldError
		switch {
		case errors.As(err, &held):
			if held != paused {
				s.log.Error("sending is paused", "until", held.Until, "reason", held.Reason, "ours", held.Broken)
			}
		case err != nil && ctx.Err() == nil:
			s.log.Error("sending stopped", "err", err)
		}
		paused = held
		if sent > 0 {
			s.log.Info("messages sent", "count", sent)
		}
		sleep(ctx, kick, s.every)
	}
	return nil
}

// Recover frees what an earlier run had claimed and marks as uncertain what it
// had sent the dot of. It is for the start, before the first Drain.
func (s *Sender) Recover(ctx context.Context) error {
	s.turn.Lock()
	defer s.turn.Unlock()
	n, err := s.outbox.Recover(context.WithoutCancel(ctx), s.now())
	if err != nil {
		return fmt.Errorf("recover the outbox: %w", err)
	}
	if n > 0 {
		s.log.Warn("messages of an interrupted run recovered", "count", n)
	}
	return nil
}

// sleep waits for a kick, the time or the end of ctx; it reports whether ctx
// still stands.
func sleep(ctx context.Context, kick <-chan struct{}, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-kick:
	case <-t.C:
	}
	return ctx.Err() == nil
}
