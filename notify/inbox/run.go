package inbox

import (
	"context"
	"time"
)

// Run reads what is unread until ctx ends, and then returns nil: at the start,
// when a message was stored here, and every Options.Poll for those that were
// stored elsewhere. After an error it waits for the poll, whatever comes in, so
// that a broken database is not hammered.
func (i *Inbox) Run(ctx context.Context) error {
	for ctx.Err() == nil {
		n, err := i.Step(ctx)
		if err == nil && n > 0 {
			continue
		}
		wake := i.wake
		if err != nil && ctx.Err() == nil {
			i.log.Error("reading mail failed, trying again", "in", i.opts.Poll, "err", err)
			wake = nil
		}
		poll := time.NewTimer(i.opts.Poll)
		select {
		case <-ctx.Done():
		case <-wake:
		case <-poll.C:
		}
		poll.Stop()
	}
	return nil
}
