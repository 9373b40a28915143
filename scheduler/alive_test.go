package scheduler

import (
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// A watchdog hears of each tick that ended well and of each one that waits for
// the clock to settle; of a tick that fails or is stuck it hears nothing.
func TestAliveIsToldByTicksAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var beats atomic.Int64
		var state atomic.Value
		state.Store("well")
		f := newFile(crowd(1)...)
		f.onLapse = func(time.Time) error {
			switch state.Load() {
			case "failing":
				return errors.New("disk full")
			case "stuck":
				time.Sleep(5 * time.Minute)
			}
			return nil
		}
		r := run(t, ny("2026-06-10 09:00:05"), f, Config{Alive: func() { beats.Add(1) }})
		during := func(s string, d time.Duration) int64 {
			state.Store(s)
			before := beats.Load()
			time.Sleep(d)
			synctest.Wait()
			return beats.Load() - before
		}
		if n := during("well", 5*time.Minute); n < 14 {
			t.Errorf("%d signs of life in five good minutes", n)
		}
		if n := during("failing", 5*time.Minute); n != 0 {
			t.Errorf("%d signs of life while every tick failed", n)
		}
		during("well", time.Minute)
		if n := during("stuck", 4*time.Minute); n != 0 {
			t.Errorf("%d signs of life while a tick was stuck", n)
		}
		during("well", 10*time.Minute)
		r.shift.Store(int64(48 * time.Hour))
		if n := during("well", 5*time.Minute); n < 14 {
			t.Errorf("%d signs of life while the clock settles", n)
		}
		r.stop()
	})
}
