package compliance

import (
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// year is a record of 365 days with four nudges and four replies a day, a
// gap now and then, and a visit every six weeks.
func year(tb testing.TB) *Record {
	r := fortnight(tb)
	r.Window = Window{date(tb, "2026-06-01"), date(tb, "2027-05-31")}
	r.AsOf = r.instant(tb, "2027-06-01 12:00")
	meals := []plan.Meal{meal(plan.AfterBreakfast, 450, 30), meal(plan.AfterLunch, 720, 30), meal(plan.AfterDinner, 1140, 30), meal(plan.Bedtime, 1290, 0)}
	r.Plan.Meals = meals
	r.Plan.Bands = []plan.Prescription{band(tb, "2026-06-01", "")}
	r.Plan.Bags = []plan.Bag{{Date: date(tb, "2026-06-01"), Count: 1500}}
	for i, d := 0, r.Window.From; !d.After(r.Window.To); i, d = i+1, d.AddDays(1) {
		for _, m := range meals {
			slot := d.String() + "/" + string(m.Code)
			due := plan.Instant(d, m.At, r.Zone).Add(time.Duration(m.Minutes) * time.Minute)
			r.Nudges = append(r.Nudges, Nudge{plan.BandChange, slot, due, due.Add(90 * time.Minute), OutcomeAccepted})
			e := plan.Report{At: due.Add(5 * time.Minute), Slot: slot, What: plan.ReportOn, Fresh: true}
			if m.Code == plan.AfterLunch && i%5 == 0 {
				e = plan.Report{At: e.At, Slot: slot, What: plan.ReportOff, Since: e.At.Add(-2 * time.Hour)}
			}
			r.Reports = append(r.Reports, e)
		}
		if i%42 == 0 {
			r.Visits = append(r.Visits, Visit{Date: d, Overjet: mm(6 - float64(i)/100), Left: mm(4 - float64(i)/120), Right: mm(4)})
		}
	}
	return r
}

func BenchmarkComputeYear(b *testing.B) {
	r := year(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Compute(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFoldOneReply(b *testing.B) {
	r := year(b)
	last := r.Reports[len(r.Reports)-1]
	b.ReportAllocs()
	for b.Loop() {
		from, to := Touched(r, last)
		if len(Fold(r, from, to)) == 0 {
			b.Fatal("nothing folded")
		}
	}
}

func BenchmarkFoldYear(b *testing.B) {
	r := year(b)
	b.ReportAllocs()
	for b.Loop() {
		if len(Fold(r, r.Window.From, r.Window.To)) != 365 {
			b.Fatal("not a year")
		}
	}
}
