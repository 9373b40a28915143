package scheduler

import (
	"log/slog"
	"time"
)

// Common practice, no source.
const (
	// stepWorth is the step of the clock between two heartbeats from which on
	// it is told.
	stepWorth = 2 * time.Minute

	// leap is the step forward after which all steps wait for the clock to settle:
	// what a clock that is a year ahead for a minute puts on file as lapsed
	// would stay so for that year.
	leap = 24 * time.Hour

	// settle is for how many heartbeats they wait.
	settle = int(10 * time.Minute / beat)
)

// clockWatch looks at the clock with each heartbeat.
type clockWatch struct {
	last time.Time // the clock at the heartbeat before; zero: none yet
	wait int       // heartbeats still to pass over
}

// trusted reports whether to act at now, a reading of the wall clock alone. A step of the clock, or a heartbeat
// that stood still (a machine asleep), is told once. After a leap forward it is
// false until the clock has run on evenly for ten minutes or has gone back.
func (c *clockWatch) trusted(now time.Time, log *slog.Logger) bool {
	step := now.Sub(c.last) - beat
	switch {
	case c.last.IsZero():
	case step < -stepWorth:
		log.Warn("the clock was set back", "by", (-step).Round(time.Second))
		c.wait = 0
	case step > leap:
		log.Error("the clock leapt ahead; nothing is planned until it has settled", "by", step.Round(time.Second), "wait", time.Duration(settle)*beat)
		c.wait = settle
	case step > stepWorth:
		log.Warn("the clock was set ahead, or the heartbeat stood still", "by", step.Round(time.Second))
	}
	c.last = now
	if c.wait > 0 {
		c.wait--
		return false
	}
	return true
}
