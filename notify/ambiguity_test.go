package notify

import (
	"bytes"
	"context"
	"net"
	"runtime"
	"strings"
	"testing"
	"time"

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
