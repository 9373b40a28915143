package scheduler

import (
	"fmt"
	"log/slog"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// full is the base plan with what a clinic adds to it.
func full() plan.Plan {
	return with(func(p *plan.Plan) {
		p.Quiet = plan.Quiet{From: at("23:00"), To: at("06:30")}
		p.Bands = []plan.Prescription{{From: day("2026-06-01")}, {From: day("2026-06-01"), To: day("2026-09-30")}}
		p.Cadence = []plan.Cadence{{From: day("2026-06-01"), Level: 3}, {From: day("2026-08-01"), Level: 2}}
		p.Restarts = []plan.Date{day("2026-06-20")}
	})
}

// One look at one patient who is due.
func BenchmarkOwed(b *testing.B) {
	one := person(1, full())
	one.Through = ny("2026-06-10 08:00")
	eased := person(1, full()) // twelve versions, as easing off leaves them
	eased.Through = one.Through
	for i := range 11 {
		newer(&eased, day("2026-05-21").AddDays(i).String(), "2026-05-20 10:00", newYorkName, full())
	}
	down := one
	down.Through = ny("2026-06-07 08:00")
	for _, c := range []struct {
		name string
		d    plan.DuePatient
		want int
	}{{"one-version", one, 1}, {"twelve-versions", eased, 1}, {"three-days-down", down, 4*3 + 1 + 1}} {
		b.Run(c.name, func(b *testing.B) {
			zones := zoneCache{}
			b.ReportAllocs()
			for b.Loop() {
				if o, err := owed(c.d, lunchtime, zones.load); err != nil || len(o.Nudges) != c.want {
					b.Fatalf("%d nudges, %v; want %d", len(o.Nudges), err, c.want)
				}
			}
		})
	}
}

// A tick that finds 100 patients due costs the same among a hundred as among
// 100,000 enrolled. The rest have their next look a minute later or after.
func BenchmarkTick(b *testing.B) {
	for _, enrolled := range []int{100, 100000} {
		b.Run(fmt.Sprintf("%d-enrolled-100-due", enrolled), func(b *testing.B) {
			f := newFile()
			for id := range int64(enrolled) {
				d := person(id, full())
				d.Through = ny("2026-06-10 08:00")
				next := ny("2026-06-10 12:30")
				if id >= 100 {
					next = lunchtime.Add(time.Duration(id) * time.Second)
				}
				f.add(d, next)
			}
			s := New(Config{Store: f, Now: func() time.Time { return lunchtime }, Log: slog.New(slog.DiscardHandler)})
			b.ReportAllocs()
			for b.Loop() {
				if n, err := s.Tick(b.Context()); err != nil || n != 100 {
					b.Fatalf("found %d, %v", n, err)
				}
				b.StopTimer()
				clear(f.nudges)
				for id := range int64(100) {
					f.patients[id].Through = ny("2026-06-10 08:00")
					f.wake(id, ny("2026-06-10 12:30"))
				}
				f.listed, f.enqueued, f.lapsed, f.batches = nil, nil, nil, nil
				b.StartTimer()
			}
		})
	}
	b.Run("idle", func(b *testing.B) {
		f := newFile(crowd(0)...)
		s := New(Config{Store: f, Now: func() time.Time { return lunchtime }, Log: slog.New(slog.DiscardHandler)})
		b.ReportAllocs()
		for b.Loop() {
			if n, err := s.Tick(b.Context()); err != nil || n != 0 {
				b.Fatalf("found %d, %v", n, err)
			}
			f.listed, f.lapsed = f.listed[:0], f.lapsed[:0]
		}
	})
}
