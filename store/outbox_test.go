package store

import (
	"errors"
	"fmt"
	"strings"
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

func TestClaimTakesTheMostUrgentFirst(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	d := noon.Add(-time.Minute)
	sore := plan.Nudge{Kind: plan.Soreness, Day: today, Slot: "s1", Due: d, Until: d.Add(3 * time.Hour)}
	start := plan.Nudge{Kind: plan.WearStart, Day: today, Slot: "d0", Due: d, Until: d.Add(9 * time.Hour)}
	soon, later := change(today, "PCD", d), change(today, "PCV", d)
	soon.Until = d.Add(30 * time.Minute)
	owe(t, db, p, noon, later, soon, sore, start)
	notYet := change(today, "HS", noon.Add(time.Minute))
	owe(t, db, p, noon, notYet)
	hear(t, db, plan.Heard{At: noon, Kind: "reply", How: "none", PatientID: p.ID, Answers: []string{"emergency"}})
	var got []string
	for _, j := range must[[]plan.Job](t)(db.Claim(ctx, noon, 10)) {
		got = append(got, j.Topic+j.Nudge.Slot)
		if j.State != plan.Claimed || j.Attempt != 1 || j.Patient.Ref != p.Ref || j.To.Address != p.Recipients[0].Address || j.Plan.Trays != 24 {
			t.Errorf("%s: %+v", j.Key, j)
		}
	}
	if want := "emergency d0 s1 2026-06-01/PCD 2026-06-01/PCV"; strings.Join(got, " ") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, " "), want)
	}
	if again := must[[]plan.Job](t)(db.Claim(ctx, noon, 10)); len(again) != 0 {
		t.Errorf("claimed twice: %+v", again)
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, notYet.Due, 10))); n != 1 {
		t.Errorf("%d claimed at the minute it is due", n)
	}
}

func TestClaimGoesNoFurtherThanItsLimit(t *testing.T) {
	db := open(t)
	for i := range 5 {
		p := enrol(t, db, somebody(i), "")
		owe(t, db, p, noon, change(today, "PCD", noon))
		if i < 3 {
			ok(t, db.Stop(ctx, p.Ref, "desk:ines", noon))
			ok(t, db.Resume(ctx, p.Ref, "desk:ines", noon))
		}
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 1))); n != 1 {
		t.Errorf("claimed %d of 1", n)
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 5))); n != 1 {
		t.Errorf("claimed %d of the 1 left", n)
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 0))); n != 0 {
		t.Errorf("claimed %d of 0", n)
	}
}

func TestClaimAsksAgainWhatForbidsAMessage(t *testing.T) {
	band := change(today, "PCD", noon)
	set := func(more string) func(*testing.T, *DB, plan.Patient) {
		return func(t *testing.T, db *DB, p plan.Patient) {
			must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, more), today, "desk:ines", noon))
		}
	}
	sql := func(query string) func(*testing.T, *DB, plan.Patient) {
		return func(t *testing.T, db *DB, _ plan.Patient) {
			_, err := db.writer.Exec(query)
			ok(t, err)
		}
	}
	for name, c := range map[string]struct {
		between func(*testing.T, *DB, plan.Patient)
		nudge   plan.Nudge
		want    plan.State
		reason  string
	}{
		"nothing":          {func(*testing.T, *DB, plan.Patient) {}, band, plan.Claimed, ""},
		"no consent":       {sql("UPDATE recipient SET consent_at = NULL"), band, plan.Suppressed, reasonNoConsent},
		"recipient's stop": {sql("UPDATE recipient SET stopped = 1"), band, plan.Suppressed, reasonSaidStop},
		"patient's stop":   {sql("UPDATE patient SET stopped = 1"), band, plan.Suppressed, reasonStopped},
		"dead address":     {sql("UPDATE recipient SET bounced = 1"), band, plan.Suppressed, reasonDead},
		"hold": {func(t *testing.T, db *DB, p plan.Patient) {
			ok(t, db.SetHold(ctx, p.Ref, "a fall", "desk:ines", noon))
		}, band, plan.Lapsed, "on hold: a fall"},
		"mail paused that day":       {set(`,"pauses":[{"from":"2026-06-01","to":"2026-06-01"}]`), band, plan.Suppressed, reasonPaused},
		"bands paused that day":      {set(`,"pauses":[{"from":"2026-05-01","to":"2026-06-01","of":"bands"}]`), band, plan.Suppressed, reasonPaused},
		"paused from the day after":  {set(`,"pauses":[{"from":"2026-06-02","to":"2026-06-09"}]`), band, plan.Claimed, ""},
		"paused to the day before":   {set(`,"pauses":[{"from":"2026-05-02","to":"2026-05-31"}]`), band, plan.Claimed, ""},
		"ended the day before":       {set(`,"bands_start":"2026-05-20","bands_end":"2026-05-31"`), band, plan.Suppressed, reasonEnded},
		"ends that day":              {set(`,"bands_end":"2026-06-01"`), band, plan.Claimed, ""},
		"starts that day":            {set(`,"bands_start":"2026-06-01"`), band, plan.Claimed, ""},
		"starts the day after":       {set(`,"bands_start":"2026-06-02"`), band, plan.Suppressed, reasonChanged},
		"nights only":                {set(`,"wear":[{"from":"2026-06-01","hours_per_day":10,"changes_per_day":1,"nights":true}]`), band, plan.Suppressed, reasonChanged},
		"nights only, at bedtime":    {set(`,"wear":[{"from":"2026-06-01","hours_per_day":10,"changes_per_day":1,"nights":true}]`), change(today, "HS", noon), plan.Claimed, ""},
		"quiet hours begin at noon":  {set(`,"quiet":{"from":"12:00","to":"13:00"}`), band, plan.Lapsed, reasonQuiet},
		"quiet hours begin after":    {set(`,"quiet":{"from":"12:01","to":"07:00"}`), band, plan.Claimed, ""},
		"quiet hours end at noon":    {set(`,"quiet":{"from":"22:00","to":"12:00"}`), band, plan.Claimed, ""},
		"quiet hours end after noon": {set(`,"quiet":{"from":"22:00","to":"12:01"}`), band, plan.Lapsed, reasonQuiet},
		"a meal taken out":           {set(""), change(today, "PC", noon), plan.Suppressed, reasonChanged},
		"start moved": {set(`,"bands_start":"2026-06-02"`),
			plan.Nudge{Kind: plan.WearStart, Day: today, Slot: "d0", Due: noon, Until: noon.Add(time.Hour)}, plan.Suppressed, reasonChanged},
		"start moved to where the notice fits": {set(`,"bands_start":"2026-06-04"`),
			plan.Nudge{Kind: plan.WearStart, Day: today, Slot: "d-3", Due: noon, Until: noon.Add(time.Hour)}, plan.Claimed, ""},
		"soreness of an old start": {set(`,"bands_start":"2026-05-31"`),
			plan.Nudge{Kind: plan.Soreness, Day: today, Slot: "s1", Due: noon, Until: noon.Add(time.Hour)}, plan.Suppressed, reasonChanged},
		"soreness of the second day": {set(`,"bands_start":"2026-05-31"`),
			plan.Nudge{Kind: plan.Soreness, Day: today, Slot: "s2", Due: noon, Until: noon.Add(time.Hour)}, plan.Claimed, ""},
		"restart taken out": {set(""),
			plan.Nudge{Kind: plan.Soreness, Day: today, Slot: "2026-05-31/s2", Due: noon, Until: noon.Add(time.Hour)}, plan.Suppressed, reasonChanged},
		"restart still there": {set(`,"restarts":["2026-05-31"]`),
			plan.Nudge{Kind: plan.Soreness, Day: today, Slot: "2026-05-31/s2", Due: noon, Until: noon.Add(time.Hour)}, plan.Claimed, ""},
		"band taken out": {set(""),
			plan.Nudge{Kind: plan.WearStart, Day: today, Slot: "b/2026-06-01", Due: noon, Until: noon.Add(time.Hour)}, plan.Suppressed, reasonChanged},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			p := enrol(t, db, somebody(1), "")
			owe(t, db, p, noon, c.nudge)
			c.between(t, db, p)
			jobs := must[[]plan.Job](t)(db.Claim(ctx, noon, 10))
			if (len(jobs) == 1) != (c.want == plan.Claimed) {
				t.Errorf("%d jobs", len(jobs))
			}
			if got, reason := state(t, db, 1); got != c.want || reason != c.reason {
				t.Errorf("it is %s, %q; want %s, %q", got, reason, c.want, c.reason)
			}
		})
	}
}

func TestAMessageLeavesInsideItsWindowOnly(t *testing.T) {
	n := change(today, "PCD", noon)
	for _, c := range []struct {
		at   time.Time
		jobs int
	}{{n.Due.Add(-time.Millisecond), 0}, {n.Due, 1}, {n.Until.Add(-time.Millisecond), 1}, {n.Until, 0}} {
		db := open(t)
		p := enrol(t, db, somebody(1), "")
		owe(t, db, p, noon, n)
		if jobs := must[[]plan.Job](t)(db.Claim(ctx, c.at, 10)); len(jobs) != c.jobs {
			t.Errorf("at %v: %d jobs, want %d", c.at, len(jobs), c.jobs)
		}
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

func TestAnUncertainMessageIsSentOnceMore(t *testing.T) {
	dot := func(db *DB, j plan.Job, at time.Time) {
		t.Helper()
		ok(t, db.Composed(ctx, j.ID, composed(j)))
		ok(t, db.DotSent(ctx, j.ID, at))
		ok(t, db.Uncertain(ctx, j.ID, "EOF at dot", at))
	}
	begin := func() (*DB, plan.Patient, plan.Job) {
		db := open(t)
		p := enrol(t, db, somebody(1), "")
		owe(t, db, p, noon, change(today, "PCD", noon))
		j := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0]
		dot(db, j, noon)
		return db, p, j
	}
	ended := func(db *DB, id int64) int {
		return number(t, db, "SELECT ended IS NOT NULL FROM outgoing WHERE id = ?", id)
	}
	t.Run("twice without an answer", func(t *testing.T) {
		db, p, j := begin()
		second := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))
		if len(second) != 1 || string(second[0].Bytes) != string(composed(j).Bytes) {
			t.Fatalf("second sending: %+v", second)
		}
		if ended(db, j.ID) != 0 {
			t.Error("final too early")
		}
		dot(db, second[0], noon)
		if ended(db, j.ID) != 1 {
			t.Error("not final after the second end without an answer")
		}
		if third := must[[]plan.Job](t)(db.Claim(ctx, noon, 5)); len(third) != 0 {
			t.Errorf("third sending: %+v", third)
		}
		var step *StepError
		if err := db.Lapse(ctx, j.ID, "late", noon); !errors.As(err, &step) || !step.Ended {
			t.Errorf("a step from uncertain for good: %v", err)
		}
		c := must[Counts](t)(db.Counts(ctx))
		if c.Doubted != 1 || c.Open != 0 || c.Nudges[plan.BandChange][plan.Uncertain] != 1 {
			t.Errorf("counts: %+v", c)
		}
		if r := must[recordOf](t)(recordAt(db, p.Ref, noon)); r.outcomes != "failed" {
			t.Errorf("in the record it is %s", r.outcomes)
		}
	})
	t.Run("accepted the second time", func(t *testing.T) {
		db, p, _ := begin()
		second := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))[0]
		send(t, db, second, noon)
		if r := must[recordOf](t)(recordAt(db, p.Ref, noon)); r.outcomes != "accepted" {
			t.Errorf("in the record it is %s", r.outcomes)
		}
	})
	t.Run("refused for now the second time, then past", func(t *testing.T) {
		db, _, j := begin()
		second := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))[0]
		ok(t, db.Retry(ctx, second.ID, noon.Add(2*time.Hour), "451", noon))
		if n := must[int](t)(db.LapseStale(ctx, noon.Add(90*time.Minute))); n != 1 {
			t.Errorf("%d lapsed", n)
		}
		if s, _ := state(t, db, j.ID); s != plan.Uncertain || ended(db, j.ID) != 1 {
			t.Errorf("it is %s: the first sending may have arrived", s)
		}
	})
	t.Run("past its window", func(t *testing.T) {
		db, _, j := begin()
		if n := must[int](t)(db.LapseStale(ctx, noon.Add(90*time.Minute))); n != 1 {
			t.Errorf("%d ended", n)
		}
		if s, reason := state(t, db, j.ID); s != plan.Uncertain || ended(db, j.ID) != 1 || !strings.Contains(reason, reasonPast) {
			t.Errorf("it is %s: %s", s, reason)
		}
	})
	t.Run("stopped before the second sending", func(t *testing.T) {
		db, p, j := begin()
		ok(t, db.Stop(ctx, p.Ref, "desk:ines", noon))
		if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 5))); n != 0 {
			t.Error("sent after stop")
		}
		if s, _ := state(t, db, j.ID); s != plan.Uncertain || ended(db, j.ID) != 1 {
			t.Errorf("it is %s", s)
		}
	})
}

func TestRecover(t *testing.T) {
	db := open(t)
	var jobs []plan.Job
	for i := range 3 {
		p := enrol(t, db, somebody(i), "")
		owe(t, db, p, noon, change(today, "PCD", noon))
	}
	jobs = must[[]plan.Job](t)(db.Claim(ctx, noon, 5))
	ok(t, db.Composed(ctx, jobs[1].ID, composed(jobs[1])))
	ok(t, db.Composed(ctx, jobs[2].ID, composed(jobs[2])))
	ok(t, db.DotSent(ctx, jobs[2].ID, noon))
	now := noon.Add(time.Minute)
	if n := must[int](t)(db.Recover(ctx, now)); n != 3 {
		t.Errorf("recovered %d", n)
	}
	for i, want := range []plan.State{plan.Retry, plan.Retry, plan.Uncertain} {
		if got, reason := state(t, db, jobs[i].ID); got != want || reason == "" {
			t.Errorf("message %d is %s, %q; want %s", i, got, reason, want)
		}
	}
	if n := must[int](t)(db.Recover(ctx, now)); n != 0 {
		t.Errorf("the second time it recovered %d", n)
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, now, 5))); n != 3 {
		t.Errorf("%d can be sent again", n)
	}
	// The one in doubt ends without an answer again, this time by a crash.
	ok(t, db.DotSent(ctx, jobs[2].ID, now))
	must[int](t)(db.Recover(ctx, now))
	var again []string
	for _, j := range must[[]plan.Job](t)(db.Claim(ctx, now, 5)) {
		again = append(again, fmt.Sprint(j.ID))
	}
	if len(again) != 2 {
		t.Errorf("claimed %v; the one sent twice must stay", again)
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
