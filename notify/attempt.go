package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"time"

	"github.com/emersion/go-smtp"

	"bandbell/scheduler/plan"
)

// attempt sends over the open connection, or a new one. A connection that was
// used before may have been closed by the server meanwhile (RFC 5321 section
// 3.8 lets it answer 421 at any time): then, and only at MAIL, it dials once
// more. The error is one of the outbox, not of the message.
func (l *lane) attempt(ctx context.Context, job plan.Job, env envelope) (Decision, error) {
	for again := true; ; again = false {
		fresh := l.session == nil
		err := l.try(ctx, job, env)
		if again && !fresh && staleAt(err) && ctx.Err() == nil {
			l.drop()
			continue
		}
		d := decide(err)
		switch {
		case errors.Is(err, errUnnoted):
			d.Verdict, d.Reason = VerdictReleased, "not sent: "+errUnnoted.Error()
			return d, err
		case errors.Is(err, errLate):
			d.Verdict, d.Reason = VerdictFail, lapsed
		case ctx.Err() != nil && d.Verdict == VerdictRetry && d.Code == 0:
			d.Verdict, d.Reason = VerdictReleased, errStopped.Error()
		}
		return d, nil
	}
}

func staleAt(err error) bool {
	var (
		fault *Fault
		reply *smtp.SMTPError
		op    *net.OpError
	)
	if !errors.As(err, &fault) || fault.Stage != StageMail {
		return false
	}
	if errors.As(err, &reply) {
		return reply.Code == 421
	}
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.As(err, &op) && !op.Timeout()
}

var (
	errLate    = errors.New("its moment passed while it was being sent")
	errUnnoted = errors.New("the step before the dot could not be written")
)

// try is one conversation up to the answer. The window bounds everything
// before the dot; the wait for the answer has its own limit, since a shorter
// one would make duplicates.
func (l *lane) try(ctx context.Context, job plan.Job, env envelope) error {
	talk, end := ctx, func() {}
	if !job.Until.IsZero() {
		var cut context.CancelCauseFunc
		talk, cut = context.WithCancelCause(ctx)
		timer := time.AfterFunc(job.Until.Sub(l.now()), func() { cut(errLate) })
		end = func() { timer.Stop(); cut(nil) }
	}
	defer end()
	late := func(err error) error {
		if err != nil && errors.Is(context.Cause(talk), errLate) && !isDot(err) && !errors.Is(err, errStopped) {
			return fmt.Errorf("%w: %w", errLate, err)
		}
		return err
	}
	if l.session == nil {
		s, err := open(talk, &l.server, l.grace, l.at)
		if err != nil {
			return late(err)
		}
		l.session = s
	}
	return late(l.session.send(talk, env, func() error {
		if l.over(job) {
			return errLate
		}
		if err := l.outbox.DotSent(context.WithoutCancel(ctx), job.ID, l.now()); err != nil {
			return fmt.Errorf("%w of message %d: %w", errUnnoted, job.ID, err)
		}
		l.at("dot noted")
		return nil
	}))
}

func isDot(err error) bool {
	var fault *Fault
	return errors.As(err, &fault) && fault.Stage == StageDot
}
