package inbox

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

const (
	// batch is how many messages one Step takes; each may be MaxBytes large.
	batch = 8
	// maxTries of a message that cannot be recorded as it was read; from then
	// on it may be recorded as unreadable, so that it blocks no other.
	maxTries = 5
	// maxAge of a Date field when the message arrives; an older one, or one
	// in the future, is a clock that is wrong. Common practice, no source: it
	// leaves room for a phone that was off over a weekend's nights.
	maxAge = 48 * time.Hour
)

// Step reads the oldest unread messages, each in its own transaction, and
// returns how many it recorded. When every message is recorded a further Step
// does nothing. One that fails stays unread and hinders no other; the error
// joins what went wrong, each with the message's number.
func (i *Inbox) Step(ctx context.Context) (n int, err error) {
	unread, err := i.rec.Unread(ctx, batch)
	if err != nil {
		return 0, fmt.Errorf("list unread messages: %w", err)
	}
	var faults []error
	for _, in := range unread {
		if ctx.Err() != nil {
			break
		}
		if err := i.one(ctx, in); err != nil {
			i.log.Error("message not recorded", "id", in.ID)
			faults = append(faults, fmt.Errorf("inbound %d: %w", in.ID, err))
			continue
		}
		delete(i.tries, in.ID)
		n++
	}
	return n, errors.Join(faults...)
}

// one reads and records one message.
func (i *Inbox) one(ctx context.Context, in plan.Inbound) error {
	h, err := i.understand(ctx, in)
	if err != nil {
		return err
	}
	if err = i.record(ctx, in.ID, h); err == nil {
		if len(h.Answers) > 0 && i.opts.OnAnswer != nil {
			i.opts.OnAnswer()
		}
		return nil
	}
	if i.tries[in.ID]++; i.tries[in.ID] < maxTries {
		return err
	}
	bare := unreadable(in, match{how: byNothing}, "what was read in it could not be recorded")
	if again := i.record(ctx, in.ID, bare); again != nil {
		return err
	}
	i.log.Error("message recorded as unreadable", "id", in.ID)
	return nil
}

func (i *Inbox) record(ctx context.Context, id int64, h plan.Heard) (err error) {
	defer i.contain(id, &err)
	if err := i.rec.Record(ctx, id, h); err != nil {
		return fmt.Errorf("record message: %w", err)
	}
	return nil
}

// understand finds what a message answers and what it says. A panic on the way
// makes the message unreadable, never the daemon stop; the error is the
// recorder's.
func (i *Inbox) understand(ctx context.Context, in plan.Inbound) (plan.Heard, error) {
	h, m, err := i.place(ctx, in)
	switch {
	case errors.Is(err, errPanic):
		return unreadable(in, match{how: byNothing}, "its header could not be read"), nil
	case err != nil:
		return plan.Heard{}, err
	}
	heard, err := i.meaning(in, h, m)
	if err != nil {
		return unreadable(in, m, "its text could not be read"), nil
	}
	return heard, nil
}

func (i *Inbox) place(ctx context.Context, in plan.Inbound) (h head, m match, err error) {
	defer i.contain(in.ID, &err)
	h = scan(in.Raw)
	m, err = i.match(ctx, in, h)
	return h, m, err
}

func (i *Inbox) meaning(in plan.Inbound, h head, m match) (heard plan.Heard, err error) {
	defer i.contain(in.ID, &err)
	raw := in.Raw
	if h.dated && !fits(h.date, in.Received) {
		raw = undated(raw)
	}
	if in.From == "" && in.Source != "file" && h.path == "" {
		// What a server does on final delivery (RFC 5321 section 4.4): the
		// reader knows a machine by it.
		raw = append([]byte("Return-Path: <>\r\n"), raw...)
	}
	return hear(in, h, m, i.read(raw, i.question(m, in.Received))), nil
}

// fits reports whether a Date field can be true of a message received then.
func fits(date, received time.Time) bool {
	return !date.IsZero() && !date.After(received) && !date.Before(received.Add(-maxAge))
}

var errPanic = errors.New("panic")

// contain turns a panic into errPanic. Its value is not kept: it may quote the
// message.
func (i *Inbox) contain(id int64, err *error) {
	if recover() != nil {
		i.log.Error("panic while reading a message", "id", id)
		*err = errPanic
	}
}

// question says what the matched message asked, in the reader's words.
func (i *Inbox) question(m match, received time.Time) reply.Asked {
	q := reply.Asked{Received: received, OwnDomain: i.domain}
	if !m.found() {
		return q
	}
	a := m.asked
	q.Zone = zone(a.Patient)
	q.Received = received.In(q.Zone)
	q.Sent = a.Nudge.Due
	if q.Sent.IsZero() {
		q.Sent = a.Outgoing.Due
	}
	if !q.Sent.IsZero() {
		q.Sent = q.Sent.In(q.Zone)
	}
	lang := a.Outgoing.To.Language
	if lang == "" {
		lang = a.Patient.Language
	}
	q.Lang, _, _ = strings.Cut(strings.ToLower(lang), "-")
	// What is not a nudge asks nothing about a band change; a plain yes to it
	// must not become one. The soreness question is the reader's for that.
	q.Kind = reply.Soreness
	day := plan.DateOf(received, q.Zone)
	if a.Nudge.Kind != "" {
		q.Kind, day = string(a.Nudge.Kind), a.Nudge.Day
	}
	if a.Nudge.Kind == plan.BandChange {
		q.Meal = a.Nudge.Slot[strings.LastIndexByte(a.Nudge.Slot, '/')+1:]
		if a.Nudge.Whole {
			q.Meal = reply.WholeDay
		}
	}
	for _, meal := range a.Plan.MealsOn(day.Weekday()) {
		q.Meals = append(q.Meals, reply.MealTime{Code: string(meal.Code), Hour: int(meal.At) / 60, Minute: int(meal.At) % 60})
	}
	return q
}

// zone is the patient's; UTC where the name is not known to this machine.
func zone(p plan.Patient) *time.Location {
	if loc, err := time.LoadLocation(p.Zone); err == nil {
		return loc
	}
	return time.UTC
}
