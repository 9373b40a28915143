package notify

import (
	"context"
	"time"

	"bandbell/scheduler/plan"
)

// Outbox is where owed messages wait and where their outcome is written.
//
// Claim picks what is due and may still leave, marks it claimed and counts the
// attempt, all in one transaction with the checks of consent, stop, pause and
// hold. Composed stores the bytes before anything is dialled. DotSent is
// written before the final dot leaves. Every other call ends the attempt;
// FailAddress also says that the address is dead, so that nothing more goes
// there.
// Recover is called once at the start: what was claimed is free again, what
// had its dot sent is uncertain.
type Outbox interface {
	Claim(ctx context.Context, now time.Time, limit int) ([]plan.Job, error)
	Composed(ctx context.Context, id int64, c plan.Composed) error
	DotSent(ctx context.Context, id int64, now time.Time) error
	Accepted(ctx context.Context, id int64, now time.Time) error
	Retry(ctx context.Context, id int64, next time.Time, reason string, now time.Time) error
	Uncertain(ctx context.Context, id int64, reason string, now time.Time) error
	Fail(ctx context.Context, id int64, reason string, now time.Time) error
	FailAddress(ctx context.Context, id int64, reason string, now time.Time) error
	Lapse(ctx context.Context, id int64, reason string, now time.Time) error
	Recover(ctx context.Context, now time.Time) (int, error)
}
