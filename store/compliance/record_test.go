package compliance

import (
	"testing"
	"time"
	_ "time/tzdata"

	"bandbell/scheduler/plan"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func date(t testing.TB, s string) plan.Date {
	t.Helper()
	d, err := plan.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// instant reads "2026-06-01 08:00" on the record's wall clock.
func (r *Record) instant(t testing.TB, s string) time.Time {
	t.Helper()
	d := date(t, s[:10])
	c, err := plan.ParseClock(s[11:])
	if err != nil {
		t.Fatal(err)
	}
	return plan.Instant(d, c, r.Zone)
}

// fortnight is a record of the first two weeks of June 2026 in New York, seen
// on the 15th at noon, with bands worn from the 1st, no meals and no reports.
func fortnight(t testing.TB) *Record {
	r := &Record{
		Zone:   zone(t, "America/New_York"),
		Window: Window{date(t, "2026-06-01"), date(t, "2026-06-14")},
		Plan: plan.Plan{
			Appliance: plan.Aligners, AlignerStart: date(t, "2026-05-18"), DaysPerTray: 10, Trays: 24,
			HoursPerDay: 22, ChangesPerDay: 4, NoticeAt: plan.DefaultNoticeAt, EveningAt: plan.DefaultEveningAt, UsefulMin: 90,
		},
		Settings: DefaultSettings(),
	}
	r.AsOf = r.instant(t, "2026-06-15 12:00")
	return r
}

func (r *Record) on(t testing.TB, times ...string) *Record {
	for _, s := range times {
		r.Reports = append(r.Reports, plan.Report{At: r.instant(t, s), What: plan.ReportOn})
	}
	return r
}

func (r *Record) off(t testing.TB, at string, since ...string) *Record {
	e := plan.Report{At: r.instant(t, at), What: plan.ReportOff}
	for _, s := range since {
		e.Since = r.instant(t, s)
	}
	r.Reports = append(r.Reports, e)
	return r
}

func (r *Record) span(t testing.TB, at, from, to string) *Record {
	r.Reports = append(r.Reports, plan.Report{At: r.instant(t, at), What: plan.ReportOffSpan,
		From: r.instant(t, from), To: r.instant(t, to)})
	return r
}

func (r *Record) total(t testing.TB, at, day string, hours float64) *Record {
	r.Reports = append(r.Reports, plan.Report{At: r.instant(t, at), What: plan.ReportWornTotal, Day: date(t, day), Hours: hours})
	return r
}

func (r *Record) sore(t testing.TB, at string, value int) *Record {
	r.Reports = append(r.Reports, plan.Report{At: r.instant(t, at), What: plan.ReportSoreness, Value: value})
	return r
}

// totals states hours for consecutive days from the window's first, each
// received at noon of the day after.
func (r *Record) totals(hours ...float64) *Record {
	for i, h := range hours {
		d := r.Window.From.AddDays(i)
		at := plan.Instant(d.AddDays(1), 12*60, r.Zone)
		r.Reports = append(r.Reports, plan.Report{At: at, What: plan.ReportWornTotal, Day: d, Hours: h})
	}
	return r
}

// seenOn moves the As-of and the window's end: the window ends on day, and the
// record is seen on the morrow at noon.
func (r *Record) seenOn(t testing.TB, day string) *Record {
	r.Window.To = date(t, day)
	r.AsOf = plan.Instant(r.Window.To.AddDays(1), 12*60, r.Zone)
	return r
}

func compute(t testing.TB, r *Record) *Figures {
	t.Helper()
	f, err := Compute(r)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
