package notify

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

var testKey = []byte("a key for tests, 32 bytes long..")

var testClinic = Clinic{
	Name: "Harbour Orthodontics", From: "care@clinic.test", Mailbox: "care@clinic.test", Phone: "555 0100",
}

// noon is when the test messages are due.
var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// clock is a hand-set clock.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func (c *clock) now() time.Time          { c.mu.Lock(); defer c.mu.Unlock(); return c.t }
func (c *clock) advance(d time.Duration) { c.mu.Lock(); defer c.mu.Unlock(); c.t = c.t.Add(d) }

// nudge is a band-change message due at noon and useful for 90 minutes.
func nudge(id int64) plan.Job {
	day := plan.NewDate(2026, 6, 1)
	key := fmt.Sprintf("nudge/AB%dCDE/band-change/2026-06-01/2026-06-01/PCD", id)
	return plan.Job{
		Outgoing: plan.Outgoing{
			ID: id, Cause: plan.CauseNudge, Key: key, State: plan.Planned, Due: noon, Until: noon.Add(90 * time.Minute),
			To: plan.Recipient{ID: id, Role: plan.RolePatient, Address: plan.Address(fmt.Sprintf("pat%d@home.test", id))},
		},
		Patient: plan.Patient{ID: id, Ref: fmt.Sprintf("AB%dCDE", id), FirstName: "Mira", Language: "en"},
		Plan:    plan.Plan{AlignerStart: plan.NewDate(2026, 5, 1)},
		Nudge:   plan.Nudge{Kind: plan.BandChange, Slot: "2026-06-01/PCD", Day: day, Due: noon, Until: noon.Add(90 * time.Minute)},
	}
}

// plainTexts are texts for tests that look at sending, not at words.
type plainTexts struct{}

func (plainTexts) Render(r Request) (Text, error) {
	return Text{
		Subject: "Time for a fresh set", Language: r.Language, Version: "v1",
		Plain: "Hello " + r.Values["first_name"] + ",\n\nplease change your bands now.\n.\nDone? Answer with one word.\n",
		HTML:  "<p>Hello,</p><p>please change your bands now.</p>",
	}, nil
}

// newSender makes a Sender on a peer without TLS, at noon.
func newSender(t *testing.T, box Outbox, p *peer, set func(*Config)) (*Sender, *clock) {
	t.Helper()
	c := &clock{t: noon}
	cfg := Config{
		Outbox: box, Composer: &Composer{Clinic: testClinic, Texts: plainTexts{}, Key: testKey}, Now: c.now,
		Server:      Server{Addr: p.addr(), Security: None, CommandTimeout: 20 * time.Second, DotTimeout: 20 * time.Second},
		Connections: 1, Grace: 20 * time.Second,
	}
	if set != nil {
		set(&cfg)
	}
	s := New(cfg)
	s.roll = func() float64 { return 0.5 }
	return s, c
}

// impatient is a setting for peers that never answer; patient takes it back,
// so that a busy machine is not taken for a silent one.
func impatient(c *Config) {
	c.Server.CommandTimeout, c.Server.DotTimeout = 400*time.Millisecond, 400*time.Millisecond
}

func patient(s *Sender) {
	s.server.CommandTimeout, s.server.DotTimeout = 20*time.Second, 20*time.Second
}

func TestSendsOnceAndWritesEveryStep(t *testing.T) {
	p := newPeer(t, nil)
	box := newShelf(t, nudge(1), nudge(2), nudge(3))
	s, _ := newSender(t, box, p, nil)
	sent, err := s.Drain(context.Background())
	if sent != 3 || err != nil {
		t.Fatalf("Drain = %d, %v; want 3 sent", sent, err)
	}
	want := []string{"claim 1", "claim 2", "claim 3",
		"composed 1", "dot 1", "accepted 1", "composed 2", "dot 2", "accepted 2", "composed 3", "dot 3", "accepted 3"}
	if d := cmp.Diff(want, box.log()); d != "" {
		t.Errorf("steps (-want +got):\n%s", d)
	}
	if got := p.dialled(); got != 1 {
		t.Errorf("dialled %d times; three messages fit one connection", got)
	}
	for i, l := range p.letters() {
		if want := string(box.row(int64(i + 1)).Bytes); string(l.data) != want {
			t.Errorf("message %d arrived changed", i+1)
		}
		if !strings.HasPrefix(l.from, "care+") || !strings.HasSuffix(l.from, "@clinic.test") {
			t.Errorf("envelope sender %q names no token", l.from)
		}
	}
	if got := p.said("RCPT"); got != 3 {
		t.Errorf("%d RCPT for 3 messages; each has one recipient", got)
	}
	// A second drain finds nothing and says nothing.
	if sent, err := s.Drain(context.Background()); sent != 0 || err != nil || p.dialled() != 1 {
		t.Errorf("second Drain = %d, %v, %d dials; want nothing done", sent, err, p.dialled())
	}
}

// TestFaultAtEachStage checks the end state after one attempt, and that a
// later one sends exactly once what was certainly not sent. RFC 5321 sections
// 4.2.5 (a 4yz or 5yz after the dot: not delivered) and 4.5.3.2.6 (no answer:
// not known).
func TestFaultAtEachStage(t *testing.T) {
	type want struct {
		state plan.State
		pause bool
	}
	retry, outage := want{plan.Retry, false}, want{plan.Retry, true}
	failed, unsure := want{plan.Failed, false}, want{plan.Uncertain, true}
	table := map[string]map[string]want{
		"connect": {"450 4.3.0 later": outage, "554 5.3.2 no": outage, "421": outage, "drop": outage, "hang": outage, "reset": outage},
		"hello":   {"450 4.3.0 later": outage, "554 5.3.2 no": outage, "500 5.5.1 what": outage, "502 5.5.1 what": outage, "421": outage, "drop": outage, "hang": outage},
		"auth":    {"454 4.7.0 later": outage, "535 5.7.8 no": outage, "421": outage, "drop": outage, "hang": outage},
		"mail":    {"450 4.3.0 later": retry, "550 5.3.0 no": failed, "550 5.7.1 no": outage, "421": retry, "drop": retry, "hang": retry, "reset": retry},
		"rcpt": {"450 4.2.1 later": retry, "451 greylisted": retry, "550 5.1.1 nobody": failed, "550 nobody": failed, "552 5.5.3 too many": retry,
			"552 too many": retry, "550 5.7.1 policy": retry, "421": retry, "drop": retry, "hang": retry},
		"data": {"451 4.3.0 later": retry, "554 5.5.0 no": failed, "421": retry, "drop": retry, "hang": retry},
		"dot": {"452 4.3.1 later": retry, "554 5.6.0 no": failed, "552 5.3.4 too big": failed, "421": retry, "drop": unsure, "lost": unsure,
			"hang": unsure, "reset": unsure, "251 fine": {plan.Accepted, false}, "354 eh": unsure, "garbage": unsure},
		"quit": {"450 4.3.0 eh": {plan.Accepted, false}, "550 5.0.0 eh": {plan.Accepted, false}, "421": {plan.Accepted, false},
			"drop": {plan.Accepted, false}, "hang": {plan.Accepted, false}},
	}
	for step, cases := range table {
		for fault, want := range cases {
			t.Run(step+"/"+strings.ReplaceAll(fault, " ", "_"), func(t *testing.T) {
				t.Parallel()
				p := newPeer(t, func(p *peer) { p.auth, p.faults[step] = "PLAIN", fault })
				box := newShelf(t, nudge(1))
				s, c := newSender(t, box, p, func(cfg *Config) {
					cfg.Server.Username, cfg.Server.Password = "u", "pw"
					if fault == "hang" {
						impatient(cfg)
					}
				})
				_, err := s.Drain(context.Background())
				row := box.row(1)
				if row.State != want.state {
					t.Fatalf("state %s (%s), err %v; want %s", row.State, row.Reason, err, want.state)
				}
				if got := s.Health() != nil; got != want.pause {
					t.Errorf("sending paused: %v (%v), want %v", got, s.Health(), want.pause)
				}
				if want.state != plan.Accepted && row.Reason == "" {
					t.Error("no reason is on file")
				}
				taken := len(p.letters())
				if taken > 1 || taken > 0 && want.state == plan.Retry {
					t.Errorf("the server holds %d copies in state %s", taken, want.state)
				}
				// The server recovers; the window is still open after 20 minutes.
				p.fault(step, "")
				patient(s)
				c.advance(20 * time.Minute)
				sent, err := s.Drain(context.Background())
				again := want.state == plan.Retry || want.state == plan.Uncertain
				if again && (sent != 1 || box.row(1).State != plan.Accepted || len(p.letters()) != taken+1) {
					t.Errorf("after recovery: %d sent (%v), state %s, %d copies; want one more", sent, err, box.row(1).State, len(p.letters()))
				}
				if !again && (sent != 0 || len(p.letters()) != taken) {
					t.Errorf("after recovery: %d sent, %d more copies; want none", sent, len(p.letters())-taken)
				}
				for _, l := range p.letters() {
					if string(l.data) != string(box.row(1).Bytes) {
						t.Error("a copy differs from the bytes on file")
					}
				}
			})
		}
	}
}
