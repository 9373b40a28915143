// Package demo lives an invented clinic through some weeks in seconds: people
// with habits, a real database file, real SMTP over loopback both ways, and a
// clock that is set to the next thing that happens.
//
// Nothing of the program is stood in for. Only the people, their mail provider
// and the clock are made up, and the same seed gives the same weeks.
package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"time"

	"bandbell/notify"
	"bandbell/notify/inbox"
	"bandbell/notify/mailtest"
	"bandbell/scheduler"
	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/templates"
)

// Defaults of the demo.
const (
	DefaultDays     = 42
	DefaultPatients = 30
	DefaultSeed     = 1
)

// firstDay is the first lived day: a week before the clocks of the clinic's
// zone go forward (8 March 2026, IANA zone America/New_York).
var firstDay = plan.NewDate(2026, time.March, 1)

// ZoneName is the clinic's zone.
const ZoneName = "America/New_York"

// The clinic's addresses, in a domain that cannot exist (RFC 2606).
const (
	From    plan.Address = "bands@fernstreet.example.org"
	ReplyTo plan.Address = "reply@fernstreet.example.org"
)

// Options are how the demo is run.
type Options struct {
	Days, Patients int
	Seed           uint64
	DB             *store.DB
	Key            []byte       // signs reply addresses
	Listener       net.Listener // where the clinic takes replies in
	Log            *slog.Logger
	Talk           io.Writer // what is shown while it runs; nil for nothing
}

// Clinic is the demo's clinic while it lives.
type Clinic struct {
	o         Options
	zone      *time.Location
	clock     *clock
	provider  *mailtest.Server // the mail provider of clinic and patients
	scheduler *scheduler.Scheduler
	sender    *notify.Sender
	inbox     *inbox.Inbox
	people    map[int64]*person
	bag       postbag
	seq       int
	taken     int            // messages of the provider handed to people so far
	seen      map[string]int // Message-ID -> times it arrived
	late      int            // messages that arrived after their moment
	show      *show
}

// Open sets the clinic up: it enrols the people and starts the workers.
func Open(ctx context.Context, o Options) (*Clinic, error) {
	zone, err := time.LoadLocation(ZoneName)
	if err != nil {
		return nil, fmt.Errorf("load the clinic's zone: %w", err)
	}
	c := &Clinic{o: o, zone: zone, clock: &clock{at: plan.DayStart(firstDay, zone)}, people: map[int64]*person{}, seen: map[string]int{}}
	c.show = newShow(o.Talk, zone)
	if c.provider, err = mailtest.NewServer(); err != nil {
		return nil, fmt.Errorf("start the mail provider: %w", err)
	}
	c.scheduler = scheduler.New(scheduler.Config{Store: o.DB, Now: c.clock.now, Log: o.Log, Zone: zone, FoldAt: 220})
	c.sender = notify.New(notify.Config{
		Outbox: o.DB, Now: c.clock.now, Log: o.Log, Connections: 1, // one, so that messages arrive in the order of the seed
		Server: notify.Server{Addr: c.provider.Addr(), Security: notify.None, PerConnection: 1000},
		Composer: &notify.Composer{
			Clinic:  notify.Clinic{Name: "Fern Street Orthodontics", From: From, Mailbox: ReplyTo, Phone: "+1 555 0100", Emergency: "911"},
			Texts:   notify.Messages{Catalog: templates.Default()},
			Key:     o.Key,
			Picture: notify.HookUp(plan.ISO),
		},
	})
	if c.inbox, err = inbox.New(o.DB, inbox.Options{Address: ReplyTo, Key: o.Key, NotFound: store.ErrNotFound, Now: c.clock.now, Log: o.Log}); err != nil {
		return nil, fmt.Errorf("start the inbox: %w", err)
	}
	return c, c.enrol(ctx)
}

func (c *Clinic) enrol(ctx context.Context) error {
	now := c.clock.now()
	for _, p := range people(c.o.Patients, c.o.Seed, firstDay, c.zone) {
		p.Created = now
		added, err := c.o.DB.AddPatient(ctx, p.Patient, "demo", now)
		if err != nil {
			return fmt.Errorf("enrol %s: %w", p.Ref, err)
		}
		for _, r := range p.Recipients {
			if err := c.o.DB.GiveConsent(ctx, added.Ref, string(r.Address), r.Consent, "demo"); err != nil {
				return fmt.Errorf("record consent of %s: %w", p.Ref, err)
			}
		}
		if _, err := c.o.DB.SetPlan(ctx, added.Ref, p.written, p.written.AlignerStart, "demo", now); err != nil {
			return fmt.Errorf("set the plan of %s: %w", p.Ref, err)
		}
		p.Patient = added
		c.people[added.ID] = p
	}
	return nil
}

// Live lives the days through and returns what they came to.
func (c *Clinic) Live(ctx context.Context) (Summary, error) {
	began := time.Now()
	serving, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- c.inbox.Serve(serving, c.o.Listener) }()
	err := c.live(ctx)
	stop()
	if serr := <-ended; err == nil && serr != nil && !errors.Is(serr, context.Canceled) {
		err = fmt.Errorf("take in replies: %w", serr)
	}
	if err != nil {
		return Summary{}, err
	}
	return c.summary(ctx, time.Since(began))
}

func (c *Clinic) live(ctx context.Context) error {
	carrier, err := dialClinic(ctx, c.o.Listener.Addr().String())
	if err != nil {
		return err
	}
	defer carrier.close()
	end := plan.DayStart(firstDay.AddDays(c.o.Days), c.zone)
	day := firstDay
	for ctx.Err() == nil {
		next, err := c.next(ctx)
		if err != nil {
			return err
		}
		over := next.IsZero() || !next.Before(end)
		if over {
			next = end
		}
		for day.Before(plan.DateOf(next, c.zone)) {
			c.clock.set(plan.DayEnd(day, c.zone))
			if err := c.closeDay(ctx, day); err != nil {
				return err
			}
			day = day.AddDays(1)
		}
		if over {
			return nil
		}
		c.clock.set(next)
		if err := c.step(ctx, carrier); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// next is when something happens next: a nudge or a letter.
func (c *Clinic) next(ctx context.Context) (time.Time, error) {
	due, err := c.o.DB.NextMoment(ctx)
	if err != nil {
		return due, fmt.Errorf("ask when something is due: %w", err)
	}
	if len(c.bag) > 0 && (due.IsZero() || c.bag[0].at.Before(due)) {
		due = c.bag[0].at
	}
	return due, nil
}

// step does what is due at this moment, and waits for every 250.
func (c *Clinic) step(ctx context.Context, carrier *carrier) error {
	if _, err := c.scheduler.Tick(ctx); err != nil {
		return err
	}
	for l, ok := c.bag.due(c.clock.now()); ok; l, ok = c.bag.due(c.clock.now()) {
		if err := carrier.deliver(l); err != nil {
			return err
		}
		if _, err := c.inbox.Step(ctx); err != nil {
			return err
		}
		c.show.letter(l)
	}
	if _, err := c.sender.Drain(ctx); err != nil {
		return err
	}
	return c.handOut(ctx)
}

// handOut gives new messages of the provider to the people, who may answer.
func (c *Clinic) handOut(ctx context.Context) error {
	if c.provider.Count() == c.taken {
		return nil
	}
	messages := c.provider.Messages()
	for _, m := range messages[c.taken:] {
		c.taken++
		in, err := open(m)
		if err != nil {
			return err
		}
		c.seen[in.messageID]++
		asked, err := c.o.DB.AskedByMessageID(ctx, []string{in.messageID})
		if err != nil {
			return fmt.Errorf("find what a message was sent for: %w", err)
		}
		now := c.clock.now()
		if !now.Before(asked.Outgoing.Until) {
			c.late++
		}
		c.show.message(asked, in)
		p := c.people[asked.Patient.ID]
		if asked.Outgoing.Cause != plan.CauseNudge {
			continue
		}
		c.seq++
		if p.habit == bounces {
			c.bag.put(bounce(in, now.Add(time.Minute).In(c.zone), c.seq))
			continue
		}
		day := asked.Nudge.Day.DaysSince(p.written.Start()) + 1
		if a, ok := p.answerTo(asked.Nudge.Kind, day); ok {
			c.bag.put(write(in, a, now.Add(a.after).In(c.zone), c.seq))
		}
	}
	return nil
}

// deskTakes is how long the demo's front desk takes to call a patient on hold,
// mend what broke and lift the hold. The allergy is the doctor's, and stays.
const deskTakes = 36 * time.Hour

// deskCloses is when the front desk goes home; what comes later waits until the
// evening after.
const deskCloses plan.Clock = 18 * 60

// desk does what staff would do at the end of a day: it has read what came in
// and answered the questions, and lifts the holds that are dealt with.
func (c *Clinic) desk(ctx context.Context, day plan.Date) error {
	waiting, err := c.o.DB.Replies(ctx, true, math.MaxInt32)
	if err != nil {
		return fmt.Errorf("list what waits for a person: %w", err)
	}
	closing := plan.Instant(day, deskCloses, c.zone)
	for _, r := range waiting {
		if r.Received.After(closing) {
			continue
		}
		if err := c.o.DB.Seen(ctx, r.ID, "desk:front desk", c.clock.now()); err != nil {
			return fmt.Errorf("mark reply %d seen: %w", r.ID, err)
		}
	}
	patients, err := c.o.DB.Patients(ctx)
	if err != nil {
		return fmt.Errorf("list the patients: %w", err)
	}
	now := c.clock.now()
	for _, p := range patients {
		if !p.Hold.Held() || now.Sub(p.Hold.Since) < deskTakes || c.people[p.ID].alarmed {
			continue
		}
		if err := c.o.DB.LiftHold(ctx, p.Ref, "front desk", now); err != nil {
			return fmt.Errorf("lift the hold of %s: %w", p.Ref, err)
		}
	}
	return nil
}

func (c *Clinic) closeDay(ctx context.Context, day plan.Date) error {
	if err := c.desk(ctx, day); err != nil {
		return err
	}
	if err := c.visits(ctx, day); err != nil {
		return err
	}
	if _, err := c.scheduler.Fold(ctx); err != nil {
		return err
	}
	counts, err := c.o.DB.Counts(ctx)
	if err != nil {
		return fmt.Errorf("count: %w", err)
	}
	c.show.day(day, counts, c.taken)
	return nil
}

// Now is the moment the clinic has lived to.
func (c *Clinic) Now() time.Time { return c.clock.now().In(c.zone) }

// Stay keeps the clinic open from the lived moment on, at the pace of the real
// clock, until ctx ends.
func (c *Clinic) Stay(ctx context.Context, l net.Listener) error {
	c.clock.release()
	workers := []func(context.Context) error{
		c.scheduler.Run,
		func(ctx context.Context) error { return c.sender.Run(ctx, nil) },
		c.inbox.Run,
		func(ctx context.Context) error { return c.inbox.Serve(ctx, l) },
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	errs := make(chan error, len(workers))
	for _, w := range workers {
		go func() { errs <- w(ctx) }()
	}
	var first error
	for range workers {
		if err := <-errs; err != nil && first == nil && ctx.Err() == nil {
			first = err
			cancel()
		}
	}
	return first
}

// Close ends the mail provider.
func (c *Clinic) Close() error { return c.provider.Close() }
