package inbox

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// take stores one message as if it had come by mail.
func take(t testing.TB, i *Inbox, in plan.Inbound) int64 {
	t.Helper()
	if in.Received.IsZero() {
		in.Received = received
	}
	id, _, err := i.receive(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func step(t testing.TB, i *Inbox, want int) {
	t.Helper()
	if n, err := i.Step(t.Context()); n != want || err != nil {
		t.Fatalf("Step: %d, %v; want %d", n, err, want)
	}
}

// What the reader is told of the question.
func TestQuestion(t *testing.T) {
	ny, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	meals := []reply.MealTime{{Code: "PCM", Hour: 7, Minute: 30}, {Code: "PCD", Hour: 12, Minute: 30}, {Code: "PCV", Hour: 18, Minute: 30}}
	base := reply.Asked{
		Kind: reply.BandChange, Meal: "PCD", Sent: nudge().Nudge.Due.In(ny), Received: received.In(ny), Zone: ny,
		Lang: "en", Meals: meals, OwnDomain: "clinic.test",
	}
	change := func(f func(*plan.Asked)) match { a := nudge(); f(&a); return matched(a) }
	want := func(f func(*reply.Asked)) reply.Asked { q := base; f(&q); return q }
	for _, tc := range []struct {
		name string
		m    match
		want reply.Asked
	}{
		{"after lunch", matched(nudge()), base},
		{"whole day", change(func(a *plan.Asked) { a.Nudge.Whole = true; a.Nudge.Slot = "2026-06-01/PCV" }), want(func(q *reply.Asked) { q.Meal = reply.WholeDay })},
		{"wear start", change(func(a *plan.Asked) { a.Nudge.Kind, a.Nudge.Slot = plan.WearStart, "d0" }), want(func(q *reply.Asked) { q.Kind, q.Meal = reply.WearStart, "" })},
		{"soreness", change(func(a *plan.Asked) { a.Nudge.Kind, a.Nudge.Slot = plan.Soreness, "s1" }), want(func(q *reply.Asked) { q.Kind, q.Meal = reply.Soreness, "" })},
		{"guardian's language", change(func(a *plan.Asked) { a.Outgoing.To.Language = "es-MX" }), want(func(q *reply.Asked) { q.Lang = "es" })},
		{"no nudge: a yes is no band change", change(func(a *plan.Asked) { a.Nudge, a.Outgoing.Cause = plan.Nudge{}, plan.CauseConsent }), want(func(q *reply.Asked) { q.Kind, q.Meal = reply.Soreness, "" })},
		{"zone unknown here", change(func(a *plan.Asked) { a.Patient.Zone = "Mars/Olympus" }), want(func(q *reply.Asked) {
			q.Zone, q.Sent, q.Received = time.UTC, nudge().Nudge.Due, received
		})},
		{"nothing matched", match{how: byNothing}, reply.Asked{Received: received, OwnDomain: "clinic.test"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := newInbox(t, newShelf()).question(tc.m, received)
			equalZones := cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() })
			if d := cmp.Diff(tc.want, got, equalZones); d != "" {
				t.Error(d)
			}
			if got.Zone != nil && got.Sent.Location() != got.Zone {
				t.Errorf("sent in %v", got.Sent.Location())
			}
		})
	}
}

// A Date that cannot be true is kept from the reader.
func TestDateClamped(t *testing.T) {
	for date, want := range map[string]bool{
		"Mon, 01 Jun 2026 13:09:00 -0400": true,
		"Mon, 01 Jun 2026 17:10:00 +0000": true,  // the moment of receipt
		"Mon, 01 Jun 2026 17:10:01 +0000": false, // a second ahead
		"Sat, 30 May 2026 17:10:00 +0000": true,  // two days
		"Sat, 30 May 2026 17:09:59 +0000": false,
		"Thu, 01 Jan 1970 00:00:00 +0000": false,
		"yesterday":                       false,
	} {
		a := nudge()
		i := newInbox(t, newShelf(a))
		var seen []byte
		i.read = func(raw []byte, _ reply.Asked) reply.Reading { seen = raw; return said() }
		raw := []byte(strings.Replace(string(letter(address(t, a), "Yes")), "Mon, 01 Jun 2026 13:09:00 -0400", date, 1))
		take(t, i, plan.Inbound{Raw: raw})
		step(t, i, 1)
		if got := strings.Contains(string(seen), date); got != want {
			t.Errorf("Date: %s: shown to the reader %v, want %v", date, got, want)
		}
	}
}

// One message that breaks the reader is one message for a person, and hinders
// no other.
func TestPanicContained(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	i := newInbox(t, rec)
	i.read = func(raw []byte, _ reply.Asked) reply.Reading {
		if strings.Contains(string(raw), "poison") {
			panic(string(raw))
		}
		return said()
	}
	bad := take(t, i, plan.Inbound{Raw: letter(address(t, a), "poison")})
	good := take(t, i, plan.Inbound{Raw: letter(address(t, a), "Yes")})
	step(t, i, 2)
	h := rec.heard[bad]
	if h.Kind != reply.KindUnreadable || !h.NeedsPerson || h.PatientID != 7 || h.How != byToken || len(h.Flags) != 1 {
		t.Errorf("poison: %+v", h)
	}
	if h := rec.heard[good]; h.Kind != reply.KindReply {
		t.Errorf("the next one: %+v", h)
	}
	step(t, i, 0)
	if rec.records != 2 {
		t.Errorf("%d records", rec.records)
	}
}

// A message whose reading cannot be recorded stays unread, hinders no other,
// and is at last recorded as unreadable.
func TestRecordFails(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	i := newInbox(t, rec)
	i.read = func([]byte, reply.Asked) reply.Reading { return said() }
	bad := take(t, i, plan.Inbound{Raw: letter(address(t, a), "bad")})
	rec.record = func(id int64, h plan.Heard) error {
		switch {
		case id == bad && h.Kind != reply.KindUnreadable && len(rec.heard) == 0:
			panic("constraint")
		case id == bad && h.Kind != reply.KindUnreadable:
			return errDisk
		}
		return nil
	}
	for try := 1; try < maxTries; try++ {
		good := take(t, i, plan.Inbound{Raw: letter(address(t, a), strings.Repeat("y", try))})
		n, err := i.Step(t.Context())
		if n != 1 || err == nil {
			t.Fatalf("try %d: %d, %v", try, n, err)
		}
		if try > 1 && !errors.Is(err, errDisk) {
			t.Errorf("try %d: %v", try, err)
		}
		if _, done := rec.heard[good]; !done {
			t.Errorf("try %d: the other message was not recorded", try)
		}
		if _, done := rec.heard[bad]; done {
			t.Fatalf("try %d: the bad message was recorded", try)
		}
	}
	step(t, i, 1)
	if h := rec.heard[bad]; h.Kind != reply.KindUnreadable || !h.NeedsPerson {
		t.Errorf("at last: %+v", h)
	}
	if len(i.tries) != 0 {
		t.Error("the failures are still counted")
	}
}

// A look-up that fails leaves the message for later: read without it, it would
// answer nothing.
func TestLookupFails(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	i := newInbox(t, rec)
	i.read = func([]byte, reply.Asked) reply.Reading { return said() }
	id := take(t, i, plan.Inbound{Raw: letter(address(t, a), "Yes")})
	rec.lookup = errDisk
	for range maxTries + 2 {
		if n, err := i.Step(t.Context()); n != 0 || !errors.Is(err, errDisk) {
			t.Fatalf("%d, %v", n, err)
		}
	}
	rec.lookup = nil
	step(t, i, 1)
	if h := rec.heard[id]; h.PatientID != 7 {
		t.Errorf("%+v", h)
	}
}

func TestOnAnswer(t *testing.T) {
	a := nudge()
	calls := 0
	i := newInbox(t, newShelf(a), func(o *Options) { o.OnAnswer = func() { calls++ } })
	i.read = func(raw []byte, _ reply.Asked) reply.Reading {
		rd := said()
		rd.Stop = strings.Contains(string(raw), "STOP")
		return rd
	}
	for _, text := range []string{"Yes", "STOP"} {
		take(t, i, plan.Inbound{Raw: letter(address(t, a), text), From: "ana@patients.test"})
		step(t, i, 1)
	}
	if calls != 1 {
		t.Errorf("called %d times, want 1", calls)
	}
}

func TestNewRefuses(t *testing.T) {
	_, err := New(newShelf(), Options{Address: "nobody", Key: []byte("short"), MaxBytes: 10, MaxHeld: 5, MaxLine: -1, Poll: -1})
	for _, part := range []string{"reply address", "token key", "unknown message", "together", "line", "duration"} {
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%q is not named in: %v", part, err)
		}
	}
	if _, err := New(newShelf(), Options{Address: plan.Address(strings.Repeat("n", 25) + "@clinic.test"), Key: key, NotFound: errNoSuch}); err == nil {
		t.Error("an address with no room for a token was taken")
	}
}
