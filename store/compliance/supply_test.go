package compliance

import (
	"testing"

	"bandbell/scheduler/plan"
)

func band(t testing.TB, from, to string) plan.Prescription {
	b := plan.Prescription{From: date(t, from), Side: plan.Right, Pattern: plan.ClassII,
		Upper: []plan.Hook{{Tooth: 13}}, Lower: []plan.Hook{{Tooth: 46}}, Lumen: 6.35, Force: 4.5}
	if to != "" {
		b.To = date(t, to)
	}
	return b
}

func TestSupply(t *testing.T) {
	bag := func(day string, n int) plan.Bag { return plan.Bag{Date: date(t, day), Count: n} }
	tests := []struct {
		name   string
		make   func(p *plan.Plan)
		perDay int
		empty  string // empty: none
	}{
		{"no bag", func(p *plan.Plan) { p.Bags = nil }, 4, ""},
		{"no prescription", func(p *plan.Plan) { p.Bands = nil }, 0, ""},
		{"100 at 4 a day last 25 days", func(p *plan.Plan) {}, 4, "2026-06-26"},
		{"101 still lack three on the 26th day", func(p *plan.Plan) { p.Bags[0].Count = 101 }, 4, "2026-06-26"},
		{"104 last it out", func(p *plan.Plan) { p.Bags[0].Count = 104 }, 4, "2026-06-27"},
		{"two bands at once", func(p *plan.Plan) { p.Bands = append(p.Bands, band(t, "2026-06-01", "")) }, 8, "2026-06-13"},
		{"a bag handed out before the start", func(p *plan.Plan) { p.Bags[0] = bag("2026-05-18", 100) }, 4, "2026-06-26"},
		{"a bag a day too late", func(p *plan.Plan) { p.Bags = append(p.Bags, bag("2026-06-27", 100)) }, 4, "2026-06-26"},
		{"a bag just in time", func(p *plan.Plan) { p.Bags = append(p.Bags, bag("2026-06-26", 100)) }, 4, "2026-07-21"},
		{"first bag after the first day", func(p *plan.Plan) { p.Bags[0] = bag("2026-06-02", 100) }, 4, "2026-06-01"},
		{"need from the prescription's first day", func(p *plan.Plan) { p.Bands[0] = band(t, "2026-06-05", "") }, 4, "2026-06-30"},
		{"need from the first day of bands", func(p *plan.Plan) { p.Bands[0] = band(t, "2026-05-01", "") }, 4, "2026-06-26"},
		{"paused by the doctor for five days", func(p *plan.Plan) {
			p.Pauses = []plan.Pause{{From: date(t, "2026-06-10"), To: date(t, "2026-06-14"), Of: plan.PauseBands}}
		}, 4, "2026-07-01"},
		{"a pause of the mail", func(p *plan.Plan) {
			p.Pauses = []plan.Pause{{From: date(t, "2026-06-10"), To: date(t, "2026-06-14"), Of: plan.PauseMail}}
		}, 4, "2026-06-26"},
		{"nights only from the 11th", func(p *plan.Plan) {
			p.Wear = []plan.Wear{{From: date(t, "2026-06-11"), HoursPerDay: 10, ChangesPerDay: 1, Nights: true}}
		}, 1, "2026-08-10"}, // 40 in ten days, then 60 more days
		{"bands end with the last one", func(p *plan.Plan) { p.BandsEnd = date(t, "2026-06-25") }, 4, ""},
		{"bands end a day later", func(p *plan.Plan) { p.BandsEnd = date(t, "2026-06-26") }, 4, "2026-06-26"},
		{"the prescription ends in time", func(p *plan.Plan) { p.Bands[0] = band(t, "2026-06-01", "2026-06-25") }, 4, ""},
		{"already out", func(p *plan.Plan) { p.Bags[0].Count = 40 }, 4, "2026-06-11"},
	}
	for _, tt := range tests {
		r := fortnight(t)
		r.Plan.Bands = []plan.Prescription{band(t, "2026-06-01", "")}
		r.Plan.Bags = []plan.Bag{bag("2026-06-01", 100)}
		tt.make(&r.Plan)
		got := compute(t, r).Supply
		want := Supply{PerDay: tt.perDay}
		if tt.empty != "" {
			want.EmptyOn = date(t, tt.empty)
		}
		if got != want {
			t.Errorf("%s: got %v, want %v", tt.name, got, want)
		}
	}
}

// The worked example of days covered in the Pharmacy Quality Alliance's
// measure: fills of 90 days on 2018-01-01, 03-25, 07-05 and 10-15, an overlap
// shifted forward and the year's end cutting the last, cover 348 of 365 days.
// A fill is a bag of 90 at one band a day; the days not covered are those from
// running out to the next fill.
func TestSupplyAgainstDaysCovered(t *testing.T) {
	fills := []string{"2018-01-01", "2018-03-25", "2018-07-05", "2018-10-15"}
	year := date(t, "2018-12-31")
	covered := year.DaysSince(date(t, fills[0])) + 1
	for i := 0; i < len(fills); {
		r := fortnight(t)
		r.Plan.AlignerStart, r.Plan.BandsStart = date(t, fills[i]), date(t, fills[i])
		r.Plan.ChangesPerDay = 1
		r.Plan.Bands = []plan.Prescription{band(t, fills[i], "")}
		for _, f := range fills[i:] {
			r.Plan.Bags = append(r.Plan.Bags, plan.Bag{Date: date(t, f), Count: 90})
		}
		empty := compute(t, r).Supply.EmptyOn
		for i++; i < len(fills) && date(t, fills[i]).Before(empty); i++ {
		}
		next := year.AddDays(1)
		if i < len(fills) {
			next = date(t, fills[i])
		}
		covered -= max(0, next.DaysSince(empty))
	}
	if covered != 348 {
		t.Errorf("covered %d of 365 days, the example says 348", covered)
	}
}

// Samoa had no 30 December 2011 (IANA time zone database): no bands are used
// on it, so eight of them last one day of 4 before it and one after.
func TestSupplyOverADateThatIsNot(t *testing.T) {
	r := fortnight(t)
	r.Zone = zone(t, "Pacific/Apia")
	r.Plan.AlignerStart, r.Plan.BandsStart = date(t, "2011-12-01"), date(t, "2011-12-29")
	r.Plan.Bands = []plan.Prescription{band(t, "2011-12-01", "")}
	r.Plan.Bags = []plan.Bag{{Date: date(t, "2011-12-01"), Count: 8}}
	if got, want := compute(t, r).Supply.EmptyOn, date(t, "2012-01-01"); got != want {
		t.Errorf("empty on %v, want %v", got, want)
	}
}

// A slip of the keyboard in a year must cost no time.
func TestSupplyOfAMistypedYear(t *testing.T) {
	r := fortnight(t)
	r.Plan.Bands = []plan.Prescription{band(t, "2026-06-01", ""), band(t, "9026-06-01", "9999-12-31")}
	r.Plan.Bags = []plan.Bag{{Date: date(t, "2026-06-01"), Count: 100}, {Date: date(t, "0001-01-01"), Count: 4}}
	if got, want := compute(t, r).Supply.EmptyOn, date(t, "2026-06-27"); got != want {
		t.Errorf("empty on %v, want %v", got, want)
	}
}
