package inbox

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

var (
	key       = []byte("a key of the test, 32 bytes long")
	errNoSuch = errors.New("no such message")
	errDisk   = errors.New("disk is full")
	received  = time.Date(2026, 6, 1, 17, 10, 0, 0, time.UTC) // 13:10 in New York
)

const ours = "bands@clinic.test"

// shelf is a Recorder in memory.
type shelf struct {
	mu        sync.Mutex
	inbound   []plan.Inbound
	keys      map[string]int64
	asked     map[string]plan.Asked // by cause
	heard     map[int64]plan.Heard
	records   int
	receive   error // what Receive fails with
	lookup    error // what the look-ups fail with
	record    func(id int64, h plan.Heard) error
	lookups   int
	onReceive func()
}

func newShelf(asked ...plan.Asked) *shelf {
	s := &shelf{keys: map[string]int64{}, asked: map[string]plan.Asked{}, heard: map[int64]plan.Heard{}}
	for _, a := range asked {
		s.asked[cause(a)] = a
	}
	return s
}

func cause(a plan.Asked) string { return fmt.Sprintf("%s#%d", a.Outgoing.Key, a.Outgoing.To.ID) }

func (s *shelf) Receive(_ context.Context, in plan.Inbound) (int64, bool, error) {
	s.mu.Lock()
	before := s.onReceive
	s.mu.Unlock()
	if before != nil {
		before()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.receive != nil {
		return 0, false, s.receive
	}
	k := fmt.Sprintf("%x %q", sha256.Sum256(in.Raw), in.To)
	if id, ok := s.keys[k]; ok {
		return id, false, nil
	}
	in.ID = int64(len(s.inbound) + 1)
	in.Raw = slices.Clone(in.Raw)
	s.inbound = append(s.inbound, in)
	s.keys[k] = in.ID
	return in.ID, true, nil
}

func (s *shelf) Unread(_ context.Context, limit int) ([]plan.Inbound, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []plan.Inbound
	for _, in := range s.inbound {
		if _, done := s.heard[in.ID]; !done && len(out) < limit {
			out = append(out, in)
		}
	}
	return out, nil
}

func (s *shelf) AskedBySelector(_ context.Context, selector string) (plan.Asked, string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lookups++
	if s.lookup != nil {
		return plan.Asked{}, "", s.lookup
	}
	for c, a := range s.asked {
		if tok, _ := token.Make(key, c); tok != "" {
			if sel, _ := token.Selector(tok); sel == selector {
				return a, c, nil
			}
		}
	}
	return plan.Asked{}, "", fmt.Errorf("selector: %w", errNoSuch)
}

func (s *shelf) AskedByMessageID(_ context.Context, ids []string) (plan.Asked, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lookups++
	if s.lookup != nil {
		return plan.Asked{}, s.lookup
	}
	for _, id := range ids {
		for _, a := range s.asked {
			if a.Outgoing.MessageID == id {
				return a, nil
			}
		}
	}
	return plan.Asked{}, fmt.Errorf("message-id: %w", errNoSuch)
}

func (s *shelf) Record(_ context.Context, id int64, h plan.Heard) error {
	if s.record != nil {
		if err := s.record(id, h); err != nil {
			return err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.heard[id] = h
	s.records++
	return nil
}

func (s *shelf) stored() []plan.Inbound {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.inbound)
}

// nudge is a message sent to Ana after lunch on 1 June 2026 in New York.
func nudge() plan.Asked {
	due := time.Date(2026, 6, 1, 17, 0, 0, 0, time.UTC)
	p := plan.Patient{
		ID: 7, Ref: "k7m2qd", FirstName: "Ana", Language: "en", Zone: "America/New_York",
		Recipients: []plan.Recipient{
			{ID: 70, Role: plan.RolePatient, Address: "ana@patients.test"},
			{ID: 71, Role: plan.RoleGuardian, Address: "rosa@patients.test", Name: "Rosa"},
		},
	}
	return plan.Asked{
		Patient: p,
		Outgoing: plan.Outgoing{
			ID: 700, Cause: plan.CauseNudge, Key: "nudge/k7m2qd/band-change/2026-06-01/2026-06-01/PCD",
			To: p.Recipients[0], State: plan.Accepted, Due: due, MessageID: "00112233445566778899aabbccddeeff@clinic.test",
		},
		Nudge: plan.Nudge{
			Kind: plan.BandChange, Slot: "2026-06-01/PCD", Day: plan.NewDate(2026, 6, 1), Due: due, Until: due.Add(90 * time.Minute),
		},
		Plan: plan.Plan{
			Appliance: plan.Aligners, AlignerStart: plan.NewDate(2026, 5, 11), DaysPerTray: 10, Trays: 24,
			HoursPerDay: 22, ChangesPerDay: 4,
			Meals: []plan.Meal{
				{Code: plan.AfterBreakfast, At: 450, Minutes: 30, Days: plan.AllDays},
				{Code: plan.AfterLunch, At: 750, Minutes: 30, Days: plan.AllDays},
				{Code: plan.AfterDinner, At: 1110, Minutes: 30, Days: plan.AllDays},
			},
		},
	}
}

func tok(t testing.TB, a plan.Asked) string {
	t.Helper()
	s, err := token.Make(key, cause(a))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// address is our reply address with the token of a.
func address(t testing.TB, a plan.Asked) string {
	t.Helper()
	s, err := token.Address(ours, tok(t, a))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func newInbox(t testing.TB, rec Recorder, change ...func(*Options)) *Inbox {
	t.Helper()
	o := Options{Address: ours, Key: key, NotFound: errNoSuch, Now: func() time.Time { return received }}
	for _, c := range change {
		c(&o)
	}
	i, err := New(rec, o)
	if err != nil {
		t.Fatal(err)
	}
	return i
}

// letter is a raw message of plain text from Ana.
func letter(to, text string, more ...string) []byte {
	lines := append([]string{
		"From: Ana <ana@patients.test>",
		"To: <" + to + ">",
		"Subject: Re: After lunch",
		"Date: Mon, 01 Jun 2026 13:09:00 -0400",
		"Message-ID: <reply-1@patients.test>",
	}, more...)
	return []byte(strings.Join(lines, "\r\n") + "\r\n\r\n" + text + "\r\n")
}
