package store

import (
	"fmt"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

func TestFewerEasesTheAskingFromTomorrow(t *testing.T) {
	// The reply comes on 1 June; levels are told for 31 May to 4 June.
	for name, c := range map[string]struct {
		plan     string
		second   string // a version from 3 June, where given
		times    int    // replies that say it, on the same day
		want     [5]int
		versions int
	}{
		"from three":                {"", "", 1, [5]int{3, 3, 2, 2, 2}, 2},
		"from two":                  {`,"cadence":[{"from":"2026-05-20","level":2}]`, "", 1, [5]int{2, 2, 1, 1, 1}, 2},
		"not under one":             {`,"cadence":[{"from":"2026-05-20","level":1}]`, "", 1, [5]int{1, 1, 1, 1, 1}, 1},
		"twice a day is once":       {"", "", 2, [5]int{3, 3, 2, 2, 2}, 2},
		"eased tomorrow already":    {`,"cadence":[{"from":"2026-06-02","level":1}]`, "", 1, [5]int{3, 3, 1, 1, 1}, 1},
		"in place of tomorrow's":    {`,"cadence":[{"from":"2026-06-02","level":3}]`, "", 1, [5]int{3, 3, 2, 2, 2}, 2},
		"no step back up":           {`,"cadence":[{"from":"2026-05-20","level":2},{"from":"2026-06-03","level":3}]`, "", 1, [5]int{2, 2, 1, 1, 1}, 2},
		"a step down is kept":       {`,"cadence":[{"from":"2026-06-04","level":1}]`, "", 1, [5]int{3, 3, 2, 2, 1}, 2},
		"a version to come":         {"", `,"hours_per_day":12`, 1, [5]int{3, 3, 2, 2, 2}, 4},
		"a version to come, easier": {"", `,"hours_per_day":12,"cadence":[{"from":"2026-05-20","level":1}]`, 1, [5]int{3, 3, 2, 1, 1}, 4},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			p := enrol(t, db, somebody(1), c.plan)
			if c.second != "" {
				must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, c.second), plan.NewDate(2026, 6, 3), "dr:lund", noon.AddDate(0, 0, -1)))
			}
			before := must[[]plan.Version](t)(db.PlanVersions(ctx, p.Ref))
			for i := range c.times {
				id := hear(t, db, plan.Heard{At: noon.Add(time.Duration(i) * time.Minute), Kind: "reply", How: "token", PatientID: p.ID, Fewer: true})
				if r := must[Reply](t)(db.Reply(ctx, id)); !r.NeedsPerson || r.Why == "" {
					t.Errorf("the desk is not told: %+v", r)
				}
			}
			versions := must[[]plan.Version](t)(db.PlanVersions(ctx, p.Ref))
			var got [5]int
			for i := range got {
				d := today.AddDays(i - 1)
				v, _ := inForce(versions, d)
				got[i] = v.Plan.LevelOn(d)
				if was, _ := inForce(before, d); was.Plan.HoursPerDay != v.Plan.HoursPerDay {
					t.Errorf("%v: %v hours a day, before %v", d, v.Plan.HoursPerDay, was.Plan.HoursPerDay)
				}
			}
			if got != c.want || len(versions) != c.versions {
				t.Errorf("levels %v in %d versions, want %v in %d", got, len(versions), c.want, c.versions)
			}
			for _, v := range versions {
				if fs := v.Plan.Check(); len(fs) > 0 {
					t.Errorf("version %d: %v", v.Number, fs)
				}
			}
			if n := number(t, db, fmt.Sprintf("SELECT count(*) FROM plan_version WHERE by = 'patient' AND first <= '%s'", today)); n != 0 {
				t.Error("today or a day that is past was changed")
			}
			if c.versions > len(before) {
				due := must[[]plan.DuePatient](t)(db.DuePatients(ctx, noon.Add(time.Hour), 5))
				if len(due) != 1 {
					t.Error("the tick is not told to look")
				}
			}
		})
	}
}

func TestFewerOfAPatientWithoutAPlan(t *testing.T) {
	db := open(t)
	p := must[plan.Patient](t)(db.AddPatient(ctx, somebody(1), "desk:ines", noon))
	id := hear(t, db, plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: p.ID, Fewer: true})
	if r := must[Reply](t)(db.Reply(ctx, id)); !r.NeedsPerson {
		t.Error("the desk is not told")
	}
	if n := number(t, db, "SELECT count(*) FROM plan_version"); n != 0 {
		t.Error("a plan was made up")
	}
}
