package notify

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"bandbell/scheduler/plan"
)

// TestAcceptedCannotBeWritten: a full disk after the server took a message.
// Nothing else leaves until the acceptance is on file, and nothing twice.
func TestAcceptedCannotBeWritten(t *testing.T) {
	p := newPeer(t, nil)
	box := newShelf(t, nudge(1), nudge(2), nudge(3))
	s, c := newSender(t, box, p, nil)
	full := errors.New("database or disk is full")
	box.breakOn("accepted", full)
	if sent, err := s.Drain(context.Background()); sent != 1 || !errors.Is(err, full) {
		t.Fatalf("Drain = %d, %v; want 1 and the disk's error", sent, err)
	}
	for range 3 {
		c.advance(time.Minute)
		if sent, err := s.Drain(context.Background()); sent != 0 || !errors.Is(err, full) {
			t.Fatalf("while full: Drain = %d, %v", sent, err)
		}
	}
	if s.Health() == nil {
		t.Error("health is well while an outcome waits")
	}
	if n := len(p.letters()); n != 1 {
		t.Fatalf("%d messages left while the disk was full; want 1", n)
	}
	// Outcomes are written in the order in which they came about.
	tried := false
	for _, step := range box.log() {
		if tried && step != "accepted! 1" {
			t.Errorf("%s was written before the acceptance", step)
		}
		tried = tried || step == "accepted! 1"
	}
	box.breakOn("accepted", nil)
	if sent, err := s.Drain(context.Background()); sent != 2 || err != nil || s.Health() != nil {
		t.Fatalf("after: Drain = %d, %v, health %v; want the other two", sent, err, s.Health())
	}
	for id := int64(1); id <= 3; id++ {
		if r := box.row(id); r.State != plan.Accepted {
			t.Errorf("message %d is %s", id, r.State)
		}
	}
	if n := len(p.letters()); n != 3 {
		t.Errorf("%d copies of 3 messages", n)
	}
}

// errGone is what the outbox says of a row that is no more.
var errGone = errors.New("no such row")

// TestOutboxRefuses: no bytes on file, no dial; no note of the dot, no dot;
// and an outcome of a row that is gone does not hold up the others for ever.
func TestOutboxRefuses(t *testing.T) {
	full := errors.New("database or disk is full")
	t.Run("claim", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		box.breakOn("claim", full)
		s, _ := newSender(t, box, p, nil)
		if sent, err := s.Drain(context.Background()); sent != 0 || !errors.Is(err, full) || p.dialled() != 0 {
			t.Errorf("Drain = %d, %v, %d dials", sent, err, p.dialled())
		}
	})
	t.Run("composed", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		box.breakOn("composed", full)
		s, _ := newSender(t, box, p, nil)
		if sent, err := s.Drain(context.Background()); sent != 0 || !errors.Is(err, full) || p.dialled() != 0 {
			t.Errorf("Drain = %d, %v, %d dials", sent, err, p.dialled())
		}
		box.breakOn("composed", nil)
		if sent, err := s.Drain(context.Background()); sent != 1 || err != nil {
			t.Errorf("after: %d, %v", sent, err)
		}
	})
	t.Run("dot", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		box.breakOn("dot", full)
		s, _ := newSender(t, box, p, nil)
		if sent, err := s.Drain(context.Background()); sent != 0 || !errors.Is(err, full) || len(p.letters()) != 0 {
			t.Errorf("Drain = %d, %v, %d copies", sent, err, len(p.letters()))
		}
		box.breakOn("dot", nil)
		if sent, err := s.Drain(context.Background()); sent != 1 || err != nil || len(p.letters()) != 1 {
			t.Errorf("after: %d, %v, %d copies", sent, err, len(p.letters()))
		}
	})
	t.Run("dot, with an error like a reply", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		box.breakOn("dot", &smtp.SMTPError{Code: 450})
		s, _ := newSender(t, box, p, nil)
		if s.Drain(context.Background()); len(p.letters()) != 0 || box.row(1).State != plan.Retry {
			t.Errorf("%d copies, state %s; nothing may be said after half a message", len(p.letters()), box.row(1).State)
		}
	})
	t.Run("row gone", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1), nudge(2))
		box.breakOn("accepted", errGone)
		s, _ := newSender(t, box, p, func(c *Config) { c.Gone = func(err error) bool { return errors.Is(err, errGone) } })
		if sent, err := s.Drain(context.Background()); sent != 2 || !errors.Is(err, errGone) || s.Health() != nil {
			t.Errorf("Drain = %d, %v, health %v", sent, err, s.Health())
		}
	})
}
