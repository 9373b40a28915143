package chart

import (
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

func date(tb testing.TB, s string) plan.Date {
	tb.Helper()
	d, err := plan.ParseDate(s)
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

func zone(tb testing.TB, name string) *time.Location {
	tb.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		tb.Fatal(err)
	}
	return loc
}

func mm(v float64) *float64 { return &v }

// answered is a record of so many days from a first one on: four answers a
// day, lunch at times without bands, now and then a day without an answer, a
// stated total, a visit every six weeks.
func answered(tb testing.TB, zoneName, first string, days int) *compliance.Record {
	loc, from := zone(tb, zoneName), date(tb, first)
	to := from.AddDays(days - 1)
	r := &compliance.Record{Zone: loc, Window: compliance.Window{From: from, To: to}, Settings: compliance.DefaultSettings()}
	r.AsOf = plan.Instant(to, 17*60, loc)
	p := &r.Plan
	p.Appliance, p.AlignerStart, p.BandsStart = plan.Aligners, from.AddDays(-14), from
	p.DaysPerTray, p.Trays, p.HoursPerDay, p.ChangesPerDay, p.UsefulMin = 10, 30, 22, 4, plan.DefaultUsefulMin
	every := plan.Weekdays(127)
	p.Meals = []plan.Meal{
		{Code: plan.AfterBreakfast, At: 7*60 + 30, Minutes: 30, Days: every}, {Code: plan.AfterLunch, At: 12 * 60, Minutes: 30, Days: every},
		{Code: plan.AfterDinner, At: 18*60 + 30, Minutes: 45, Days: every}, {Code: plan.Bedtime, At: 21*60 + 30, Days: every},
	}
	for i, d := 0, from; !d.After(to); i, d = i+1, d.AddDays(1) {
		if i%42 == 0 {
			at := float64(i) / 42
			r.Visits = append(r.Visits, compliance.Visit{Date: d, Overjet: mm(5 - .5*at), Left: mm(3 - .3*at), Right: mm(2.5 - .3*at)})
		}
		if i%9 == 5 {
			if i%2 == 1 {
				r.Reports = append(r.Reports, plan.Report{At: plan.Instant(d, 22*60, loc), What: plan.ReportWornTotal, Day: d, Hours: 17.5})
			}
			continue
		}
		for n, m := range p.Meals {
			at := plan.Instant(d, m.At, loc).Add(time.Duration(m.Minutes+5) * time.Minute)
			e := plan.Report{At: at, Slot: d.String() + "/" + string(m.Code), What: plan.ReportOn, Fresh: true}
			switch {
			case n == 1 && i%3 == 1:
				e = plan.Report{At: at, What: plan.ReportOff, Since: at.Add(-2 * time.Hour)}
			case n == 3 && i%7 == 3:
				e = plan.Report{At: at, What: plan.ReportOff}
			}
			r.Reports = append(r.Reports, e)
		}
	}
	return r
}

func figures(tb testing.TB, r *compliance.Record) *compliance.Figures {
	tb.Helper()
	f, err := compliance.Compute(r)
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

func rasterOf(tb testing.TB, r *compliance.Record) Picture {
	tb.Helper()
	p, err := Raster(r)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// scene is a record of which golden pictures are kept.
type scene struct {
	name   string
	record func(tb testing.TB) *compliance.Record
	of     []string // raster, hours, fan
}

var all = []string{"raster", "hours", "fan"}

var scenes = []scene{
	{"fortnight", func(tb testing.TB) *compliance.Record { return answered(tb, "America/New_York", "2026-06-01", 14) }, all},
	{"one-day", func(tb testing.TB) *compliance.Record { return answered(tb, "UTC", "2026-06-01", 1) }, all},
	{"silent", func(tb testing.TB) *compliance.Record {
		r := answered(tb, "Europe/Madrid", "2026-06-01", 10)
		r.Reports, r.Visits = nil, nil
		return r
	}, all},
	{"spring", func(tb testing.TB) *compliance.Record { return answered(tb, "America/New_York", "2026-03-05", 7) }, all[:1]},
	{"autumn", func(tb testing.TB) *compliance.Record { return answered(tb, "America/New_York", "2026-10-29", 7) }, all[:2]},
	{"half-hour", func(tb testing.TB) *compliance.Record { return answered(tb, "Australia/Lord_Howe", "2026-04-02", 7) }, all[:1]},
	{"quarter", func(tb testing.TB) *compliance.Record { return answered(tb, "America/New_York", "2026-08-10", 90) }, all},
	{"400-days", func(tb testing.TB) *compliance.Record { return answered(tb, "America/New_York", "2026-06-01", 400) }, all},
	{"eased", func(tb testing.TB) *compliance.Record {
		r := answered(tb, "Europe/Madrid", "2026-06-01", 35)
		r.Plan.Wear = []plan.Wear{{From: date(tb, "2026-06-22"), HoursPerDay: 10, ChangesPerDay: 1, Nights: true}}
		r.Plan.Pauses = []plan.Pause{{From: date(tb, "2026-06-12"), To: date(tb, "2026-06-15"), Of: plan.PauseBands}}
		return r
	}, all[1:2]},
	{"never", func(tb testing.TB) *compliance.Record {
		r := answered(tb, "Europe/Madrid", "2026-06-01", 60)
		r.Visits = []compliance.Visit{{Date: r.Window.From, Overjet: mm(4), Left: mm(9)}, {Date: date(tb, "2026-07-20"), Overjet: mm(5.5), Left: mm(8.4)}}
		return r
	}, all[2:]},
	{"braces", func(tb testing.TB) *compliance.Record {
		r := answered(tb, "Europe/Madrid", "2026-06-01", 100)
		p := &r.Plan
		p.Appliance, p.AlignerStart, p.DaysPerTray, p.Trays, p.PlannedEnd = plan.Braces, plan.Date{}, 0, 0, date(tb, "2026-09-01")
		return r
	}, all[2:]},
}

func (s scene) pictures(tb testing.TB) map[string]Picture {
	r := s.record(tb)
	out := map[string]Picture{}
	for _, kind := range s.of {
		switch kind {
		case "raster":
			out[kind] = rasterOf(tb, r)
		case "hours":
			out[kind] = Hours(r, figures(tb, r))
		case "fan":
			out[kind] = Fan(r, figures(tb, r))
		}
	}
	return out
}
