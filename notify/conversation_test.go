package notify

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// TestStaleConnection: a server that closed an idle connection says so at the
// next MAIL (RFC 5321 section 3.8: 421); we dial once more and lose nothing.
// A fresh connection that answers so is not dialled again.
func TestStaleConnection(t *testing.T) {
	for _, fault := range []string{"421", "drop", "reset"} {
		t.Run(fault, func(t *testing.T) {
			var mails atomic.Int64
			p := newPeer(t, func(p *peer) {
				p.onStep = func(step string) {
					if step == "mail" && mails.Add(1) == 1 {
						// The fault is for the second message's MAIL, once.
						p.mu.Lock()
						p.faults["mail"], p.once["mail"] = fault, true
						p.mu.Unlock()
					}
				}
			})
			box := newShelf(t, nudge(1), nudge(2), nudge(3))
			s, _ := newSender(t, box, p, nil)
			if sent, err := s.Drain(context.Background()); sent != 3 || err != nil {
				t.Fatalf("Drain = %d, %v", sent, err)
			}
			if len(p.letters()) != 3 || p.dialled() != 2 {
				t.Errorf("%d copies over %d connections; want 3 over 2", len(p.letters()), p.dialled())
			}
		})
		t.Run("fresh "+fault, func(t *testing.T) {
			p, box := newPeer(t, func(p *peer) { p.faults["mail"] = fault }), newShelf(t, nudge(1))
			s, _ := newSender(t, box, p, nil)
			if s.Drain(context.Background()); p.dialled() != 1 || box.row(1).State != plan.Retry {
				t.Errorf("%d dials, state %s; want 1, retry", p.dialled(), box.row(1).State)
			}
		})
	}
}

// TestRefusalClearsTheTransaction: after a refused recipient the connection is
// kept and reset, and the next message is not joined to the refused one (RFC
// 5321 section 4.1.1.5).
func TestRefusalClearsTheTransaction(t *testing.T) {
	for _, step := range []string{"mail", "rcpt", "data", "dot"} {
		p := newPeer(t, func(p *peer) { p.faults[step], p.once[step] = "550 5.1.1 nobody", true })
		box := newShelf(t, nudge(1), nudge(2))
		s, _ := newSender(t, box, p, nil)
		if sent, err := s.Drain(context.Background()); sent != 1 || err != nil {
			t.Fatalf("%s: Drain = %d, %v", step, sent, err)
		}
		if a, b := box.row(1).State, box.row(2).State; a != plan.Failed || b != plan.Accepted {
			t.Errorf("%s: states %s, %s", step, a, b)
		}
		wantReset := 1
		if step == "dot" {
			wantReset = 0 // the answer to the dot has ended the transaction
		}
		if p.dialled() != 1 || p.said("RSET") != wantReset {
			t.Errorf("%s: %d dials, %d RSET; want 1, %d", step, p.dialled(), p.said("RSET"), wantReset)
		}
		if l := p.letters(); len(l) != 1 || l[0].to != "pat2@home.test" {
			t.Errorf("%s: the second message went to the wrong recipient", step)
		}
	}
}

// TestConnectionIsRenewed after the number of messages the provider takes.
func TestConnectionIsRenewed(t *testing.T) {
	p, box := newPeer(t, nil), newShelf(t)
	for id := int64(1); id <= 7; id++ {
		j := nudge(id)
		box.rows[id] = &j
	}
	s, _ := newSender(t, box, p, func(c *Config) { c.Server.PerConnection = 3 })
	if sent, err := s.Drain(context.Background()); sent != 7 || err != nil || p.dialled() != 3 || p.said("QUIT") != 3 {
		t.Errorf("Drain = %d, %v over %d connections, %d goodbyes; want 7 over 3", sent, err, p.dialled(), p.said("QUIT"))
	}
}

// TestLanesShareTheWork: several connections, each message once.
func TestLanesShareTheWork(t *testing.T) {
	p, box := newPeer(t, nil), newShelf(t)
	for id := int64(1); id <= 100; id++ {
		j := nudge(id)
		box.rows[id] = &j
	}
	s, _ := newSender(t, box, p, func(c *Config) { c.Connections = 4 })
	if sent, err := s.Drain(context.Background()); sent != 100 || err != nil {
		t.Fatalf("Drain = %d, %v", sent, err)
	}
	seen := map[string]int{}
	for _, l := range p.letters() {
		seen[l.to]++
	}
	if len(seen) != 100 {
		t.Errorf("%d recipients, want 100", len(seen))
	}
	for to, n := range seen {
		if n != 1 {
			t.Errorf("%s got %d copies", to, n)
		}
	}
}

// TestAddressesAreChecked: what the library would send as a parameter or a
// second command never comes to the wire; an address beyond ASCII goes only
// where SMTPUTF8 is offered (RFC 6531 section 3.2), a domain beyond ASCII in
// its A-labels (RFC 5891).
func TestAddressesAreChecked(t *testing.T) {
	for _, tc := range []struct {
		to    plan.Address
		offer string
		want  plan.State
		rcpt  string
	}{
		{"a@home.test> NOTIFY=NEVER", "", plan.Failed, ""},
		{"a@home.test>\r\nRCPT TO:<b@home.test", "", plan.Failed, ""},
		{"a b@home.test", "", plan.Failed, ""},
		{"", "", plan.Failed, ""},
		{"dürer@home.test", "", plan.Failed, ""},
		{"dürer@home.test", "SMTPUTF8", plan.Accepted, "dürer@home.test"},
		{"anna@bücher.test", "", plan.Accepted, "anna@xn--bcher-kva.test"},
		{"o'neil+x@home.test", "", plan.Accepted, "o'neil+x@home.test"},
	} {
		p := newPeer(t, func(p *peer) {
			if tc.offer != "" {
				p.offers = []string{tc.offer}
			}
		})
		job := nudge(1)
		job.To.Address = tc.to
		box := newShelf(t, job)
		s, _ := newSender(t, box, p, nil)
		s.Drain(context.Background())
		if r := box.row(1); r.State != tc.want || strings.Contains(r.Reason, "home.test") {
			t.Errorf("%q: state %s (%s), want %s", tc.to, r.State, r.Reason, tc.want)
		}
		if p.said("RCPT") > 0 != (tc.rcpt != "") {
			t.Errorf("%q: %d RCPT", tc.to, p.said("RCPT"))
		}
		if l := p.letters(); tc.rcpt != "" && (len(l) != 1 || l[0].to != tc.rcpt) {
			t.Errorf("%q: went to %v, want %s", tc.to, l, tc.rcpt)
		}
	}
}

// TestLogsNamePeopleByNumberOnly runs accepted, refused and unmade messages
// and looks for every word of a patient in the log.
func TestLogsNamePeopleByNumberOnly(t *testing.T) {
	p := newPeer(t, func(p *peer) {
		p.faults["rcpt"], p.once["rcpt"] = "550 5.1.1 <pat1@home.test>: no such patient as Mira", true
	})
	odd := nudge(3)
	odd.To.Address = "mira@home.test> X"
	box := newShelf(t, nudge(1), nudge(2), odd)
	var log bytes.Buffer
	s, _ := newSender(t, box, p, func(c *Config) {
		c.Log = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	})
	s.Drain(context.Background())
	for _, word := range []string{"home.test", "Mira", "pat1", "fresh set", "no such"} {
		if strings.Contains(strings.ToLower(log.String()), strings.ToLower(word)) {
			t.Errorf("the log holds %q:\n%s", word, log.String())
		}
		for id := int64(1); id <= 3; id++ {
			if strings.Contains(box.row(id).Reason, word) {
				t.Errorf("the reason of message %d holds %q", id, word)
			}
		}
	}
	if !strings.Contains(log.String(), "message=1") || !strings.Contains(log.String(), "5.1.1") {
		t.Errorf("the log does not say which message was refused and how:\n%s", log.String())
	}
}

// TestPaceIsKept: 600 a minute is one every tenth of a second, so the fifth
// leaves four tenths after the first.
func TestPaceIsKept(t *testing.T) {
	p, box := newPeer(t, nil), newShelf(t, nudge(1), nudge(2), nudge(3), nudge(4), nudge(5))
	s, _ := newSender(t, box, p, func(c *Config) { c.PerMinute, c.Connections = 600, 3 })
	began := time.Now()
	if sent, err := s.Drain(context.Background()); sent != 5 || err != nil {
		t.Fatalf("Drain = %d, %v", sent, err)
	}
	if d := time.Since(began); d < 390*time.Millisecond {
		t.Errorf("five messages left within %s", d)
	}
	// Told to stop while waiting for its turn, a message is given back.
	box = newShelf(t, nudge(1), nudge(2))
	s, _ = newSender(t, box, p, func(c *Config) { c.PerMinute = 1 })
	ctx, stop := context.WithCancel(context.Background())
	s.at = func(step string) {
		if step == "written" {
			stop()
		}
	}
	if sent, err := s.Drain(ctx); sent != 1 || !errors.Is(err, context.Canceled) || box.row(2).State != plan.Retry {
		t.Errorf("Drain = %d, %v, second %s; want it given back", sent, err, box.row(2).State)
	}
}
