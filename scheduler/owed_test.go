package scheduler

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// said writes what is owed, one nudge a line: slot, then why it lapses.
func said(o plan.Owed) []string {
	var out []string
	for _, n := range o.Nudges {
		line := n.Nudge.Slot
		if n.Lapse != "" {
			line += ": " + n.Lapse
		}
		out = append(out, line)
	}
	return out
}

const passed = ": its moment passed before it could be sent"

// Each case looks at the base patient on 10 June 2026 unless it says otherwise.
func TestOwed(t *testing.T) {
	type edit = func(*plan.DuePatient)
	planned := func(change func(*plan.Plan)) edit {
		return func(d *plan.DuePatient) { change(&d.Versions[0].Plan) }
	}
	held := func(d *plan.DuePatient) {
		d.Patient.Hold = plan.Hold{Since: ny("2026-06-10 11:00"), Reason: "a sign of allergy"}
	}
	guardian := plan.Recipient{ID: 2, Role: plan.RoleGuardian, Address: "guardian@example.org"}
	noon := ny("2026-06-10 12:00")
	cases := []struct {
		name         string
		edit         edit
		through, now string
		want         []string
		next         string // empty: never
	}{
		// An edge of due, from both sides.
		{"a nanosecond before due", nil, "2026-06-10 12:00", "2026-06-10 12:29:59.999999999", nil, "2026-06-10 12:30"},
		{"due now", nil, "2026-06-10 12:00", "2026-06-10 12:30", []string{"2026-06-10/PCD"}, "2026-06-10 19:30"},
		{"a nanosecond after due", nil, "2026-06-10 12:00", "2026-06-10 12:30:00.000000001", []string{"2026-06-10/PCD"}, "2026-06-10 19:30"},
		// What was handled ends with Through, included.
		{"through a nanosecond before due", nil, "2026-06-10 12:29:59.999999999", "2026-06-10 12:31", []string{"2026-06-10/PCD"}, "2026-06-10 19:30"},
		{"through due", nil, "2026-06-10 12:30", "2026-06-10 12:31", nil, "2026-06-10 19:30"},
		{"looked at twice at one moment", nil, "2026-06-10 12:30", "2026-06-10 12:30", nil, "2026-06-10 19:30"},
		// until is the first moment that is too late.
		{"a nanosecond before until", nil, "2026-06-10 12:00", "2026-06-10 13:59:59.999999999", []string{"2026-06-10/PCD"}, "2026-06-10 19:30"},
		{"until now", nil, "2026-06-10 12:00", "2026-06-10 14:00", []string{"2026-06-10/PCD" + passed}, "2026-06-10 19:30"},
		// Six hours and three days of standing still.
		{"down for six hours", nil, "2026-06-10 11:00", "2026-06-10 22:00",
			[]string{"2026-06-10/PCD" + passed, "2026-06-10/PCV" + passed, "2026-06-10/HS"}, "2026-06-11 08:00"},
		{"down for three days", nil, "2026-06-10 00:00", "2026-06-13 13:00", []string{
			"2026-06-10/PCM" + passed, "2026-06-10/PCD" + passed, "2026-06-10/PCV" + passed, "2026-06-10/HS" + passed,
			"2026-06-11/PCM" + passed, "2026-06-11/PCD" + passed, "2026-06-11/PCV" + passed, "2026-06-11/HS" + passed,
			"2026-06-12/PCM" + passed, "2026-06-12/PCD" + passed, "2026-06-12/PCV" + passed, "2026-06-12/HS" + passed,
			"2026-06-13/PCM" + passed, "2026-06-13/PCD",
		}, "2026-06-13 19:30"},
		// Of the first day: the notice until midnight, the evening question for
		// three hours, and no band change before the notice.
		{"woken on the evening of the first day", nil, "2026-05-31 09:00", "2026-06-01 20:00",
			[]string{"d0", "2026-06-01/PCD" + passed, "s1", "2026-06-01/PCV"}, "2026-06-01 22:00"},
		{"week three begins at midnight", planned(func(p *plan.Plan) {
			p.Appliance, p.BandsStart, p.AlignerStart, p.DaysPerTray, p.Trays = plan.Aligners, plan.Date{}, day("2026-05-27"), 10, 20
			p.NoticeAt = 0
		}), "2026-06-09 23:59", "2026-06-10 00:00", []string{"d0"}, "2026-06-10 08:00"},

		// A hold: on file, never to be sent.
		{"on hold", held, "2026-06-10 12:00", "2026-06-10 12:30", []string{"2026-06-10/PCD: on hold: a sign of allergy"}, "2026-06-10 19:30"},
		{"on hold and past", held, "2026-06-10 12:00", "2026-06-10 14:00", []string{"2026-06-10/PCD" + passed}, "2026-06-10 19:30"},

		// Nobody to write to: nothing on file, and a look a day later.
		{"no consent", func(d *plan.DuePatient) { d.Patient.Recipients[0].Consent = plan.Consent{} }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"no recipient", func(d *plan.DuePatient) { d.Patient.Recipients = nil }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"stopped", func(d *plan.DuePatient) { d.Patient.Stopped = noon }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"the recipient stopped", func(d *plan.DuePatient) { d.Patient.Recipients[0].Stopped = noon }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"all bounced", func(d *plan.DuePatient) {
			g := guardian
			g.Consent, g.Bounced = consent, noon
			d.Patient.Recipients[0].Bounced = noon
			d.Patient.Recipients = append(d.Patient.Recipients, g)
		}, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"one of two may be written to", func(d *plan.DuePatient) {
			g := guardian
			g.Consent = consent
			d.Patient.Recipients[0].Bounced = noon
			d.Patient.Recipients = append(d.Patient.Recipients, g)
		}, "2026-06-10 12:00", "2026-06-10 12:30", []string{"2026-06-10/PCD"}, "2026-06-10 19:30"},
		{"stopped, and the plan is over", func(d *plan.DuePatient) {
			d.Patient.Stopped, d.Versions[0].Plan.BandsEnd = noon, day("2026-06-08")
		}, "2026-06-10 12:00", "2026-06-10 12:30", nil, ""},

		// The clock went back.
		{"an hour back", nil, "2026-06-10 13:00", "2026-06-10 12:00", nil, "2026-06-10 13:00"},
		{"a nanosecond back", nil, "2026-06-10 12:30:00.000000001", "2026-06-10 12:30", nil, "2026-06-10 12:30:00.000000001"},
		{"a day back", nil, "2026-06-11 12:00", "2026-06-10 12:00", nil, "2026-06-11 12:00"},
		{"caught up", nil, "2026-06-10 13:00", "2026-06-10 19:30", []string{"2026-06-10/PCV"}, "2026-06-10 22:00"},
		{"more than a day back: that clock was wrong", nil, "2026-06-11 12:00:00.000000001", "2026-06-10 12:00", nil, "2026-06-10 12:30"},
		{"a century back", nil, "2126-06-11 12:00", "2026-06-10 12:00", nil, "2026-06-10 12:30"},

		// The moment to look again.
		{"paused: a day ahead", planned(func(p *plan.Plan) {
			p.Pauses = []plan.Pause{{From: day("2026-06-10"), To: day("2026-06-30"), Of: plan.PauseMail}}
		}), "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"before the plan's first day", func(d *plan.DuePatient) { d.Versions[0].First = day("2026-06-12") }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 12:30"},
		{"the eve of the plan's first day", func(d *plan.DuePatient) { d.Versions[0].First = day("2026-06-11") }, "2026-06-10 12:00", "2026-06-10 12:30", nil, "2026-06-11 08:00"},
		{"the next is due in 24 hours", planned(func(p *plan.Plan) { p.Meals = p.Meals[3:] }), "2026-06-10 12:00", "2026-06-10 22:00", []string{"2026-06-10/HS"}, "2026-06-11 22:00"},
		{"on the longer day of autumn the next is 25 hours away", planned(func(p *plan.Plan) { p.Meals = p.Meals[3:] }), "2026-10-31 12:00", "2026-10-31 22:00", []string{"2026-10-31/HS"}, "2026-11-01 21:00"},

		// The end. What is left of the last day is over three hours into the next.
		{"on the last day", planned(func(p *plan.Plan) { p.BandsEnd = day("2026-06-10") }), "2026-06-10 20:00", "2026-06-10 22:00", []string{"2026-06-10/HS"}, "2026-06-11 22:00"},
		{"before the last day is over", planned(func(p *plan.Plan) { p.BandsEnd = day("2026-06-10") }), "2026-06-10 22:00", "2026-06-11 02:59:59.999999999", nil, "2026-06-12 02:59:59.999999999"},
		{"the last day is over", planned(func(p *plan.Plan) { p.BandsEnd = day("2026-06-10") }), "2026-06-10 22:00", "2026-06-11 03:00", nil, ""},
		{"ended while nobody looked", planned(func(p *plan.Plan) { p.BandsEnd = day("2026-06-10") }), "2026-06-10 20:00", "2026-06-13 12:00", []string{"2026-06-10/HS" + passed}, ""},
		{"long ended", planned(func(p *plan.Plan) { p.BandsEnd = day("2026-06-03") }), "2026-06-10 12:00", "2026-06-10 12:30", nil, ""},

		// Over midnight. Bedtime at 22:00 is of use for twelve hours; quiet hours
		// move it to seven in the morning of the next day.
		{"moved over midnight, a minute before", planned(overnight), "2026-06-10 23:00", "2026-06-11 06:59", nil, "2026-06-11 07:00"},
		{"moved over midnight", planned(overnight), "2026-06-11 06:59", "2026-06-11 07:00", []string{"2026-06-10/HS"}, "2026-06-12 07:00"},
		// A meal of twelve hours begun at 23:59 and quiet hours from 11:00 to
		// 01:00: it is due on the second day after.
		{"moved over two midnights", planned(twoNights), "2026-06-12 00:30", "2026-06-12 01:00", []string{"2026-06-10/PC"}, "2026-06-13 01:00"},
		{"ended, and still to come", planned(func(p *plan.Plan) { twoNights(p); p.BandsEnd = day("2026-06-10") }),
			"2026-06-12 00:30", "2026-06-12 00:59", nil, "2026-06-12 01:00"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := person(1, base())
			d.Through = ny(c.through)
			if c.edit != nil {
				c.edit(&d)
			}
			now := ny(c.now)
			got, err := Owed(d, now)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, said(got)); diff != "" {
				t.Errorf("owed (-want +got):\n%s", diff)
			}
			var next time.Time
			if c.next != "" {
				next = ny(c.next)
			}
			if !got.NextDue.Equal(next) {
				t.Errorf("next look %v, want %v", got.NextDue.In(newYork), next)
			}
			through := now
			if ahead := d.Through.Sub(now); ahead > 0 && ahead <= 24*time.Hour {
				through = d.Through // handled is handled
			}
			if !got.Through.Equal(through) || got.PatientID != 1 || got.Version != 1 {
				t.Errorf("through %v of patient %d, version %d; want %v, 1, 1", got.Through, got.PatientID, got.Version, through)
			}
		})
	}
}

func overnight(p *plan.Plan) {
	p.Quiet, p.UsefulMin, p.Meals = plan.Quiet{From: at("21:45"), To: at("07:00")}, 720, p.Meals[3:]
}

func twoNights(p *plan.Plan) {
	p.Quiet, p.UsefulMin = plan.Quiet{From: at("11:00"), To: at("01:00")}, 1440
	p.Meals = []plan.Meal{meal(plan.AfterMeal, "23:59", 720)}
}

// Whatever came due while nobody could be written to is not made up for.
func TestOwedMakesNothingUp(t *testing.T) {
	d := person(1, base())
	d.Through = ny("2026-06-10 12:00")
	d.Patient.Stopped = ny("2026-06-10 11:00")
	o, err := Owed(d, ny("2026-06-10 12:31"))
	if err != nil {
		t.Fatal(err)
	}
	d.Patient.Stopped, d.Through = time.Time{}, o.Through
	if o, err = Owed(d, ny("2026-06-10 12:32")); err != nil || len(o.Nudges) > 0 {
		t.Errorf("after resuming: %v, %v; lunch was due while mail was stopped", said(o), err)
	}
}

// The first look ever, with nothing handled yet, begins where the plan was
// written. To walk there from year 1 would plan 740,000 days.
func TestOwedFirstLook(t *testing.T) {
	d := person(1, base())
	d.Versions[0].Created, d.Versions[0].First = ny("2026-06-10 12:30"), day("2026-06-10")
	look := func(now string) []string {
		o, err := Owed(d, ny(now))
		if err != nil {
			t.Fatal(err)
		}
		return said(o)
	}
	if diff := cmp.Diff([]string{"2026-06-10/PCD"}, look("2026-06-10 12:40")); diff != "" {
		t.Errorf("written at the moment lunch is due, (-want +got):\n%s", diff)
	}
	if n := testing.AllocsPerRun(1, func() { look("2026-06-10 12:40") }); n > 1000 {
		t.Errorf("%v allocations for one look", n)
	}
	d.Versions[0].Created = ny("2026-06-10 12:30:00.000000001")
	if got := look("2026-06-10 12:40"); got != nil {
		t.Errorf("written a nanosecond after lunch was due: %v", got)
	}
}

// A past of years goes on file month by month, each once.
func TestOwedCatchesUpInMonths(t *testing.T) {
	d := person(1, base())
	d.Through = ny("2026-06-10 00:00")
	now := d.Through.Add(catchUp)
	if o, err := Owed(d, now); err != nil || !o.Through.Equal(now) || !o.NextDue.After(now) {
		t.Errorf("a month: through %v, next %v, %v; want now and later", o.Through, o.NextDue, err)
	}
	now = ny("2027-06-10 00:00") // 365 days of four meals
	looks, owed := 0, 0
	for {
		o, err := Owed(d, now)
		if err != nil {
			t.Fatal(err)
		}
		looks++
		owed += len(o.Nudges)
		d.Through = o.Through
		if o.NextDue.After(now) {
			break
		}
		if !o.NextDue.Equal(now) || looks > 12 {
			t.Fatalf("look %d: next %v, want now", looks, o.NextDue)
		}
	}
	if looks != 12 || owed != 365*4 || !d.Through.Equal(now) {
		t.Errorf("%d looks found %d nudges through %v; want 12, %d and now", looks, owed, d.Through, 365*4)
	}
}

// On the days on which the clocks change in New York, at 2:00 on the second
// Sunday of March and the first of November (15 U.S.C. 260a), each local slot
// comes once, within the minute.
func TestOwedOnceOnDaysOfClockChange(t *testing.T) {
	p := with(func(p *plan.Plan) {
		p.BandsStart = day("2026-01-01")
		p.Meals = []plan.Meal{
			meal(plan.AfterMeal, "01:30", 0), meal(plan.AfterBreakfast, "02:30", 0),
			meal(plan.AfterDinner, "19:00", 0), meal(plan.Bedtime, "22:00", 0),
		}
	})
	cases := []struct {
		day  string
		want []string // slot and the moment in UTC
	}{
		// 2:30 does not exist: the first moment after the gap is 3:00 EDT.
		{"2026-03-08", []string{"PC 06:30", "PCM 07:00", "PCV 23:00", "HS 02:00"}},
		// 1:30 comes twice: the first is EDT.
		{"2026-11-01", []string{"PC 05:30", "PCM 07:30", "PCV 00:00", "HS 03:00"}},
		{"2026-06-10", []string{"PC 05:30", "PCM 06:30", "PCV 23:00", "HS 02:00"}},
	}
	for _, c := range cases {
		d := person(1, p)
		d.Versions[0].First, d.Versions[0].Created = day("2026-01-01"), ny("2026-01-01 09:00")
		begin, end := plan.DayStart(day(c.day), newYork), plan.DayEnd(day(c.day), newYork)
		d.Through = begin.Add(-time.Minute)
		var got []string
		for now := begin; now.Before(end); now = now.Add(time.Minute) {
			o, err := Owed(d, now)
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range o.Nudges {
				if n.Lapse != "" || !n.Nudge.Due.Equal(now) {
					t.Errorf("%s at %v: due %v, lapses %q", n.Nudge.Slot, now, n.Nudge.Due, n.Lapse)
				}
				got = append(got, strings.TrimPrefix(n.Nudge.Slot, c.day+"/")+now.UTC().Format(" 15:04"))
			}
			d.Through = o.Through
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.day, diff)
		}
	}
}

func TestOwedFaults(t *testing.T) {
	now := ny("2026-06-10 12:30")
	for _, name := range []string{"", "Local", "Mars/Olympus", "anna@example.org", "../../etc/passwd"} {
		d := person(1, base())
		d.Through, d.Versions[0].Zone = ny("2026-06-10 12:00"), name
		_, err := Owed(d, now)
		if err == nil || !strings.Contains(err.Error(), "version 1") {
			t.Errorf("zone %q: error %v; want one that names version 1", name, err)
		} else if len(name) > 5 && strings.Contains(err.Error(), name) {
			t.Errorf("zone %q is quoted in %q", name, err)
		}
	}
	d := person(1, base())
	d.Versions = nil
	if _, err := Owed(d, now); err == nil {
		t.Error("a patient without a plan: no error")
	}
}
