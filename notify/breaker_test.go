package notify

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// TestPolicyRefusals: one odd mailbox does not stop everybody's mail; the same
// for two patients in a row does, since then it is us.
func TestPolicyRefusals(t *testing.T) {
	p := newPeer(t, func(p *peer) { p.faults["rcpt"], p.once["rcpt"] = "550 5.7.1 policy", true })
	box := newShelf(t, nudge(1), nudge(2), nudge(3))
	s, _ := newSender(t, box, p, nil)
	if sent, err := s.Drain(context.Background()); sent != 2 || err != nil {
		t.Errorf("one refusal: Drain = %d, %v; want the other two sent", sent, err)
	}
	if r := box.row(1); r.State != plan.Retry {
		t.Errorf("the refused one is %s; want retry", r.State)
	}

	p = newPeer(t, func(p *peer) { p.faults["dot"] = "550 5.7.515 not authenticated" })
	box = newShelf(t, nudge(1), nudge(2), nudge(3), nudge(4))
	s, _ = newSender(t, box, p, nil)
	_, err := s.Drain(context.Background())
	var held *HeldError
	if !errors.As(err, &held) || !held.Broken || p.said("MAIL") != 2 {
		t.Errorf("refused as a sender: %v after %d messages; want a pause after 2", err, p.said("MAIL"))
	}
	for id := int64(1); id <= 4; id++ {
		if st := box.row(id).State; st != plan.Retry {
			t.Errorf("message %d is %s", id, st)
		}
	}
}

// TestOutageBacksOff: a server out of reach is tried at growing distances, and
// what cannot leave in its window is not failed.
func TestOutageBacksOff(t *testing.T) {
	p := newPeer(t, func(p *peer) { p.faults["connect"] = "421" })
	box := newShelf(t, nudge(1), nudge(2), nudge(3))
	s, c := newSender(t, box, p, nil)
	for range 89 * 4 {
		s.Drain(context.Background())
		c.advance(15 * time.Second)
	}
	if n := p.dialled(); n < 8 || n > 40 {
		t.Errorf("%d dials in 89 minutes", n)
	}
	for id := int64(1); id <= 3; id++ {
		if st := box.row(id).State; st != plan.Retry && st != plan.Lapsed {
			t.Errorf("message %d is %s", id, st)
		}
	}
	// The clock goes back before the pause began: no stall (it would else
	// last until the wall caught up).
	s.Drain(context.Background())
	c.advance(-3 * time.Hour)
	if s.Health() != nil {
		t.Error("the pause outlived a clock that went back")
	}
}

// brittleTexts panic for one patient.
type brittleTexts struct{ plainTexts }

func (b brittleTexts) Render(r Request) (Text, error) {
	switch r.Values["first_name"] {
	case "Panic":
		panic("no such luck, Panic")
	case "Error":
		return Text{}, errors.New("no text")
	}
	return b.plainTexts.Render(r)
}

// TestOneBadMessageStopsNobody: what cannot be composed is put off while its
// window is open and lapses with a reason; the others leave.
func TestOneBadMessageStopsNobody(t *testing.T) {
	a, b, hostile := nudge(1), nudge(2), nudge(4)
	a.Patient.FirstName, b.Patient.FirstName = "Panic", "Error"
	hostile.To.Address = "a@b.test\r\nBcc: x@y.test"
	p, box := newPeer(t, nil), newShelf(t, a, b, nudge(3), hostile)
	s, c := newSender(t, box, p, func(c *Config) { c.Composer.Texts = brittleTexts{} })
	if sent, err := s.Drain(context.Background()); sent != 1 || err != nil {
		t.Fatalf("Drain = %d, %v; want the good one sent", sent, err)
	}
	for id, want := range map[int64]plan.State{1: plan.Retry, 2: plan.Retry, 3: plan.Accepted, 4: plan.Failed} {
		if st := box.row(id).State; st != want {
			t.Errorf("message %d is %s, want %s", id, st, want)
		}
	}
	c.advance(90*time.Minute - 5*time.Second)
	s.Drain(context.Background())
	for id := int64(1); id <= 2; id++ {
		if r := box.row(id); r.State != plan.Lapsed || !strings.Contains(r.Reason, "composed") {
			t.Errorf("message %d is %s (%s), want lapsed", id, r.State, r.Reason)
		}
	}
}
