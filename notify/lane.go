package notify

import (
	"context"
	"errors"
	"fmt"

	"bandbell/scheduler/plan"
)

// lane sends messages one after another over one connection, which it opens
// when first needed.
type lane struct {
	*Sender
	session *session
}

// lapsed is the reason of a message whose moment passed before it could leave.
const lapsed = "its moment passed"

// handle brings one claimed job to its outcome and writes it. It reports
// whether the server took the message; the error is one of writing.
func (l *lane) handle(ctx context.Context, job plan.Job) (sent bool, err error) {
	if err := l.halt(ctx); err != nil {
		return false, l.release(ctx, job, "not sent: "+haltReason(err))
	}
	if l.over(job) {
		return false, l.lapse(ctx, job, lapsed)
	}
	raw, err := l.compose(ctx, job)
	if err != nil {
		return false, l.uncomposed(ctx, job, err)
	}
	env, err := l.composer.envelope(job, raw)
	if err != nil {
		return false, l.uncomposed(ctx, job, err)
	}
	if l.pace != nil && l.pace.Wait(ctx) != nil {
		return false, l.release(ctx, job, errStopped.Error())
	}
	if l.over(job) {
		return false, l.lapse(ctx, job, lapsed)
	}
	d, unnoted := l.attempt(ctx, job, env)
	l.at("answered")
	err = errors.Join(unnoted, l.settleJob(ctx, job, d))
	l.at("written")
	if l.session != nil && (l.session.closed || l.session.used >= l.server.perConnection()) {
		l.leave()
	}
	return d.Verdict == VerdictAccepted, err
}

func haltReason(err error) string {
	var held *HeldError
	switch {
	case errors.As(err, &held):
		return held.Reason
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return errStopped.Error()
	}
	return "outcomes cannot be written"
}

// compose returns the bytes to send: those already on file, so that a second
// attempt is the same message, or new ones, stored before anything is dialled.
func (l *lane) compose(ctx context.Context, job plan.Job) ([]byte, error) {
	if len(job.Bytes) > 0 {
		return job.Bytes, nil
	}
	c, err := l.make(job)
	if err != nil {
		return nil, err
	}
	if err := l.outbox.Composed(context.WithoutCancel(ctx), job.ID, c); err != nil {
		return nil, &storeError{fmt.Errorf("store message %d: %w", job.ID, err)}
	}
	l.at("composed")
	return c.Bytes, nil
}

// make composes. A message that makes the composer panic is one that cannot be
// composed: the daemon would else die on it again after every restart, and
// nobody would get mail.
func (l *lane) make(job plan.Job) (c plan.Composed, err error) {
	defer func() {
		if recover() != nil {
			err = errors.New("the composer panicked") // its words may be a patient's
		}
	}()
	return l.composer.Compose(job, l.now())
}

// storeError is a failure of the outbox, as against one of the message.
type storeError struct{ err error }

func (e *storeError) Error() string { return e.err.Error() }
func (e *storeError) Unwrap() error { return e.err }

// uncomposed ends an attempt that made no message. A value that cannot stand
// in a header never will; words may be mended while the window is open.
func (l *lane) uncomposed(ctx context.Context, job plan.Job, err error) error {
	var (
		store *storeError
		value *ValueError
	)
	switch {
	case errors.As(err, &store):
		return errors.Join(err, l.release(ctx, job, "the message could not be stored"))
	case errors.As(err, &value):
		l.log.Error("message cannot be composed", "message", job.ID, "err", value)
		return l.write(ctx, entry{verdict: VerdictFail, id: job.ID, reason: "the message could not be composed: " + value.Error()})
	}
	l.log.Error("message cannot be composed", "message", job.ID, "kind", string(job.Nudge.Kind), "err", err)
	return l.later(ctx, job, "the message could not be composed")
}

// settleJob writes what an attempt came to, and pauses sending where every
// other message would meet the same.
func (l *lane) settleJob(ctx context.Context, job plan.Job, d Decision) error {
	now := l.now()
	held := l.breaker.note(now, job.ID, d)
	if d.Verdict != VerdictAccepted {
		l.log.Warn("message not accepted", "message", job.ID, "verdict", string(d.Verdict),
			"stage", string(d.Stage), "code", d.Code, "status", d.Status)
	}
	switch d.Verdict {
	case VerdictAccepted:
		return l.write(ctx, entry{verdict: VerdictAccepted, id: job.ID})
	case VerdictUncertain, VerdictFail:
		return l.write(ctx, entry{verdict: d.Verdict, id: job.ID, reason: d.Reason, lapse: d.Reason == lapsed, dead: d.Dead})
	case VerdictRetry:
		return l.later(ctx, job, d.Reason)
	case VerdictBroken:
		next, ok := nextTry(now, job.Until, job.Attempt, l.roll())
		if !ok || held != nil {
			// It stays due: the pause, not the row, says when to go on, and
			// what cannot leave before its moment passes lapses by itself.
			next = now
		}
		return l.write(ctx, entry{verdict: VerdictRetry, id: job.ID, next: next, reason: d.Reason})
	}
	return l.release(ctx, job, d.Reason)
}

// later puts a message off inside its window, or lets it lapse.
func (l *lane) later(ctx context.Context, job plan.Job, reason string) error {
	next, ok := nextTry(l.now(), job.Until, job.Attempt, l.roll())
	if !ok {
		return l.lapse(ctx, job, lapsed+"; "+reason)
	}
	return l.write(ctx, entry{verdict: VerdictRetry, id: job.ID, next: next, reason: reason})
}

// release gives a claimed message back as it was.
func (l *lane) release(ctx context.Context, job plan.Job, reason string) error {
	return l.write(ctx, entry{verdict: VerdictReleased, id: job.ID, next: l.now(), reason: reason})
}

func (l *lane) lapse(ctx context.Context, job plan.Job, reason string) error {
	return l.write(ctx, entry{verdict: VerdictFail, lapse: true, id: job.ID, reason: reason})
}

func (l *lane) write(ctx context.Context, e entry) error {
	e.at = l.now()
	err := l.books.enter(ctx, e)
	if err != nil {
		l.log.Error("outcome not written", "message", e.id, "outcome", string(e.verdict), "err", err)
	}
	return err
}

func (l *lane) over(job plan.Job) bool { return !job.Until.IsZero() && !l.now().Before(job.Until) }

// leave ends the conversation politely.
func (l *lane) leave() {
	if l.session != nil {
		l.session.quit()
		l.session = nil
	}
}

// drop ends the conversation at once.
func (l *lane) drop() {
	if l.session != nil {
		l.session.close()
		l.session = nil
	}
}
