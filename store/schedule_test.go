package store

import (
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

func TestTickingTwiceQueuesNothing(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	nudges := []plan.Nudge{change(today, "PCM", noon.Add(-2*time.Hour)), change(today, "PCD", noon)}
	owe(t, db, p, noon, nudges...)
	before := number(t, db, "SELECT (SELECT count(*) FROM nudge) * 100 + count(*) FROM outgoing")
	if before != 202 {
		t.Fatalf("%d on file, want 2 nudges and 2 messages", before)
	}
	send(t, db, must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0], noon)
	// The same again, after a crash, a day on, with other instants and from a
	// newer version of the plan.
	owe(t, db, p, noon, nudges...)
	must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, ""), today, "desk:ines", noon))
	for i := range nudges {
		nudges[i].Due, nudges[i].Until = nudges[i].Due.Add(time.Hour), nudges[i].Until.Add(time.Hour)
	}
	ok(t, db.Enqueue(ctx, noon.AddDate(0, 0, 1), []plan.Owed{{PatientID: p.ID, Version: 2,
		Nudges: []plan.Owing{{Nudge: nudges[0]}, {Nudge: nudges[1]}}, Through: noon}}))
	if after := number(t, db, "SELECT (SELECT count(*) FROM nudge) * 100 + count(*) FROM outgoing"); after != before {
		t.Errorf("%d on file after the second tick, %d before", after, before)
	}
	if n := number(t, db, "SELECT count(*) FROM outgoing WHERE state = 'accepted'"); n != 1 {
		t.Errorf("%d accepted", n)
	}
}

func TestDuePatientsAreThoseWhoseMomentHasCome(t *testing.T) {
	db := open(t)
	var ref [4]string
	for i, due := range []time.Time{noon.Add(-time.Hour), noon, noon.Add(time.Millisecond), {}} {
		p := enrol(t, db, somebody(i), "")
		ref[i] = p.Ref
		ok(t, db.Enqueue(ctx, noon, []plan.Owed{{PatientID: p.ID, Version: 1, Through: noon.Add(-time.Minute), NextDue: due}}))
	}
	must[plan.Patient](t)(db.AddPatient(ctx, somebody(9), "desk:ines", noon)) // no plan: never due
	due := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon, 10))
	if len(due) != 2 || due[0].Patient.Ref != ref[0] || due[1].Patient.Ref != ref[1] {
		t.Fatalf("got %d patients", len(due))
	}
	d := due[0]
	if !d.Through.Equal(noon.Add(-time.Minute)) || len(d.Versions) != 1 || d.Versions[0].Plan.Trays != 24 ||
		d.Versions[0].Zone != "America/New_York" || len(d.Patient.Recipients) != 1 || !d.Patient.Recipients[0].Consent.Given() {
		t.Errorf("got %+v", d)
	}
	if got := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon, 1)); len(got) != 1 || got[0].Patient.Ref != ref[0] {
		t.Errorf("with a limit of one: %d patients", len(got))
	}
}

func TestEnqueueLeavesAPatientWhosePlanChanged(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	other := enrol(t, db, somebody(2), "")
	due := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon, 10)) // the tick reads version 1
	must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, `,"pauses":[{"from":"2026-06-01","to":"2026-06-09"}]`), today, "desk:ines", noon))
	var owed []plan.Owed
	for _, d := range due {
		owed = append(owed, plan.Owed{PatientID: d.Patient.ID, Version: d.Versions[0].Number, Through: noon, NextDue: noon.Add(time.Hour),
			Nudges: []plan.Owing{{Nudge: change(today, "PCD", noon)}}})
	}
	ok(t, db.Enqueue(ctx, noon, owed))
	if n := number(t, db, "SELECT count(*) FROM nudge WHERE patient_id = ?", p.ID); n != 0 {
		t.Error("a nudge of the old plan was put on file")
	}
	if n := number(t, db, "SELECT count(*) FROM nudge WHERE patient_id = ?", other.ID); n != 1 {
		t.Error("the other patient of the batch was left out too")
	}
	if again := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon, 10)); len(again) != 1 || again[0].Patient.ID != p.ID || len(again[0].Versions) != 2 {
		t.Errorf("the next tick looks at %d patients", len(again))
	}
}

// What came due while mail was stopped is not made up for, not even by a look
// that was taken before it was resumed.
func TestEnqueueLeavesAPatientWhoResumedSinceTheLook(t *testing.T) {
	for name, resumed := range map[string]bool{"resumed since": true, "nothing since": false} {
		t.Run(name, func(t *testing.T) {
			db := open(t)
			p := enrol(t, db, somebody(1), "")
			d := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon, 10))[0]
			if resumed {
				ok(t, db.Stop(ctx, p.Ref, "desk:ines", noon))
				ok(t, db.Resume(ctx, p.Ref, "desk:ines", noon.Add(time.Minute)))
			}
			ok(t, db.Enqueue(ctx, noon.Add(time.Minute), []plan.Owed{{PatientID: d.Patient.ID, Version: d.Versions[0].Number, Through: noon,
				NextDue: noon.Add(time.Hour), Nudges: []plan.Owing{{Nudge: change(today, "PCD", noon)}}}}))
			if n := number(t, db, "SELECT count(*) FROM nudge WHERE patient_id = ?", p.ID); (n == 0) != resumed {
				t.Errorf("%d nudges on file", n)
			}
		})
	}
}

func TestEnqueueEndsAtOnceWhatIsForbidden(t *testing.T) {
	guardian := plan.Recipient{Role: plan.RoleGuardian, Name: "Otto", Address: "otto@patients.example.org"} // has not agreed
	for name, c := range map[string]struct {
		change func(*plan.Patient)
		owing  plan.Owing
		want   plan.State
		reason string
	}{
		"nothing":     {func(*plan.Patient) {}, plan.Owing{Nudge: change(today, "PCD", noon)}, plan.Planned, ""},
		"hold":        {func(p *plan.Patient) { p.Hold = plan.Hold{Since: noon, Reason: "swelling"} }, plan.Owing{Nudge: change(today, "PCD", noon)}, plan.Lapsed, "on hold: swelling"},
		"stopped":     {func(p *plan.Patient) { p.Stopped = noon }, plan.Owing{Nudge: change(today, "PCD", noon)}, plan.Suppressed, reasonStopped},
		"said stop":   {func(p *plan.Patient) { p.Recipients[0].Stopped = noon }, plan.Owing{Nudge: change(today, "PCD", noon)}, plan.Suppressed, reasonSaidStop},
		"dead":        {func(p *plan.Patient) { p.Recipients[0].Bounced = noon }, plan.Owing{Nudge: change(today, "PCD", noon)}, plan.Suppressed, reasonDead},
		"told so":     {func(*plan.Patient) {}, plan.Owing{Nudge: change(today, "PCD", noon), Lapse: "down"}, plan.Lapsed, "down"},
		"past":        {func(*plan.Patient) {}, plan.Owing{Nudge: change(today, "PCM", noon.Add(-90*time.Minute))}, plan.Lapsed, reasonPast},
		"almost past": {func(*plan.Patient) {}, plan.Owing{Nudge: change(today, "PCM", noon.Add(time.Millisecond-90*time.Minute))}, plan.Planned, ""},
	} {
		t.Run(name, func(t *testing.T) {
			db := open(t)
			p := somebody(1)
			p.Recipients = append(p.Recipients, guardian)
			c.change(&p)
			p = enrol(t, db, p, "")
			ok(t, db.Enqueue(ctx, noon, []plan.Owed{{PatientID: p.ID, Version: 1, Through: noon, Nudges: []plan.Owing{c.owing}}}))
			if got, reason := state(t, db, 1); got != c.want || reason != c.reason {
				t.Errorf("it is %s, %q; want %s, %q", got, reason, c.want, c.reason)
			}
			if got, _ := state(t, db, 2); got != plan.Suppressed && got != plan.Lapsed {
				t.Errorf("the message to a guardian without consent is %s", got)
			}
		})
	}
}

func TestLapseStale(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	n := change(today, "PCD", noon)
	owe(t, db, p, noon, n)
	if k := must[int](t)(db.LapseStale(ctx, n.Until.Add(-time.Millisecond))); k != 0 {
		t.Error("lapsed inside its window")
	}
	if k := must[int](t)(db.LapseStale(ctx, n.Until)); k != 1 {
		t.Errorf("%d lapsed at the end of the window", k)
	}
	if s, reason := state(t, db, 1); s != plan.Lapsed || reason != reasonPast {
		t.Errorf("it is %s, %q", s, reason)
	}
	if k := must[int](t)(db.LapseStale(ctx, n.Until)); k != 0 {
		t.Errorf("%d lapsed the second time", k)
	}
}

func TestAfterThreeDaysDownNotOneStaleMessageLeaves(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	for d := range 3 {
		at := noon.AddDate(0, 0, d)
		owe(t, db, p, noon, change(today.AddDays(d), "PCM", at), change(today.AddDays(d), "PCD", at.Add(4*time.Hour)))
	}
	if jobs := must[[]plan.Job](t)(db.Claim(ctx, noon.AddDate(0, 0, 3), 100)); len(jobs) != 0 {
		t.Errorf("%d stale messages claimed", len(jobs))
	}
	if k := must[int](t)(db.LapseStale(ctx, noon.AddDate(0, 0, 3))); k != 6 {
		t.Errorf("%d lapsed", k)
	}
}

func TestStopAndResume(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	ok(t, db.Stop(ctx, p.Ref, "desk:ines", noon))
	ok(t, db.Stop(ctx, p.Ref, "desk:ines", noon.Add(time.Hour)))
	if got := must[plan.Patient](t)(db.Patient(ctx, p.Ref)); !got.Stopped.Equal(noon) {
		t.Errorf("stopped at %v", got.Stopped)
	}
	if s, reason := state(t, db, 1); s != plan.Suppressed || reason != reasonStopped {
		t.Errorf("what waited is %s, %q", s, reason)
	}
	if n := len(must[[]plan.Job](t)(db.Claim(ctx, noon, 5))); n != 0 {
		t.Error("sent after stop")
	}
	// What came due while nothing could leave is not made up for.
	later := noon.AddDate(0, 0, 9)
	ok(t, db.Resume(ctx, p.Ref, "desk:ines", later))
	due := must[[]plan.DuePatient](t)(db.DuePatients(ctx, later, 5))
	if len(due) != 1 || !due[0].Through.Equal(later) || !due[0].Patient.Stopped.IsZero() {
		t.Errorf("after resuming: %+v", due)
	}
	if acts := must[[]Act](t)(db.Audit(ctx, p.Ref, 3)); acts[0].What != "resume" || acts[1].What != "stop" || acts[0].By != "desk:ines" || !acts[0].At.Equal(later) {
		t.Errorf("audit trail: %+v", acts)
	}
}

func TestResumeOfOneWhoWasNotStoppedLosesNothing(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon)
	ok(t, db.Resume(ctx, p.Ref, "desk:ines", noon.Add(time.Hour)))
	due := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon.Add(time.Hour), 5))
	if len(due) != 1 || !due[0].Through.Equal(noon) {
		t.Errorf("got %+v", due)
	}
}

func TestNextMoment(t *testing.T) {
	db := open(t)
	if next := must[time.Time](t)(db.NextMoment(ctx)); !next.IsZero() {
		t.Errorf("of an empty clinic: %v", next)
	}
	p := enrol(t, db, somebody(1), "")
	if next := must[time.Time](t)(db.NextMoment(ctx)); !next.Equal(noon.AddDate(0, 0, -14)) {
		t.Errorf("a new plan is to be looked at, next is %v", next)
	}
	owe(t, db, p, noon, change(today, "PCD", noon)) // looks again an hour later
	if next := must[time.Time](t)(db.NextMoment(ctx)); !next.Equal(noon) {
		t.Errorf("a message waits, next is %v", next)
	}
	j := must[[]plan.Job](t)(db.Claim(ctx, noon, 1))[0]
	ok(t, db.Retry(ctx, j.ID, noon.Add(10*time.Minute), "451", noon))
	if next := must[time.Time](t)(db.NextMoment(ctx)); !next.Equal(noon.Add(10 * time.Minute)) {
		t.Errorf("a second try waits, next is %v", next)
	}
	send(t, db, must[[]plan.Job](t)(db.Claim(ctx, noon.Add(10*time.Minute), 1))[0], noon)
	if next := must[time.Time](t)(db.NextMoment(ctx)); !next.Equal(noon.Add(time.Hour)) {
		t.Errorf("nothing waits, next is %v", next)
	}
}
