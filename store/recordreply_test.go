package store

import (
	"errors"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// scene is a patient who was sent one nudge and has another waiting.
type scene struct {
	db      *DB
	p       plan.Patient
	sent    plan.Job
	waiting int64
}

func newScene(t *testing.T) scene {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	j := sent(t, db, p, change(today, "PCD", noon))
	owe(t, db, p, noon, change(today, "PCV", noon.Add(time.Minute)))
	return scene{db, p, j, j.ID + 1}
}

func (s scene) heard(h plan.Heard) plan.Heard {
	h.At, h.PatientID, h.OutgoingID, h.Slot = noon.Add(30*time.Second), s.p.ID, s.sent.ID, s.sent.Nudge.Slot
	if h.Kind == "" {
		h.Kind, h.How = "reply", "token"
	}
	return h
}

// next claims what is due a little later.
func (s scene) next(t *testing.T) []plan.Job {
	t.Helper()
	return must[[]plan.Job](t)(s.db.Claim(ctx, noon.Add(2*time.Minute), 10))
}

func TestWhatHoldsHoldsInTheSameTransaction(t *testing.T) {
	flag := func(f plan.Flag) plan.Heard { return plan.Heard{Flags: []plan.Flag{f}} }
	sore := func(v int) plan.Heard {
		return plan.Heard{Reports: []plan.Stated{stated(plan.Report{At: noon, What: plan.ReportSoreness, Value: v})}}
	}
	for name, c := range map[string]struct {
		heard  plan.Heard
		reason string // empty: no hold
	}{
		"red":           {flag(plan.Flag{What: plan.FlagAllergy, Level: plan.Red}), "signs of a severe allergy"},
		"yellow":        {flag(plan.Flag{What: plan.FlagAllergy, Level: plan.Yellow}), "signs of an allergy"},
		"broken":        {flag(plan.Flag{What: plan.FlagBroken}), "a broken hook or a lost aligner"},
		"out of bands":  {flag(plan.Flag{What: plan.FlagOutOfBands}), "no bands left"},
		"jaw":           {flag(plan.Flag{What: plan.FlagJaw}), "jaw trouble"},
		"fever":         {flag(plan.Flag{What: plan.FlagFever}), "fever"},
		"swelling":      {flag(plan.Flag{What: plan.FlagSwelling}), "swelling"},
		"ulcer":         {flag(plan.Flag{What: plan.FlagUlcer}), ""},
		"question":      {flag(plan.Flag{What: plan.FlagQuestion}), ""},
		"running low":   {flag(plan.Flag{What: plan.FlagRunningLow}), ""},
		"soreness of 8": {sore(8), "soreness of 8 or more"},
		"soreness of 7": {sore(7), ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			for i := range c.heard.Flags {
				c.heard.Flags[i].At = noon
			}
			hear(t, s.db, s.heard(c.heard))
			p := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref))
			if p.Hold.Reason != c.reason || p.Hold.Held() != (c.reason != "") {
				t.Errorf("hold %+v, want %q", p.Hold, c.reason)
			}
			jobs := s.next(t)
			got, reason := state(t, s.db, s.waiting)
			if c.reason == "" {
				if len(jobs) != 1 {
					t.Errorf("the next nudge is %s, %q", got, reason)
				}
				return
			}
			if len(jobs) != 0 || got != plan.Lapsed || reason != reasonHold+c.reason {
				t.Errorf("%d jobs; the next nudge is %s, %q", len(jobs), got, reason)
			}
			// Only staff lift it.
			ok(t, s.db.LiftHold(ctx, s.p.Ref, "desk:ines", noon.Add(time.Hour)))
			if p := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)); p.Hold.Held() {
				t.Error("still on hold")
			}
			if n := number(t, s.db, "SELECT count(*) FROM flag WHERE closed IS NULL"); n != 0 {
				t.Error("the flag that held is still open")
			}
		})
	}
}

func TestAHoldKeepsItsFirstInstantAndGathersReasons(t *testing.T) {
	s := newScene(t)
	hear(t, s.db, s.heard(plan.Heard{Flags: []plan.Flag{{At: noon, What: plan.FlagBroken}}}))
	later := s.heard(plan.Heard{Flags: []plan.Flag{{At: noon, What: plan.FlagBroken}, {At: noon, What: plan.FlagFever}, {At: noon, What: plan.FlagQuestion}}})
	later.At = noon.Add(time.Hour)
	hear(t, s.db, later)
	h := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)).Hold
	if !h.Since.Equal(noon.Add(30*time.Second)) || h.Reason != "a broken hook or a lost aligner; fever" {
		t.Errorf("got %+v", h)
	}
	ok(t, s.db.LiftHold(ctx, s.p.Ref, "desk:ines", noon.Add(2*time.Hour)))
	if n := number(t, s.db, "SELECT count(*) FROM flag WHERE closed IS NULL AND what = 'question'"); n != 1 {
		t.Error("lifting the hold closed a question")
	}
}

func TestStopIsHonouredBeforeTheNextTick(t *testing.T) {
	s := newScene(t)
	hear(t, s.db, s.heard(plan.Heard{Stop: true, Answers: []string{"stopped"}}))
	p := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref))
	if p.Stopped.IsZero() || p.Recipients[0].Stopped.IsZero() {
		t.Errorf("stopped: patient %v, recipient %v", p.Stopped, p.Recipients[0].Stopped)
	}
	if got, reason := state(t, s.db, s.waiting); got != plan.Suppressed || reason != reasonStopped {
		t.Errorf("the nudge that waited is %s, %q", got, reason)
	}
	jobs := s.next(t)
	if len(jobs) != 1 || jobs[0].Cause != plan.CauseAnswer || jobs[0].Topic != "stopped" {
		t.Fatalf("after STOP these leave: %+v", jobs)
	}
	// A second STOP gets no second answer.
	hear(t, s.db, s.heard(plan.Heard{Stop: true, Answers: []string{"stopped"}}))
	if n := len(s.next(t)); n != 0 {
		t.Errorf("%d more answers", n)
	}
	start := s.heard(plan.Heard{Start: true})
	start.At = noon.Add(time.Hour)
	hear(t, s.db, start)
	p = must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref))
	if !p.Stopped.IsZero() || !p.Recipients[0].Stopped.IsZero() {
		t.Error("still stopped after START")
	}
}

func TestAnAnswerNamesWhatItAnswers(t *testing.T) {
	s := newScene(t)
	id := arrive(t, s.db, "Message-ID: <their@x.test>\r\n\r\nmy lips\r\n", noon)
	h := s.heard(plan.Heard{Answers: []string{"emergency", "stopped", "emergency"}})
	ok(t, s.db.Record(ctx, id, h))
	var topics []string
	for _, j := range s.next(t) {
		if j.Cause != plan.CauseAnswer {
			continue
		}
		topics = append(topics, j.Topic)
		if j.AnswersID != "their@x.test" || j.To.ID != s.p.Recipients[0].ID || j.Plan.Trays != 24 {
			t.Errorf("got %+v", j)
		}
	}
	if strings.Join(topics, " ") != "emergency stopped" {
		t.Errorf("answers %v", topics)
	}
	// The day after the same answer may be given again.
	h = s.heard(plan.Heard{Answers: []string{"emergency"}})
	h.At = h.At.Add(answerPause)
	hear(t, s.db, h)
	if n := number(t, s.db, "SELECT count(*) FROM outgoing WHERE topic = 'emergency'"); n != 2 {
		t.Errorf("%d answers in all", n)
	}
}

func TestRecordIsOneTransaction(t *testing.T) {
	s := newScene(t)
	id := arrive(t, s.db, "\r\nx", noon)
	h := s.heard(plan.Heard{Stop: true, Reports: []plan.Stated{stated(plan.Report{At: noon, What: plan.ReportOn})},
		Flags: []plan.Flag{{At: noon, What: "no such flag"}}})
	if err := s.db.Record(ctx, id, h); err == nil {
		t.Fatal("a flag that does not exist was taken")
	}
	if n := number(t, s.db, "SELECT (SELECT count(*) FROM report) + (SELECT count(*) FROM patient WHERE stopped IS NOT NULL) + (SELECT count(*) FROM day_record)"); n != 0 {
		t.Error("half of it is on record")
	}
	if u := must[[]plan.Inbound](t)(s.db.Unread(ctx, 5)); len(u) != 1 {
		t.Error("the reply is no longer unread")
	}
	h.Flags = nil
	ok(t, s.db.Record(ctx, id, h))
	if err := s.db.Record(ctx, id, h); !errors.Is(err, ErrRead) {
		t.Errorf("the second time: %v", err)
	}
	if n := number(t, s.db, "SELECT count(*) FROM report"); n != 1 {
		t.Errorf("%d reports", n)
	}
	if err := s.db.Record(ctx, 4711, h); !errors.Is(err, ErrNotFound) {
		t.Errorf("a reply that is not there: %v", err)
	}
	if acts := must[[]Act](t)(s.db.Audit(ctx, s.p.Ref, 9)); acts[0].What != "reply reply" || acts[1].What != "stop" {
		t.Errorf("audit trail: %+v", acts)
	}
}

func TestReplyComesBackAsHeard(t *testing.T) {
	s := newScene(t)
	id := hear(t, s.db, s.heard(plan.Heard{Kind: "bounce", How: "message-id", Text: "caf\xe9", Lang: "es", Why: "w", NeedsPerson: true, Mismatch: true,
		Fewer: true, Reading: []byte(`{"a":1}`), Bounce: &plan.Bounce{Recipient: "r", Class: "temporary", Status: "4.2.2", Diagnostic: "full"}}))
	r := must[Reply](t)(s.db.Reply(ctx, id))
	if !r.Read || r.Kind != "bounce" || r.How != "message-id" || r.PatientRef != s.p.Ref || r.OutgoingID != s.sent.ID || r.Slot != "2026-06-01/PCD" ||
		r.Text != "caf\uFFFD" || r.Lang != "es" || r.Why != "w" || !r.NeedsPerson || !r.Mismatch || !r.Fewer || r.Stop || r.Start ||
		string(r.Reading) != `{"a":1}` || *r.Bounce != (plan.Bounce{Recipient: "r", Class: "temporary", Status: "4.2.2", Diagnostic: "full"}) {
		t.Errorf("got %+v", r)
	}
	if l := must[[]Reply](t)(s.db.PatientReplies(ctx, s.p.Ref, false, 5)); len(l) != 1 || l[0].ID != id {
		t.Errorf("of the patient: %+v", l)
	}
	if _, err := s.db.Reply(ctx, 4711); !errors.Is(err, ErrNotFound) {
		t.Errorf("got %v", err)
	}
}

func TestBounces(t *testing.T) {
	// Codes as in RFC 3463 sections 3.2 to 3.8.
	for name, c := range map[string]struct {
		class, status, how string
		times              int
		bounced, dead      bool
	}{
		"mailbox unknown":           {"permanent", "5.1.1", "token", 1, true, true},
		"domain unknown":            {"permanent", "5.1.2", "token", 1, true, true},
		"mailbox disabled":          {"permanent", "5.2.1", "token", 1, true, true},
		"mailbox full, once":        {"permanent", "5.2.2", "token", 1, true, false},
		"mailbox full, twice":       {"permanent", "5.2.2", "token", 2, true, false},
		"our policy, twice":         {"permanent", "5.7.1", "token", 2, true, false},
		"a delay":                   {"temporary", "4.2.2", "token", 2, false, false},
		"unclear":                   {"unknown", "", "token", 2, false, false},
		"without a token of ours":   {"permanent", "5.1.1", "message-id", 2, true, false},
		"no code at all, once":      {"permanent", "", "token", 1, true, false},
		"no code at all, and again": {"permanent", "", "token", 2, true, false},
		"about the address, once":   {"permanent", "5.1.0", "token", 1, true, false},
		"about the address, twice":  {"permanent", "5.1.0", "token", 2, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			jobs := []plan.Job{s.sent}
			for i := 1; i < c.times; i++ {
				n := change(today, "PCM", noon)
				owe(t, s.db, s.p, noon, n)
				j := must[[]plan.Job](t)(s.db.Claim(ctx, noon, 1))[0]
				send(t, s.db, j, noon)
				jobs = append(jobs, j)
			}
			for _, j := range jobs {
				h := s.heard(plan.Heard{Kind: "bounce", How: c.how, Bounce: &plan.Bounce{Class: c.class, Status: c.status}})
				h.OutgoingID, h.Slot = j.ID, j.Nudge.Slot
				hear(t, s.db, h)
			}
			r := must[recordOf](t)(recordAt(s.db, s.p.Ref, noon))
			if got := strings.Contains(r.outcomes, "bounced"); got != c.bounced {
				t.Errorf("outcomes %q", r.outcomes)
			}
			dead := !must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)).Recipients[0].Bounced.IsZero()
			if dead != c.dead {
				t.Errorf("dead: %v", dead)
			}
			if n := len(must[[]Reply](t)(s.db.Replies(ctx, true, 5))); (n > 0) != c.bounced {
				t.Errorf("%d replies for staff", n)
			}
			if n := len(s.next(t)); (n == 0) != c.dead {
				t.Errorf("%d more messages leave", n)
			}
		})
	}
}

func TestTheSameBounceTwiceIsOne(t *testing.T) {
	s := newScene(t)
	for range 2 {
		hear(t, s.db, s.heard(plan.Heard{Kind: "bounce", How: "token", Bounce: &plan.Bounce{Class: "permanent", Status: "5.2.2"}}))
	}
	if r := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)).Recipients[0]; !r.Bounced.IsZero() {
		t.Error("one message that came back, reported twice, dropped the address")
	}
}
