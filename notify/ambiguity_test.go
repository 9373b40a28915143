package notify

import (
	"bytes"
	"context"
	"errors"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"bandbell/scheduler/plan"
)

// bigTexts make a message far larger than the buffers on the way (which the
// test keeps small), so that a peer that stops reading blocks the writer.
type bigTexts struct{}

func (bigTexts) Render(r Request) (Text, error) {
	return Text{Subject: "s", Plain: strings.Repeat("fresh bands after lunch, please\n", 12_000), Version: "v"}, nil
}

// TestBodyCutShort: a connection that ends while the body is said has sent
// nothing, and a peer that stops reading does not hold the daemon (no deadline
// of the library stands there).
func TestBodyCutShort(t *testing.T) {
	for _, fault := range []string{"drop", "reset", "hang"} {
		t.Run(fault, func(t *testing.T) {
			t.Parallel()
			p := newPeer(t, func(p *peer) { p.faults["body"], p.narrow = fault, true })
			box := newShelf(t, nudge(1))
			s, c := newSender(t, box, p, func(c *Config) {
				c.Composer = &Composer{Clinic: testClinic, Key: testKey, Texts: bigTexts{}}
				if fault == "hang" {
					impatient(c)
				}
				c.Server.Dial = func(ctx context.Context, network, addr string) (net.Conn, error) {
					conn, err := net.Dial(network, addr)
					if tcp, ok := conn.(*net.TCPConn); ok {
						tcp.SetWriteBuffer(16 << 10)
					}
					return conn, err
				}
			})
			s.Drain(context.Background())
			row := box.row(1)
			if row.State != plan.Retry || strings.Contains(strings.Join(box.log(), " "), "dot 1") {
				t.Fatalf("state %s (%s), steps %v; want retry without a dot", row.State, row.Reason, box.log())
			}
			first := row.Bytes
			p.fault("body", "")
			patient(s)
			c.advance(10 * time.Minute)
			if sent, err := s.Drain(context.Background()); sent != 1 || err != nil {
				t.Fatalf("second try: %d, %v", sent, err)
			}
			if l := p.letters(); len(l) != 1 || !bytes.Equal(l[0].data, first) {
				t.Errorf("%d copies, or another message than on file", len(l))
			}
		})
	}
}

// TestUncertainIsSentOnceMore: RFC 1047. The answer to the dot is lost twice;
// the message is sent twice in all, the same octets under the same Message-ID,
// however often the outbox is drained.
func TestUncertainIsSentOnceMore(t *testing.T) {
	p := newPeer(t, func(p *peer) { p.faults["dot"] = "lost" })
	box := newShelf(t, nudge(1))
	s, c := newSender(t, box, p, nil)
	for range 5 {
		s.Drain(context.Background())
		c.advance(5 * time.Minute)
	}
	l := p.letters()
	if len(l) != 2 || !bytes.Equal(l[0].data, l[1].data) || !bytes.Equal(l[0].data, box.row(1).Bytes) {
		t.Fatalf("%d copies, or they differ; want 2 alike", len(l))
	}
	if r := box.row(1); r.State != plan.Uncertain {
		t.Errorf("state %s; want uncertain", r.State)
	}
	if n := bytes.Count(l[0].data, []byte("Message-ID: <"+box.row(1).MessageID+">")); n != 1 {
		t.Errorf("%d Message-ID fields of the row", n)
	}
}

// TestKilledAtEachStep: the process dies at a step, another starts, recovers
// and drains. Dead before the dot: one copy. Dead after it: at most two, alike.
// The order on disk is the promise: bytes before the dial, the note of the dot
// before the dot.
func TestKilledAtEachStep(t *testing.T) {
	steps := []struct {
		step     string
		min, max int // copies at the server in the end
	}{
		{"claimed", 1, 1}, {"composed", 1, 1}, {"dial", 1, 1}, {"hello", 1, 1}, {"mail", 1, 1}, {"rcpt", 1, 1},
		{"data", 1, 1}, {"body", 1, 1}, {"dot noted", 1, 1}, {"dot", 1, 1}, {"dot left", 1, 2}, {"answered", 1, 2}, {"written", 1, 1},
	}
	for _, k := range steps {
		t.Run(k.step, func(t *testing.T) {
			t.Parallel()
			p := newPeer(t, nil)
			box := newShelf(t, nudge(1))
			s, _ := newSender(t, box, p, nil)
			ctx, kill := context.WithCancel(context.Background())
			seen := false
			s.at = func(step string) {
				checkOrder(t, box, step)
				if step != k.step || seen {
					return
				}
				seen = true
				box.mu.Lock()
				box.dead = true
				box.mu.Unlock()
				if step == "dot left" {
					// Wait until the server has the message, as if the kernel
					// had sent it and the process then died.
					for range 200 {
						if len(p.letters()) > 0 {
							break
						}
						time.Sleep(5 * time.Millisecond)
					}
				}
				runtime.Goexit()
			}
			done := make(chan struct{})
			go func() { defer close(done); s.Drain(ctx) }()
			<-done
			kill()
			if !seen {
				t.Fatalf("never came to step %q", k.step)
			}
			box.mu.Lock()
			box.dead = false
			box.mu.Unlock()

			s, _ = newSender(t, box, p, nil)
			if err := s.Recover(context.Background()); err != nil {
				t.Fatal(err)
			}
			for range 3 {
				if _, err := s.Drain(context.Background()); err != nil {
					t.Fatal(err)
				}
			}
			l := p.letters()
			if len(l) < k.min || len(l) > k.max {
				t.Fatalf("%d copies; want %d to %d", len(l), k.min, k.max)
			}
			for _, m := range l {
				if !bytes.Equal(m.data, box.row(1).Bytes) {
					t.Error("a copy differs from the bytes on file")
				}
			}
			if st := box.row(1).State; st != plan.Accepted {
				t.Errorf("state %s; want accepted", st)
			}
		})
	}
}

func checkOrder(t *testing.T, box *shelf, step string) {
	t.Helper()
	steps := strings.Join(box.log(), " ")
	switch step {
	case "dial", "hello":
		if !strings.Contains(steps, "composed 1") {
			t.Errorf("dialled before the bytes were on file: %s", steps)
		}
	case "dot":
		if !strings.Contains(steps, "dot 1") {
			t.Errorf("the dot would leave before it was noted: %s", steps)
		}
	}
}

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

// TestToldToStop: ended while it talks, the message is given back and nothing
// was sent; ended while the answer to the dot is awaited, the answer is heard.
func TestToldToStop(t *testing.T) {
	for _, step := range []string{"connect", "hello", "mail", "rcpt", "data"} {
		t.Run(step, func(t *testing.T) {
			t.Parallel()
			ctx, stop := context.WithCancel(context.Background())
			p := newPeer(t, func(p *peer) {
				p.faults[step] = "hang"
				p.onStep = func(s string) {
					if s == step {
						stop()
					}
				}
			})
			box := newShelf(t, nudge(1), nudge(2))
			s, _ := newSender(t, box, p, nil)
			began := time.Now()
			if sent, err := s.Drain(ctx); sent != 0 || !errors.Is(err, context.Canceled) {
				t.Errorf("Drain = %d, %v", sent, err)
			}
			if d := time.Since(began); d > 10*time.Second {
				t.Errorf("stopping took %s", d)
			}
			for id := int64(1); id <= 2; id++ {
				if r := box.row(id); r.State != plan.Retry || !box.next[id].Equal(noon) {
					t.Errorf("message %d: %s, next %s; want given back at once", id, r.State, box.next[id])
				}
			}
		})
	}
	t.Run("dot", func(t *testing.T) {
		ctx, stop := context.WithCancel(context.Background())
		p := newPeer(t, func(p *peer) {
			p.onStep = func(s string) {
				if s == "dot" {
					stop()
					time.Sleep(50 * time.Millisecond)
				}
			}
		})
		box := newShelf(t, nudge(1), nudge(2))
		s, _ := newSender(t, box, p, nil)
		if sent, err := s.Drain(ctx); sent != 1 || !errors.Is(err, context.Canceled) {
			t.Errorf("Drain = %d, %v; want the one in flight finished", sent, err)
		}
		if a, b := box.row(1).State, box.row(2).State; a != plan.Accepted || b != plan.Retry {
			t.Errorf("states %s, %s; want accepted, retry", a, b)
		}
	})
	t.Run("dot without an answer", func(t *testing.T) {
		ctx, stop := context.WithCancel(context.Background())
		p := newPeer(t, func(p *peer) {
			p.faults["dot"] = "hang"
			p.onStep = func(s string) {
				if s == "dot" {
					stop()
				}
			}
		})
		box := newShelf(t, nudge(1))
		s, _ := newSender(t, box, p, func(c *Config) { c.Grace = 100 * time.Millisecond })
		s.Drain(ctx)
		if st := box.row(1).State; st != plan.Uncertain {
			t.Errorf("state %s; want uncertain", st)
		}
	})
}

// TestNeverLate: what is past its moment lapses, at the claim's edge and while
// it is being said; an answer to a dot in time is still awaited.
func TestNeverLate(t *testing.T) {
	for _, tc := range []struct {
		name string
		left time.Duration
		want plan.State
	}{{"a second before", time.Second, plan.Accepted}, {"at the end", 0, plan.Lapsed}, {"a second after", -time.Second, plan.Lapsed}} {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		var c *clock
		s, c := newSender(t, box, p, nil)
		s.at = func(step string) {
			if step == "claimed" {
				c.mu.Lock()
				c.t = noon.Add(90*time.Minute - tc.left)
				c.mu.Unlock()
			}
		}
		s.Drain(context.Background())
		if st := box.row(1).State; st != tc.want {
			t.Errorf("%s: %s, want %s", tc.name, st, tc.want)
		}
		if n := len(p.letters()); (n == 1) != (tc.want == plan.Accepted) {
			t.Errorf("%s: %d copies", tc.name, n)
		}
	}
	t.Run("while talking", func(t *testing.T) {
		p, box := newPeer(t, nil), newShelf(t, nudge(1))
		s, c := newSender(t, box, p, nil)
		s.at = func(step string) {
			if step == "body" {
				c.advance(90 * time.Minute)
			}
		}
		s.Drain(context.Background())
		if r := box.row(1); r.State != plan.Lapsed || r.Reason != lapsed || len(p.letters()) != 0 {
			t.Errorf("%s (%s), %d copies; want lapsed, none", r.State, r.Reason, len(p.letters()))
		}
	})
	t.Run("a slow server", func(t *testing.T) {
		p, box := newPeer(t, func(p *peer) { p.faults["rcpt"] = "hang" }), newShelf(t, nudge(1))
		s, c := newSender(t, box, p, nil)
		c.advance(90*time.Minute - 200*time.Millisecond)
		began := time.Now()
		s.Drain(context.Background())
		if r := box.row(1); r.State != plan.Lapsed || time.Since(began) > 10*time.Second {
			t.Errorf("%s (%s) after %s; want lapsed when its window ended", r.State, r.Reason, time.Since(began))
		}
	})
	t.Run("the answer may be late", func(t *testing.T) {
		p := newPeer(t, func(p *peer) {
			p.onStep = func(s string) {
				if s == "dot" {
					time.Sleep(600 * time.Millisecond)
				}
			}
		})
		box := newShelf(t, nudge(1))
		s, c := newSender(t, box, p, func(c *Config) { c.Grace = time.Millisecond })
		c.advance(90*time.Minute - 300*time.Millisecond)
		if sent, _ := s.Drain(context.Background()); sent != 1 {
			t.Errorf("state %s; want accepted", box.row(1).State)
		}
	})
}
