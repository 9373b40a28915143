package store

import (
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

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
