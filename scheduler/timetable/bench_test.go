package timetable

import (
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

func benchPlan() *plan.Plan {
	p := base()
	hours("21:45", "07:00")(p)
	p.Bands = []plan.Prescription{{From: day(start)}, {From: day(start), To: day("2026-09-30")}}
	p.Cadence = []plan.Cadence{{From: day(start), Level: 3}, {From: day("2026-08-01"), Level: 2}}
	p.Restarts = []plan.Date{day("2026-06-20")}
	return p
}

// One day of one patient.
func BenchmarkNudgesDay(b *testing.B) {
	p, loc, d := benchPlan(), zone(b, "America/New_York"), day("2026-07-01")
	b.ReportAllocs()
	for b.Loop() {
		Nudges(p, loc, d, d)
	}
}

// A year of one patient, as a long preview asks.
func BenchmarkNudgesYear(b *testing.B) {
	p, loc := benchPlan(), zone(b, "America/New_York")
	b.ReportAllocs()
	for b.Loop() {
		Nudges(p, loc, day(start), day("2027-05-31"))
	}
}

// What the minute tick asks for each patient it has just served.
func BenchmarkNext(b *testing.B) {
	p, loc := benchPlan(), zone(b, "America/New_York")
	for _, bb := range []struct{ name, after string }{
		{"same-day", "2026-07-01T12:00:00Z"}, {"next-day", "2026-07-02T00:00:00Z"}, {"year-ahead", "2025-06-01T12:00:00Z"},
	} {
		after, err := time.Parse(time.RFC3339, bb.after)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(bb.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, ok := Next(p, loc, after, 400); !ok {
					b.Fatal("none")
				}
			}
		})
	}
	b.Run("paused-for-a-year", func(b *testing.B) {
		p := benchPlan()
		p.Pauses = []plan.Pause{{From: day("2026-06-30"), To: day("2027-06-30"), Of: plan.PauseBands}}
		after := plan.DayStart(day("2026-07-01"), loc)
		b.ReportAllocs()
		for b.Loop() {
			if _, ok := Next(p, loc, after, 400); !ok {
				b.Fatal("none")
			}
		}
	})
}
