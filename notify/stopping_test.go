package notify

import (
	"context"
	"errors"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

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
