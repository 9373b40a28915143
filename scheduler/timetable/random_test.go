package timetable

import (
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// scene is a random plan about an anchor day, in a zone that may change its
// clocks there.
type scene struct {
	p      *plan.Plan
	loc    *time.Location
	anchor plan.Date
}

// anchors are zones with a day of interest: a clock change of the IANA time
// zone database, or none.
var anchors = []struct{ zone, day string }{
	{"UTC", "2026-06-10"}, {"Asia/Kathmandu", "2026-02-28"}, {"UTC", "2028-02-29"},
	{"America/New_York", "2026-03-08"}, {"America/New_York", "2026-11-01"},
	{"Europe/Berlin", "2026-03-29"}, {"Europe/Berlin", "2026-10-25"},
	{"Africa/Cairo", "2026-04-24"}, {"Africa/Cairo", "2026-10-29"},
	{"Asia/Beirut", "2026-03-29"}, {"Asia/Beirut", "2026-10-24"},
	{"America/Santiago", "2026-09-06"}, {"America/Santiago", "2026-04-04"},
	{"America/Havana", "2026-03-08"}, {"America/Havana", "2026-11-01"},
	{"Australia/Lord_Howe", "2026-10-04"}, {"Australia/Lord_Howe", "2026-04-05"},
	{"Pacific/Apia", "2011-12-30"}, {"America/Sao_Paulo", "2018-11-04"},
}

func scenes() *rapid.Generator[scene] { return scenesIn(anchors) }

func scenesIn(anchors []struct{ zone, day string }) *rapid.Generator[scene] {
	return rapid.Custom(func(t *rapid.T) scene {
		a := rapid.SampledFrom(anchors).Draw(t, "anchor")
		loc, err := time.LoadLocation(a.zone)
		if err != nil {
			t.Fatal(err)
		}
		s := scene{loc: loc, anchor: day(a.day)}
		near := func(label string, from, to int) plan.Date {
			return s.anchor.AddDays(rapid.IntRange(from, to).Draw(t, label))
		}
		some := func(label string, percent int) bool { return rapid.IntRange(1, 100).Draw(t, label) <= percent }
		clock := rapid.Custom(func(t *rapid.T) plan.Clock {
			c := rapid.IntRange(0, 95).Draw(t, "quarter") * 15
			return plan.Clock(min(1439, c+rapid.SampledFrom([]int{0, 0, 0, 1, 14}).Draw(t, "odd")))
		})
		p := &plan.Plan{
			Appliance: plan.Braces, PlannedEnd: s.anchor.AddDays(400), HoursPerDay: 22, ChangesPerDay: 4,
			BandsStart: near("start", -10, 4),
			NoticeAt:   clock.Draw(t, "notice"),
			EveningAt:  clock.Draw(t, "evening"),
			UsefulMin:  rapid.SampledFrom([]int{1, 30, 90, 90, 240, 700, 1440}).Draw(t, "useful"),
		}
		if some("closed", 40) {
			p.BandsEnd = near("end", -5, 6)
		}
		if some("has quiet", 75) {
			p.Quiet = plan.Quiet{From: clock.Draw(t, "quiet from"), To: clock.Draw(t, "quiet to")}
		}
		for _, code := range []plan.MealCode{"PCM", "PCD", "PCV", "PC", "HS"} {
			if !some("has "+string(code), 60) {
				continue
			}
			days := plan.AllDays
			if some("by weekday", 30) {
				days = plan.Weekdays(rapid.IntRange(1, 127).Draw(t, "days"))
			}
			for _, set := range []plan.Weekdays{days, plan.AllDays &^ days} {
				m := plan.Meal{Code: code, At: clock.Draw(t, "at"), Days: set}
				if code != plan.Bedtime {
					m.Minutes = rapid.SampledFrom([]int{0, 1, 20, 30, 30, 75, 720}).Draw(t, "minutes")
				}
				if set != 0 {
					p.Meals = append(p.Meals, m)
				}
			}
		}
		for range rapid.IntRange(0, 3).Draw(t, "restarts") {
			p.Restarts = append(p.Restarts, near("restart", -10, 6))
		}
		for range rapid.IntRange(0, 2).Draw(t, "pauses") {
			from := near("pause", -8, 8)
			p.Pauses = append(p.Pauses, plan.Pause{From: from, To: from.AddDays(rapid.IntRange(0, 3).Draw(t, "pause days")),
				Of: rapid.SampledFrom([]plan.PauseOf{plan.PauseMail, plan.PauseBands}).Draw(t, "of")})
		}
		for range rapid.IntRange(0, 2).Draw(t, "cadences") {
			p.Cadence = append(p.Cadence, plan.Cadence{From: near("cadence", -10, 6), Level: rapid.IntRange(1, 3).Draw(t, "level")})
		}
		for range rapid.IntRange(0, 2).Draw(t, "wears") {
			p.Wear = append(p.Wear, plan.Wear{From: near("wear", -8, 6), HoursPerDay: 12, Nights: some("nights", 60)})
		}
		for range rapid.IntRange(0, 3).Draw(t, "bands") {
			b := plan.Prescription{From: near("band", -10, 6)}
			if some("band closed", 60) {
				b.To = b.From.AddDays(rapid.IntRange(0, 8).Draw(t, "band days"))
			}
			p.Bands = append(p.Bands, b)
		}
		s.p = p
		return s
	})
}

// around is a stretch of days about the scene's anchor that holds all of its
// edges.
func (s scene) around() (from, to plan.Date) { return s.anchor.AddDays(-14), s.anchor.AddDays(14) }
