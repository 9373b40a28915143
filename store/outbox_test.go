package store

import (
	"errors"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// allStates is every state of the outbox.
var allStates = []plan.State{plan.Planned, plan.Claimed, plan.DotSent, plan.Accepted, plan.Retry, plan.Uncertain,
	plan.Lapsed, plan.Failed, plan.Suppressed}

// force puts a message into a state, past all rules.
func force(t *testing.T, db *DB, id int64, s plan.State) {
	t.Helper()
	var ended any
	if Final(s) {
		ended = 1
	}
	_, err := db.writer.Exec("UPDATE outgoing SET state = ?, ended = ?, resent = 0, bytes = NULL WHERE id = ?", string(s), ended, id)
	ok(t, err)
}

func TestEveryStepOfAMessage(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	id := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0].ID
	// From RFC 5321 sections 4.2.5 and 4.5.3.2.6 and RFC 1047: before the final
	// dot nothing can have been taken; after it only a reply tells.
	for act, c := range map[string]struct {
		do   func() error
		from []plan.State // the only states it is allowed from
		to   plan.State
	}{
		"composed":  {func() error { return db.Composed(ctx, id, plan.Composed{Bytes: []byte("x")}) }, []plan.State{plan.Claimed}, plan.Claimed},
		"dot sent":  {func() error { return db.DotSent(ctx, id, noon) }, []plan.State{plan.Claimed}, plan.DotSent},
		"accepted":  {func() error { return db.Accepted(ctx, id, noon) }, []plan.State{plan.DotSent}, plan.Accepted},
		"retry":     {func() error { return db.Retry(ctx, id, noon, "451", noon) }, []plan.State{plan.Claimed, plan.DotSent}, plan.Retry},
		"uncertain": {func() error { return db.Uncertain(ctx, id, "EOF", noon) }, []plan.State{plan.DotSent}, plan.Uncertain},
		"fail":      {func() error { return db.Fail(ctx, id, "550", noon) }, []plan.State{plan.Claimed, plan.DotSent}, plan.Failed},
		"fail address": {func() error { return db.FailAddress(ctx, id, "550 5.1.1", noon) },
			[]plan.State{plan.Claimed, plan.DotSent}, plan.Failed},
		"lapse": {func() error { return db.Lapse(ctx, id, "late", noon) },
			[]plan.State{plan.Planned, plan.Claimed, plan.DotSent, plan.Retry}, plan.Lapsed},
	} {
		for _, from := range allStates {
			force(t, db, id, from)
			err := c.do()
			allowed := false
			for _, s := range c.from {
				allowed = allowed || s == from
			}
			got, _ := state(t, db, id)
			var step *StepError
			switch {
			case from == plan.Uncertain && act == "lapse":
				// It may have been taken, so to call it lapsed would be a lie.
				if err != nil || got != plan.Uncertain || number(t, db, "SELECT ended IS NOT NULL FROM outgoing WHERE id = ?", id) != 1 {
					t.Errorf("%s from %s: %v, %s", act, from, err, got)
				}
			case allowed && (err != nil || got != c.to):
				t.Errorf("%s from %s: %v, and it is %s", act, from, err, got)
			case !allowed && (!errors.As(err, &step) || got != from):
				t.Errorf("%s from %s: %v, and it is %s", act, from, err, got)
			}
		}
	}
	if err := db.Accepted(ctx, 4711, noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("a message that is not there: %v", err)
	}
}

func TestFinalStates(t *testing.T) {
	final := map[plan.State]bool{plan.Accepted: true, plan.Lapsed: true, plan.Failed: true, plan.Suppressed: true}
	for _, s := range allStates {
		if Final(s) != final[s] {
			t.Errorf("Final(%s) is %v", s, Final(s))
		}
		if Final(s) && len(steps[s]) > 0 {
			t.Errorf("%s is final and leads on to %v", s, steps[s])
		}
	}
}

func TestAcceptedDropsTheOctetsAndKeepsTheirHash(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	j := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0]
	ok(t, db.Composed(ctx, j.ID, plan.Composed{Bytes: []byte("abc"), MessageID: "m@clinic.test", Selector: "s", Version: "v7"}))
	if o := must[plan.Outgoing](t)(db.Outgoing(ctx, j.ID)); string(o.Bytes) != "abc" {
		t.Errorf("composed octets are %q", o.Bytes)
	}
	ok(t, db.DotSent(ctx, j.ID, noon))
	ok(t, db.Accepted(ctx, j.ID, noon.Add(time.Second)))
	o := must[plan.Outgoing](t)(db.Outgoing(ctx, j.ID))
	if o.State != plan.Accepted || o.Bytes != nil || o.Version != "v7" || o.MessageID != "m@clinic.test" || o.Attempt != 1 {
		t.Errorf("got %+v", o)
	}
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	const abc = "BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD"
	if n := number(t, db, "SELECT count(*) FROM outgoing WHERE hex(hash) = ?", abc); n != 1 {
		t.Error("the hash of the octets is not on file")
	}
}

func TestRetryWaitsAndKeepsTheOctets(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	j := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0]
	ok(t, db.Composed(ctx, j.ID, composed(j)))
	next := noon.Add(10 * time.Minute)
	ok(t, db.Retry(ctx, j.ID, next, "451 try later", noon))
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, next.Add(-time.Millisecond), 1))); n != 0 {
		t.Error("claimed before its next try")
	}
	again := must[[]plan.Job](t)(db.Claim(ctx, next, 1))
	if len(again) != 1 || again[0].Attempt != 2 || string(again[0].Bytes) != string(composed(j).Bytes) || again[0].MessageID != composed(j).MessageID {
		t.Errorf("second attempt: %+v", again)
	}
}

func TestADeadAddressGetsNothingMore(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon), change(today, "PCV", noon))
	jobs := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))
	ok(t, db.FailAddress(ctx, jobs[0].ID, "550 5.1.1", noon))
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 5))); n != 0 {
		t.Error("another message to a dead address was claimed")
	}
	if r := must[plan.Patient](t)(db.Patient(ctx, p.Ref)).Recipients[0]; !r.Bounced.Equal(noon) {
		t.Errorf("bounced at %v", r.Bounced)
	}
}
