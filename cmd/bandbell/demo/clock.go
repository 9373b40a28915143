package demo

import (
	"sync"
	"time"
)

// clock is the time the demo lives in. It runs only when it is set forward, and
// after the lived days it can be let run with the real one.
type clock struct {
	mu    sync.Mutex
	at    time.Time
	since time.Time // the real moment it was let run; zero while it stands
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.since.IsZero() {
		return c.at
	}
	return c.at.Add(time.Since(c.since))
}

// set moves the clock forward; it never goes back.
func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t.After(c.at) {
		c.at = t
	}
}

// release lets the clock run with the real one from here on.
func (c *clock) release() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.since = time.Now()
}
