package notify

import (
	"fmt"
	"sync"
	"time"
)

// How long nothing is claimed after a failure that every message would meet.
// Common practice, no source.
const (
	brokenPause = 15 * time.Minute // our configuration: a person has to act
	firstOutage = 15 * time.Second // the server is out of reach
	maxOutage   = 5 * time.Minute
	strikesOut  = 2 // messages in a row refused for our sake before all sending pauses
)

// HeldError says that sending is paused, and why. Messages stay where they
// are until their moment passes.
type HeldError struct {
	Until  time.Time
	Reason string
	Broken bool // our configuration needs a person; else the server is out of reach
}

// Error names the reason and the end of the pause.
func (e *HeldError) Error() string {
	return fmt.Sprintf("sending is paused until %s: %s", e.Until.UTC().Format(time.RFC3339), e.Reason)
}

// breaker keeps us from hammering a server that refuses us.
type breaker struct {
	mu      sync.Mutex
	since   time.Time
	held    *HeldError
	outages int
	strikes int
	struck  int64 // the row that struck last
}

// standing returns the pause in force at now. A clock that went back before
// the pause began ends it.
func (b *breaker) standing(now time.Time) *HeldError {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.held != nil && (!now.Before(b.held.Until) || now.Before(b.since)) {
		b.held = nil
	}
	return b.held
}

// note takes in what one attempt came to and reports whether sending pauses
// because of it. A refusal of our policy kind that came with one message only
// counts as a strike, so that one odd mailbox cannot stop everybody's mail.
func (b *breaker) note(now time.Time, id int64, d Decision) *HeldError {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case d.Verdict == VerdictAccepted:
		b.outages, b.strikes = 0, 0
	case d.Verdict == VerdictBroken && !d.ours() && d.Stage != StageMail:
		if b.struck != id {
			b.strikes++
		}
		b.struck = id
		if b.strikes >= strikesOut {
			b.strikes = 0
			return b.hold(now, brokenPause, d, true)
		}
	case d.Verdict == VerdictBroken:
		return b.hold(now, brokenPause, d, true)
	case d.Verdict == VerdictUncertain, d.Verdict == VerdictRetry && d.ours():
		// A server that does not answer for what it was given is as good as out
		// of reach: the next messages, and the one resend, wait.
		pause := firstOutage
		for range min(b.outages, 10) {
			pause *= 2
		}
		b.outages++
		return b.hold(now, min(pause, maxOutage), d, false)
	}
	return nil
}

func (b *breaker) hold(now time.Time, pause time.Duration, d Decision, broken bool) *HeldError {
	if b.held == nil {
		b.since = now
		b.held = &HeldError{Until: now.Add(pause), Reason: d.Reason, Broken: broken}
	}
	return b.held
}

// reset ends a pause, after settings were changed.
func (b *breaker) reset() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.held, b.outages, b.strikes = nil, 0, 0
}
