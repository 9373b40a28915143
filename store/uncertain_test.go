package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

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
