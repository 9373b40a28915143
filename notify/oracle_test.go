package notify

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// trouble is a source of faults and deaths, the same for the same seed and
// order of questions.
type trouble struct {
	mu sync.Mutex
	r  *rand.Rand
}

func (t *trouble) chance(p float64) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.r.Float64() < p
}

func (t *trouble) below(n int) int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.r.IntN(n)
}

func (t *trouble) pick(from []string) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return from[t.r.IntN(len(from))]
}

// TestWhateverGoesWrong sends through a server that refuses, drops, resets and
// loses answers at random, while the process dies at random steps and is
// started again. Afterwards, whatever happened: no message has more than one
// copy, or two if its answer was ever in doubt (RFC 1047); all copies are the
// octets on file; an accepted one has a copy; one refused for good was never
// taken; what is left over has run out of time.
func TestWhateverGoesWrong(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		luck := &trouble{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))}
		p := newPeer(t, func(p *peer) {
			p.onStep = func(step string) {
				if step != "mail" && step != "hello" {
					return
				}
				p.mu.Lock()
				defer p.mu.Unlock()
				clear(p.faults)
				if luck.chance(0.5) {
					p.faults[luck.pick([]string{"rcpt", "data", "body", "dot"})] = luck.pick([]string{"450 4.2.1 later", "drop", "reset", "lost", "421", "552 full"})
				}
				if luck.chance(0.1) {
					p.faults["connect"] = luck.pick([]string{"421", "drop", "450 4.3.0 later"})
				}
			}
		})
		defer p.listener.Close()
		box := newShelf(t)
		const n = 6
		for id := int64(1); id <= n; id++ {
			j := nudge(id)
			box.rows[id] = &j
		}
		c := &clock{t: noon}
		for c.now().Before(noon.Add(100 * time.Minute)) {
			live(t, box, p, c, luck)
			c.advance(time.Duration(1+luck.below(9)) * time.Minute)
		}
		judge(rt, box, p, n)
	})
}

// live is one life of the process: it starts, recovers, drains, and may die at
// any step.
func live(t *testing.T, box *shelf, p *peer, c *clock, luck *trouble) {
	ctx, end := context.WithCancel(context.Background())
	defer end()
	s, _ := newSender(t, box, p, func(cfg *Config) { cfg.Now = c.now })
	s.at = func(string) {
		if luck.chance(0.01) {
			box.mu.Lock()
			box.dead = true
			box.mu.Unlock()
			runtime.Goexit()
		}
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		if s.Recover(ctx) == nil {
			s.Drain(ctx)
		}
	}()
	<-done
	box.mu.Lock()
	box.dead = false
	box.mu.Unlock()
}

func judge(t *rapid.T, box *shelf, p *peer, n int64) {
	copies := map[string][][]byte{}
	for _, l := range p.letters() {
		copies[l.to] = append(copies[l.to], l.data)
	}
	steps := strings.Join(box.log(), "\n") + "\n"
	for id := int64(1); id <= n; id++ {
		row := box.row(id)
		got := copies[string(row.To.Address)]
		doubt := doubted(box.log(), id)
		limit := 1
		if doubt {
			limit = 2
		}
		if len(got) > limit {
			t.Fatalf("message %d: %d copies, in doubt %v\n%s", id, len(got), doubt, steps)
		}
		for _, data := range got {
			if !bytes.Equal(data, row.Bytes) {
				t.Fatalf("message %d: a copy differs from the octets on file", id)
			}
		}
		switch row.State {
		case plan.Accepted:
			if len(got) == 0 {
				t.Fatalf("message %d is accepted and was never taken\n%s", id, steps)
			}
		case plan.Failed:
			if len(got) > 0 && !doubt {
				t.Fatalf("message %d failed and was taken\n%s", id, steps)
			}
		case plan.Lapsed, plan.Retry, plan.Uncertain, plan.Planned, plan.DotSent, plan.Claimed:
			if len(got) > 0 && !doubt {
				t.Fatalf("message %d is %s and was taken\n%s", id, row.State, steps)
			}
		}
	}
}

// doubted reports whether the dot of a message was ever noted without an answer
// being written next.
func doubted(steps []string, id int64) bool {
	last := ""
	for _, step := range append(steps, fmt.Sprintf("end %d", id)) {
		verb, of, _ := strings.Cut(step, " ")
		if of != strconv.FormatInt(id, 10) {
			continue
		}
		if last == "dot" && (verb == "claim" || verb == "uncertain" || verb == "end") {
			return true
		}
		last = verb
	}
	return false
}
