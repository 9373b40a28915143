package notify

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// entry is one outcome to be written.
type entry struct {
	verdict  Verdict
	lapse    bool // with VerdictFail: its moment passed
	dead     bool // with VerdictFail: the address is no more
	id       int64
	at, next time.Time
	reason   string
}

// books writes outcomes, and keeps those that could not be written: a message
// whose acceptance was forgotten would be sent again. While any is kept,
// nothing else is sent.
type books struct {
	outbox Outbox
	gone   func(error) bool

	mu   sync.Mutex
	kept []entry
	why  error // of the last failure to write
}

// enter writes one outcome, or keeps it. It reports the error of the write.
func (b *books) enter(ctx context.Context, e entry) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.kept) > 0 {
		b.kept = append(b.kept, e)
		return b.why
	}
	return b.try(ctx, e)
}

// try writes an outcome; the context of the write cannot be cancelled, since a
// half-written outcome helps nobody. An outcome of a row that is gone is let
// go: no later write could succeed, and it must not hold up the others.
func (b *books) try(ctx context.Context, e entry) error {
	ctx = context.WithoutCancel(ctx)
	var err error
	switch {
	case e.verdict == VerdictAccepted:
		err = b.outbox.Accepted(ctx, e.id, e.at)
	case e.verdict == VerdictUncertain:
		err = b.outbox.Uncertain(ctx, e.id, e.reason, e.at)
	case e.verdict == VerdictFail && e.lapse:
		err = b.outbox.Lapse(ctx, e.id, e.reason, e.at)
	case e.verdict == VerdictFail && e.dead:
		err = b.outbox.FailAddress(ctx, e.id, e.reason, e.at)
	case e.verdict == VerdictFail:
		err = b.outbox.Fail(ctx, e.id, e.reason, e.at)
	default:
		err = b.outbox.Retry(ctx, e.id, e.next, e.reason, e.at)
	}
	if err == nil {
		return nil
	}
	err = fmt.Errorf("write outcome %s of message %d: %w", e.verdict, e.id, err)
	if b.gone == nil || !b.gone(err) {
		b.kept, b.why = append(b.kept, e), err
	}
	return err
}

// settle writes what was kept, in order. An error means that some of it still
// cannot be written and nothing may be sent.
func (b *books) settle(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	kept := b.kept
	b.kept, b.why = nil, nil
	for i, e := range kept {
		if b.try(ctx, e); len(b.kept) > 0 {
			b.kept = append(b.kept, kept[i+1:]...)
			return b.why
		}
	}
	return nil
}

// trouble is the error of the last write while outcomes are kept.
func (b *books) trouble() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.why
}
