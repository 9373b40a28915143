package scheduler

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// newer adds a version to the base patient's plan.
func newer(d *plan.DuePatient, first, created, zone string, p plan.Plan) {
	d.Versions = append(d.Versions, plan.Version{Number: len(d.Versions) + 1, First: day(first), Zone: zone, Created: ny(created), Plan: p})
}

// lunchAt is the base plan with lunch alone, at another hour.
func lunchAt(clock string) plan.Plan {
	return with(func(p *plan.Plan) { p.Meals = []plan.Meal{meal(plan.AfterLunch, clock, 30)} })
}

// Each nudge comes from the version in force on its day, as the plan stood when
// it came due. Wanted are slots with the New York hour they are due.
func TestOwedVersions(t *testing.T) {
	paused := with(func(p *plan.Plan) {
		p.Pauses = []plan.Pause{{From: day("2026-06-10"), To: day("2026-06-20"), Of: plan.PauseBands}}
	})
	over := with(func(p *plan.Plan) { p.BandsEnd = day("2026-06-08") })
	cases := []struct {
		name         string
		edit         func(*plan.DuePatient)
		through, now string
		want         []string
		next         string
	}{
		{"the day before a version begins", func(d *plan.DuePatient) { newer(d, "2026-06-12", "2026-06-09 12:00", newYorkName, lunchAt("13:00")) },
			"2026-06-11 12:00", "2026-06-11 14:00", []string{"2026-06-11/PCD 12:30"}, "2026-06-11 19:30"},
		{"the last of the day before", func(d *plan.DuePatient) { newer(d, "2026-06-12", "2026-06-09 12:00", newYorkName, lunchAt("13:00")) },
			"2026-06-11 21:59", "2026-06-11 22:00", []string{"2026-06-11/HS 22:00"}, "2026-06-12 13:30"},
		{"the day a version begins", func(d *plan.DuePatient) { newer(d, "2026-06-12", "2026-06-09 12:00", newYorkName, lunchAt("13:00")) },
			"2026-06-12 00:00", "2026-06-12 14:00", []string{"2026-06-12/PCD 13:30"}, "2026-06-13 13:30"},
		{"over the change", func(d *plan.DuePatient) { newer(d, "2026-06-12", "2026-06-09 12:00", newYorkName, lunchAt("13:00")) },
			"2026-06-11 19:00", "2026-06-12 14:00", []string{"2026-06-11/PCV 19:30", "2026-06-11/HS 22:00", "2026-06-12/PCD 13:30"}, "2026-06-13 13:30"},

		// The first plan of all, written at noon.
		{"written at noon", func(d *plan.DuePatient) {
			d.Versions[0].First, d.Versions[0].Created = day("2026-06-10"), ny("2026-06-10 12:00")
		},
			"2026-06-01 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 12:30", "2026-06-10/PCV 19:30"}, "2026-06-10 22:00"},
		{"written when lunch is due", func(d *plan.DuePatient) {
			d.Versions[0].First, d.Versions[0].Created = day("2026-06-10"), ny("2026-06-10 12:30")
		},
			"2026-06-01 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 12:30", "2026-06-10/PCV 19:30"}, "2026-06-10 22:00"},
		{"written a nanosecond later", func(d *plan.DuePatient) {
			d.Versions[0].First, d.Versions[0].Created = day("2026-06-10"), ny("2026-06-10 12:30:00.000000001")
		}, "2026-06-01 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCV 19:30"}, "2026-06-10 22:00"},

		// A change today at noon. Breakfast came due before it, on the plan that
		// then stood, and is on file whenever the look comes.
		{"changed at noon, looked at later", func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-10 12:00", newYorkName, lunchAt("13:00")) },
			"2026-06-10 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCM 08:00", "2026-06-10/PCD 13:30"}, "2026-06-11 13:30"},
		{"changed when lunch was due: the new plan's lunch", func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-10 12:30", newYorkName, lunchAt("13:00")) },
			"2026-06-10 12:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 13:30"}, "2026-06-11 13:30"},
		{"lunch came due, then was moved: one lunch", func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-10 12:45", newYorkName, lunchAt("13:00")) },
			"2026-06-10 12:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 13:30"}, "2026-06-11 13:30"},
		{"lunch came due, then was moved, looked at between", func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-10 12:45", newYorkName, lunchAt("13:00")) },
			"2026-06-10 12:00", "2026-06-10 12:50", []string{"2026-06-10/PCD 12:30"}, "2026-06-10 13:30"},
		{"paused in the minute after lunch", func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-10 12:30:10", newYorkName, paused) },
			"2026-06-10 12:29:50", "2026-06-10 12:30:20", []string{"2026-06-10/PCD 12:30"}, "2026-06-11 12:30:20"},
		{"ended in the minute after lunch", func(d *plan.DuePatient) { newer(d, "2026-06-01", "2026-06-10 12:30:10", newYorkName, over) },
			"2026-06-10 12:29:50", "2026-06-10 12:30:20", []string{"2026-06-10/PCD 12:30"}, ""},

		// Versions that begin out of order: the newest that has begun counts.
		{"a later one begins earlier, before it", threeVersions, "2026-06-14 13:31", "2026-06-14 20:00", []string{"2026-06-14/PCV 19:30"}, "2026-06-14 22:00"},
		{"a later one begins earlier, from it on", threeVersions, "2026-06-15 00:00", "2026-06-15 20:00", []string{"2026-06-15/PCD 14:30"}, "2026-06-16 14:30"},
		{"a later one begins earlier, past both", threeVersions, "2026-06-22 00:00", "2026-06-22 20:00", []string{"2026-06-22/PCD 14:30"}, "2026-06-23 14:30"},
		{"two begin on one day", func(d *plan.DuePatient) {
			newer(d, "2026-06-10", "2026-06-09 12:00", newYorkName, lunchAt("13:00"))
			newer(d, "2026-06-10", "2026-06-09 12:01", newYorkName, lunchAt("14:00"))
		}, "2026-06-10 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 14:30"}, "2026-06-11 14:30"},

		// An end that is not yet in force, and one taken back.
		{"the end begins later", func(d *plan.DuePatient) { newer(d, "2026-07-01", "2026-06-09 12:00", newYorkName, over) },
			"2026-06-10 12:00", "2026-06-10 12:30", []string{"2026-06-10/PCD 12:30"}, "2026-06-10 19:30"},
		{"the end was taken back", func(d *plan.DuePatient) {
			newer(d, "2026-06-08", "2026-06-08 12:00", newYorkName, over)
			newer(d, "2026-06-10", "2026-06-10 12:00", newYorkName, lunchAt("13:00"))
		}, "2026-06-10 00:00", "2026-06-10 13:30", []string{"2026-06-10/PCD 13:30"}, "2026-06-11 13:30"},

		// A plan that ended, and before it one that did not, which has nothing more
		// to give once its last day, the 9th, is over.
		{"taken over by one that ended, a nanosecond before", overTakes(over), "2026-06-09 22:00", "2026-06-10 02:59:59.999999999", nil, "2026-06-11 02:59:59.999999999"},
		{"taken over by one that ended", overTakes(over), "2026-06-09 22:00", "2026-06-10 03:00", nil, ""},
		// The clock went back between two versions: the second is dated earlier.
		{"a newer version dated earlier", func(d *plan.DuePatient) {
			d.Versions[0].Created = ny("2026-06-10 18:00")
			newer(d, "2026-06-10", "2026-06-10 12:00", newYorkName, lunchAt("12:30"))
		}, "2026-06-01 00:00", "2026-06-10 20:00", []string{"2026-06-10/PCD 13:00"}, "2026-06-11 13:00"},

		// From New York to Berlin on the 11th; 8:00 there is 2:00 in New York.
		{"another zone", func(d *plan.DuePatient) { newer(d, "2026-06-11", "2026-06-10 12:00", "Europe/Berlin", base()) },
			"2026-06-10 19:00", "2026-06-11 03:00", []string{"2026-06-10/PCV 19:30", "2026-06-10/HS 22:00", "2026-06-11/PCM 02:00"}, "2026-06-11 06:30"},
		// And west to Honolulu, where the 11th begins at 6:00 in New York.
		{"another zone, westward", func(d *plan.DuePatient) { newer(d, "2026-06-11", "2026-06-10 12:00", "Pacific/Honolulu", base()) },
			"2026-06-10 22:00", "2026-06-11 14:00", []string{"2026-06-11/PCM 14:00"}, "2026-06-11 18:30"},
		// An unknown zone that a newer version put right.
		{"a zone put right", func(d *plan.DuePatient) {
			d.Versions[0].Zone = "Mars/Olympus"
			newer(d, "2026-06-10", "2026-06-10 12:00", newYorkName, base())
		}, "2026-06-09 21:00", "2026-06-10 13:00", []string{"2026-06-09/HS 22:00", "2026-06-10/PCM 08:00", "2026-06-10/PCD 12:30"}, "2026-06-10 19:30"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := person(1, base())
			d.Through = ny(c.through)
			c.edit(&d)
			o, err := Owed(d, ny(c.now))
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, n := range o.Nudges {
				got = append(got, n.Nudge.Slot+n.Nudge.Due.In(newYork).Format(" 15:04"))
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("owed (-want +got):\n%s", diff)
			}
			if c.next == "" != o.NextDue.IsZero() || c.next != "" && !o.NextDue.Equal(ny(c.next)) {
				t.Errorf("next look %v, want %q", o.NextDue.In(newYork), c.next)
			}
			if o.Version != len(d.Versions) {
				t.Errorf("version %d, want the latest, %d", o.Version, len(d.Versions))
			}
		})
	}
}

// threeVersions: the second begins on the 20th, the third, written later, on
// the 15th.
func threeVersions(d *plan.DuePatient) {
	newer(d, "2026-06-20", "2026-06-09 12:00", newYorkName, lunchAt("13:00"))
	newer(d, "2026-06-15", "2026-06-09 12:01", newYorkName, lunchAt("14:00"))
}

func overTakes(over plan.Plan) func(*plan.DuePatient) {
	return func(d *plan.DuePatient) { newer(d, "2026-06-10", "2026-06-09 12:00", newYorkName, over) }
}
