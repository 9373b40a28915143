package store

import (
	"fmt"
	"sync"

	"bandbell/scheduler/plan"
)

// planCache keeps parsed plan versions by row id. A version never changes, so
// nothing in it can be stale; the daemon looks at the same few every tick.
type planCache struct {
	mu    sync.Mutex
	plans map[int64]plan.Plan
}

// maxCached bounds the cache: some tens of megabytes of plans. Common practice,
// no source.
const maxCached = 16384

// read parses a stored plan, or takes it from the cache; a nil cache parses.
func (c *planCache) read(id int64, text []byte) (plan.Plan, error) {
	if c != nil {
		c.mu.Lock()
		p, ok := c.plans[id]
		c.mu.Unlock()
		if ok {
			return p, nil
		}
	}
	p, err := plan.ReadPlan("", text)
	if err != nil {
		return p, fmt.Errorf("read plan version row %d: %w", id, err)
	}
	if c != nil {
		c.mu.Lock()
		defer c.mu.Unlock()
		if c.plans == nil || len(c.plans) >= maxCached {
			c.plans = make(map[int64]plan.Plan)
		}
		c.plans[id] = p
	}
	return p, nil
}
