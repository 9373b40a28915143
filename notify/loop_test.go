package notify

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"bandbell/scheduler/plan"
)

// idle is an outbox with nothing in it that counts the looks.
type idle struct {
	Outbox
	claims, recovers atomic.Int64
	fail             bool
}

func (i *idle) Claim(context.Context, time.Time, int) ([]plan.Job, error) {
	i.claims.Add(1)
	return nil, nil
}

func (i *idle) Recover(context.Context, time.Time) (int, error) {
	if n := i.recovers.Add(1); i.fail && n < 3 {
		return 0, errors.New("locked")
	}
	return 0, nil
}

// TestRunLooksWhenKickedAndEverySoOften, in a bubble of its own time.
func TestRunLooksWhenKickedAndEverySoOften(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(context.Background())
		box := &idle{fail: true}
		s := New(Config{Outbox: box, Composer: &Composer{}, Every: 15 * time.Second})
		kick := make(chan struct{})
		done := make(chan error)
		go func() { done <- s.Run(ctx, kick) }()
		synctest.Wait()
		if box.recovers.Load() != 1 || box.claims.Load() != 0 {
			t.Fatalf("%d recoveries, %d claims before the first recovery held", box.recovers.Load(), box.claims.Load())
		}
		time.Sleep(31 * time.Second)
		synctest.Wait()
		if box.recovers.Load() != 3 || box.claims.Load() != 1 {
			t.Fatalf("%d recoveries, %d claims; want 3, 1", box.recovers.Load(), box.claims.Load())
		}
		kick <- struct{}{}
		synctest.Wait()
		if box.claims.Load() != 2 {
			t.Errorf("a kick gave %d looks; want 2", box.claims.Load())
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		if box.claims.Load() != 6 {
			t.Errorf("%d looks a minute later; want 6", box.claims.Load())
		}
		stop()
		if err := <-done; err != nil {
			t.Errorf("Run = %v", err)
		}
	})
}
