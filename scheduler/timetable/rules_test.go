package timetable

import (
	"fmt"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func day(s string) plan.Date {
	d, err := plan.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func at(s string) plan.Clock {
	c, err := plan.ParseClock(s)
	if err != nil {
		panic(err)
	}
	return c
}

func meal(code plan.MealCode, clock string, minutes int) plan.Meal {
	return plan.Meal{Code: code, At: at(clock), Minutes: minutes, Days: plan.AllDays}
}

// start is the first day of wear of the base plan, a Monday.
const start = "2026-06-01"

// base is an invented plan: week three begins on 1 June 2026, three meals and
// bedtime, no quiet hours.
func base() *plan.Plan {
	return &plan.Plan{
		Appliance: plan.Aligners, AlignerStart: day("2026-05-18"), DaysPerTray: 10, Trays: 24,
		HoursPerDay: 22, ChangesPerDay: 4, NoticeAt: at("08:00"), EveningAt: at("17:30"), UsefulMin: 90,
		Meals: []plan.Meal{
			meal(plan.AfterBreakfast, "07:30", 30), meal(plan.AfterLunch, "12:00", 30),
			meal(plan.AfterDinner, "19:00", 30), meal(plan.Bedtime, "22:00", 0),
		},
	}
}

// show writes what a plan holds on from..to, one nudge a line: slot, due, until
// and marks, or slot and reason. Clocks are local; a due or until on another
// day than its own carries the date, and a kind of band-change goes unsaid.
func show(p *plan.Plan, loc *time.Location, from, to string) []string {
	nudges, dropped := Nudges(p, loc, day(from), day(to))
	clock := func(t time.Time, d plan.Date) string {
		if t.Format(time.DateOnly) == d.String() {
			return t.Format("15:04")
		}
		return t.Format("01-02T15:04")
	}
	var out []string
	for _, n := range nudges {
		s := fmt.Sprintf("%s %s-%s", n.Slot, clock(n.Due, n.Day), clock(n.Until, n.Day))
		if n.Moved != "" {
			s += " moved: " + n.Moved
		}
		if n.Whole {
			s += " whole"
		}
		out = append(out, s)
	}
	for _, x := range dropped {
		out = append(out, x.Slot+" "+x.Reason)
	}
	return out
}

type rule struct {
	name     string
	change   func(*plan.Plan)
	from, to string
	only     string // a regular part of the lines looked at; empty: all
	want     []string
}

func check(t *testing.T, loc *time.Location, rules []rule) {
	t.Helper()
	for _, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			p := base()
			if r.change != nil {
				r.change(p)
			}
			if r.to == "" {
				r.to = r.from
			}
			var got []string
			for _, line := range show(p, loc, r.from, r.to) {
				if strings.Contains(line, r.only) {
					got = append(got, line)
				}
			}
			if diff := cmp.Diff(r.want, got); diff != "" {
				t.Errorf("-want +got\n%s", diff)
			}
		})
	}
}

func noMeals(p *plan.Plan) { p.Meals = nil }

func only(meals ...plan.Meal) func(*plan.Plan) {
	return func(p *plan.Plan) { p.Meals = meals }
}

func TestBandChange(t *testing.T) {
	check(t, time.UTC, []rule{
		{name: "before the first day", from: "2026-05-30", want: nil},
		{name: "an ordinary day", from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30", "2026-06-20/PCD 12:30-14:00", "2026-06-20/PCV 19:30-21:00", "2026-06-20/HS 22:00-23:30"}},
		{name: "next meal a minute after useful", change: only(meal("PCM", "07:30", 30), meal("PC", "09:31", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:00-09:30", "2026-06-20/PC 09:41-11:11"}},
		{name: "next meal a minute before useful ends", change: only(meal("PCM", "07:30", 30), meal("PC", "09:29", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:00-09:29", "2026-06-20/PC 09:39-11:09"}},
		{name: "next meal a minute after due", change: only(meal("PCM", "07:30", 30), meal("PC", "08:01", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:00-08:01", "2026-06-20/PC 08:11-09:41"}},
		{name: "next meal at due", change: only(meal("PCM", "07:30", 30), meal("PC", "08:00", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PC 08:10-09:40", "2026-06-20/PCM no time left"}},
		{name: "next meal before due", change: only(meal("PCM", "07:30", 30), meal("PC", "07:45", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PC 07:55-09:25", "2026-06-20/PCM no time left"}},
		{name: "two meals at one time", change: only(meal("PCV", "19:00", 30), meal("PC", "19:00", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PCV 19:30-21:00", "2026-06-20/PC no time left"}},
		{name: "bedtime counts as a next meal", change: only(meal("PCV", "21:00", 30), meal("HS", "22:00", 0)), from: "2026-06-20",
			want: []string{"2026-06-20/PCV 21:30-22:00", "2026-06-20/HS 22:00-23:30"}},
		{name: "meals in the order of the day", change: only(meal("HS", "22:00", 0), meal("PCM", "07:30", 30)), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:00-09:30", "2026-06-20/HS 22:00-23:30"}},
		{name: "over midnight belongs to its day", change: only(meal("PC", "23:50", 20)), from: "2026-06-20",
			want: []string{"2026-06-20/PC 06-21T00:10-06-21T01:40"}},
		{name: "a next day's meal does not cut", change: only(meal("PC", "23:50", 20), meal("PCM", "00:30", 30)), from: "2026-06-20", want: []string{
			"2026-06-20/PCM 01:00-02:30", "2026-06-20/PC 06-21T00:10-06-21T01:40"}},
		{name: "only its weekdays", change: func(p *plan.Plan) {
			p.Meals = []plan.Meal{
				{Code: "PCM", At: at("07:30"), Minutes: 30, Days: 1 << time.Saturday},
				{Code: "PCM", At: at("06:30"), Minutes: 30, Days: plan.AllDays &^ (1 << time.Saturday)},
			}
		}, from: "2026-06-19", to: "2026-06-21", want: []string{ // Friday to Sunday
			"2026-06-19/PCM 07:00-08:30", "2026-06-20/PCM 08:00-09:30", "2026-06-21/PCM 07:00-08:30"}},
		{name: "a weekday's own next meal", change: func(p *plan.Plan) {
			p.Meals = []plan.Meal{meal("PCM", "07:30", 30), {Code: "PC", At: at("09:00"), Minutes: 5, Days: 1 << time.Saturday}}
		}, from: "2026-06-20", to: "2026-06-21", want: []string{
			"2026-06-20/PCM 08:00-09:00", "2026-06-20/PC 09:05-10:35", "2026-06-21/PCM 08:00-09:30"}},
		{name: "a code once a day", change: only(meal("PC", "10:00", 10), meal("PC", "15:00", 10)), from: "2026-06-20",
			want: []string{"2026-06-20/PC 10:10-11:40"}},
		{name: "the last day and the day after", change: func(p *plan.Plan) {
			p.BandsEnd = day("2026-06-20")
			p.Meals = []plan.Meal{meal("PCM", "07:30", 30)}
		}, from: "2026-06-20", to: "2026-06-21", want: []string{"2026-06-20/PCM 08:00-09:30"}},
		{name: "a last day before the first", change: func(p *plan.Plan) { p.BandsEnd = day("2026-05-30") }, from: "2026-05-29", to: "2026-06-02", want: []string{
			"d-3 08:00-05-30T00:00", "d-1 ended", "s1 ended", "d0 ended", "s2 ended"}},
		{name: "no first day at all", change: func(p *plan.Plan) { p.AlignerStart = plan.Date{}; p.Restarts = []plan.Date{day("2026-06-20")} },
			from: "2026-06-20", want: nil},
	})
}

// Aligner day 1 is the first aligner's own; week three is then days 15 to 21.
func TestWeekThree(t *testing.T) {
	p := base()
	for _, tt := range []struct {
		day  int // of the aligners, counted from 1
		want string
	}{{11, ""}, {12, "d-3"}, {13, ""}, {14, "d-1"}, {15, "d0"}, {16, ""}} {
		d := p.AlignerStart.AddDays(tt.day - 1)
		nudges, _ := Nudges(p, time.UTC, d, d)
		got := ""
		for _, n := range nudges {
			if n.Kind == plan.WearStart {
				got = n.Slot
			}
		}
		if got != tt.want {
			t.Errorf("aligner day %d: notice %q, want %q", tt.day, got, tt.want)
		}
	}
	p.BandsStart = day("2026-06-03") // given: week three no longer asked
	if got := show(p, time.UTC, start, start); got != nil {
		t.Errorf("wear begins on its own day, yet on %s: %v", start, got)
	}
}

func TestFirstDay(t *testing.T) {
	check(t, time.UTC, []rule{
		{name: "due with the notice", from: start, only: "/PCM", want: []string{"2026-06-01/PCM before wear-start"}},
		{name: "due a minute after the notice", change: func(p *plan.Plan) { p.NoticeAt = at("07:59") }, from: start, only: "/PCM",
			want: []string{"2026-06-01/PCM 08:00-09:30"}},
		{name: "due a minute before the notice", change: func(p *plan.Plan) { p.NoticeAt = at("08:01") }, from: start, only: "/PCM",
			want: []string{"2026-06-01/PCM before wear-start"}},
		{name: "the day after asks nothing", change: func(p *plan.Plan) { p.NoticeAt = at("08:01") }, from: "2026-06-02", only: "/PCM",
			want: []string{"2026-06-02/PCM 08:00-09:30"}},
		{name: "planned after the notice, moved to one instant with it", change: func(p *plan.Plan) {
			p.Quiet = plan.Quiet{From: at("06:00"), To: at("08:30")}
			p.NoticeAt = at("07:59")
		}, from: start, only: "08:30", want: []string{
			"2026-06-01/PCM 08:30-09:30 moved: quiet hours", "d0 08:30-06-02T00:00 moved: quiet hours"}},
		{name: "planned before the notice, moved after it", change: func(p *plan.Plan) {
			p.Quiet = plan.Quiet{From: at("06:00"), To: at("08:30")}
			p.NoticeAt = at("08:30")
		}, from: start, only: "PCM", want: []string{"2026-06-01/PCM before wear-start"}},
		{name: "a dropped notice still sets the time", change: func(p *plan.Plan) {
			p.Quiet = plan.Quiet{From: at("08:00"), To: at("00:00")} // the notice has no time after quiet hours
		}, from: start, only: "PCM", want: []string{"2026-06-01/PCM before wear-start"}},
		{name: "comes after easing", change: func(p *plan.Plan) {
			p.Cadence = []plan.Cadence{{From: day(start), Level: 2}}
		}, from: start, only: "2026", want: []string{
			"2026-06-01/HS 22:00-23:30", "2026-06-01/PCD eased", "2026-06-01/PCM before wear-start", "2026-06-01/PCV eased"}},
		{name: "may take the only one that easing left", change: func(p *plan.Plan) {
			p.Cadence = []plan.Cadence{{From: day(start), Level: 1}}
			p.NoticeAt = at("22:00")
		}, from: start, only: "2026", want: []string{
			"2026-06-01/HS before wear-start", "2026-06-01/PCD before wear-start", "2026-06-01/PCM before wear-start", "2026-06-01/PCV before wear-start"}},
	})
}

func TestCadence(t *testing.T) {
	level := func(n int) func(*plan.Plan) {
		return func(p *plan.Plan) { p.Cadence = []plan.Cadence{{From: day("2026-06-20"), Level: n}} }
	}
	check(t, time.UTC, []rule{
		{name: "3", change: level(3), from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30", "2026-06-20/PCD 12:30-14:00", "2026-06-20/PCV 19:30-21:00", "2026-06-20/HS 22:00-23:30"}},
		{name: "2", change: level(2), from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30", "2026-06-20/HS 22:00-23:30", "2026-06-20/PCD eased", "2026-06-20/PCV eased"}},
		{name: "1", change: level(1), from: "2026-06-20", want: []string{
			"2026-06-20/HS 22:00-23:30 whole", "2026-06-20/PCD eased", "2026-06-20/PCM eased", "2026-06-20/PCV eased"}},
		{name: "the day before", change: level(1), from: "2026-06-19", only: "PCM", want: []string{"2026-06-19/PCM 08:00-09:30"}},
		{name: "2 of two meals", change: func(p *plan.Plan) { level(2)(p); p.Meals = p.Meals[:2] }, from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30", "2026-06-20/PCD 12:30-14:00"}},
		{name: "2 of one meal", change: func(p *plan.Plan) { level(2)(p); p.Meals = p.Meals[:1] }, from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30"}},
		{name: "1 of one meal", change: func(p *plan.Plan) { level(1)(p); p.Meals = p.Meals[:1] }, from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:00-09:30 whole"}},
		{name: "an eased meal still cuts", change: func(p *plan.Plan) {
			level(2)(p)
			p.Meals = []plan.Meal{meal("PCM", "07:30", 30), meal("PC", "09:00", 10), meal("HS", "22:00", 0)}
		}, from: "2026-06-20", want: []string{"2026-06-20/PCM 08:00-09:00", "2026-06-20/HS 22:00-23:30", "2026-06-20/PC eased"}},
		{name: "the last, though quiet hours swallow it", change: func(p *plan.Plan) {
			level(1)(p)
			p.Quiet = plan.Quiet{From: at("21:45"), To: at("07:00")}
		}, from: "2026-06-20", want: []string{
			"2026-06-20/HS quiet hours", "2026-06-20/PCD eased", "2026-06-20/PCM eased", "2026-06-20/PCV eased"}},
	})
}

func TestNights(t *testing.T) {
	nights := func(p *plan.Plan) {
		p.Wear = []plan.Wear{{From: day("2026-06-20"), HoursPerDay: 10, ChangesPerDay: 1, Nights: true}}
	}
	check(t, time.UTC, []rule{
		{name: "the day before", change: nights, from: "2026-06-19", only: "PCM", want: []string{"2026-06-19/PCM 08:00-09:30"}},
		{name: "the first night", change: nights, from: "2026-06-20", want: []string{
			"2026-06-20/HS 22:00-23:30", "2026-06-20/PCD nights only", "2026-06-20/PCM nights only", "2026-06-20/PCV nights only"}},
		{name: "level 1 counts bedtime alone", change: func(p *plan.Plan) {
			nights(p)
			p.Cadence = []plan.Cadence{{From: day(start), Level: 1}}
			p.Meals = append(p.Meals, meal("PC", "22:30", 10)) // later than bedtime, yet not the last
		}, from: "2026-06-20", want: []string{
			"2026-06-20/HS 22:00-22:30 whole", "2026-06-20/PC nights only", "2026-06-20/PCD nights only", "2026-06-20/PCM nights only", "2026-06-20/PCV nights only"}},
		{name: "a plan without bedtime", change: func(p *plan.Plan) { nights(p); p.Meals = p.Meals[:1] }, from: "2026-06-20",
			want: []string{"2026-06-20/PCM nights only"}},
		{name: "on the first day", change: func(p *plan.Plan) { nights(p); p.Wear[0].From = day(start) }, from: start, only: "2026", want: []string{
			"2026-06-01/HS 22:00-23:30", "2026-06-01/PCD nights only", "2026-06-01/PCM before wear-start", "2026-06-01/PCV nights only"}},
	})
}

func TestNotices(t *testing.T) {
	bands := func(pairs ...string) func(*plan.Plan) {
		return func(p *plan.Plan) {
			p.Meals = nil
			for i := 0; i < len(pairs); i += 2 {
				b := plan.Prescription{From: day(pairs[i])}
				if pairs[i+1] != "" {
					b.To = day(pairs[i+1])
				}
				p.Bands = append(p.Bands, b)
			}
		}
	}
	check(t, time.UTC, []rule{
		{name: "days around the start", change: noMeals, from: "2026-05-25", to: start, want: []string{
			"d-3 08:00-05-30T00:00", "d-1 08:00-06-01T00:00", "d0 08:00-06-02T00:00", "s1 17:30-20:30"}},
		{name: "a band from the first day has no notice of its own", change: bands(start, ""), from: start, only: "b/", want: nil},
		{name: "a band from before has none", change: bands("2026-05-31", ""), from: "2026-05-30", to: "2026-06-05", only: "b/", want: nil},
		{name: "a band from the second day", change: bands("2026-06-02", ""), from: start, to: "2026-06-05", only: "b/",
			want: []string{"b/2026-06-02 08:00-06-03T00:00"}},
		{name: "the day after a last day", change: bands(start, "2026-06-19"), from: "2026-06-18", to: "2026-06-21", only: "b/",
			want: []string{"b/2026-06-20 08:00-06-21T00:00"}},
		{name: "a band that ended on the eve of wear", change: bands("2026-05-20", "2026-05-31"), from: "2026-05-30", to: "2026-06-03", only: "b/", want: nil},
		{name: "one ends, two begin: one notice", change: bands(start, "2026-06-19", "2026-06-20", "", "2026-06-20", "2026-06-25"), from: "2026-06-18", to: "2026-06-28",
			only: "b/", want: []string{"b/2026-06-20 08:00-06-21T00:00", "b/2026-06-26 08:00-06-27T00:00"}},
		{name: "on the last day and after it", change: func(p *plan.Plan) {
			bands(start, "2026-06-20", "2026-06-20", "2026-06-20")(p)
			p.BandsEnd = day("2026-06-20")
		}, from: "2026-06-18", to: "2026-06-28", only: "b/", want: []string{"b/2026-06-20 08:00-06-21T00:00", "b/2026-06-21 ended"}},
		{name: "quiet hours cut it", change: func(p *plan.Plan) {
			p.Meals = nil
			p.Quiet = plan.Quiet{From: at("21:45"), To: at("07:00")}
		}, from: "2026-05-29", want: []string{"d-3 08:00-21:45"}},
	})
}

func TestSoreness(t *testing.T) {
	restarts := func(dates ...string) func(*plan.Plan) {
		return func(p *plan.Plan) {
			p.Meals = nil
			for _, d := range dates {
				p.Restarts = append(p.Restarts, day(d))
			}
		}
	}
	check(t, time.UTC, []rule{
		{name: "seven days from the start", change: noMeals, from: "2026-05-31", to: "2026-06-10", only: "s", want: []string{
			"s1 17:30-20:30", "s2 17:30-20:30", "s3 17:30-20:30", "s4 17:30-20:30", "s5 17:30-20:30", "s6 17:30-20:30", "s7 17:30-20:30"}},
		{name: "three days from a restart", change: restarts("2026-06-20"), from: "2026-06-15", to: "2026-06-30", want: []string{
			"2026-06-20/s1 17:30-20:30", "2026-06-20/s2 17:30-20:30", "2026-06-20/s3 17:30-20:30"}},
		{name: "a restart in the first week", change: restarts("2026-06-06"), from: "2026-06-05", to: "2026-06-09", want: []string{
			"s5 17:30-20:30", "2026-06-06/s1 17:30-20:30", "2026-06-06/s2 17:30-20:30", "2026-06-06/s3 17:30-20:30", "s6 restarted", "s7 restarted"}},
		{name: "a restart after which the first week goes on", change: restarts("2026-06-02"), from: "2026-06-02", to: "2026-06-05", want: []string{
			"2026-06-02/s1 17:30-20:30", "2026-06-02/s2 17:30-20:30", "2026-06-02/s3 17:30-20:30", "s5 17:30-20:30", "s2 restarted", "s3 restarted", "s4 restarted"}},
		{name: "a restart on the first day", change: restarts(start), from: start, to: "2026-06-04", only: "s", want: []string{
			"2026-06-01/s1 17:30-20:30", "2026-06-01/s2 17:30-20:30", "2026-06-01/s3 17:30-20:30", "s4 17:30-20:30", "s1 restarted", "s2 restarted", "s3 restarted"}},
		{name: "restarts over one another, out of order and twice", change: restarts("2026-06-21", "2026-06-20", "2026-06-21", "2026-06-22"), from: "2026-06-20", to: "2026-06-24", want: []string{
			"2026-06-20/s1 17:30-20:30", "2026-06-21/s1 17:30-20:30", "2026-06-22/s1 17:30-20:30", "2026-06-22/s2 17:30-20:30", "2026-06-22/s3 17:30-20:30",
			"2026-06-20/s2 restarted", "2026-06-20/s3 restarted", "2026-06-21/s2 restarted", "2026-06-21/s3 restarted"}},
		{name: "a restart before the first day", change: restarts("2026-05-30"), from: "2026-05-30", to: start, only: "s", want: []string{
			"2026-05-30/s1 17:30-20:30", "2026-05-30/s2 17:30-20:30", "s1 17:30-20:30", "2026-05-30/s3 restarted"}},
		{name: "restarted even where the later one is dropped", change: func(p *plan.Plan) {
			restarts("2026-06-20", "2026-06-21")(p)
			p.Quiet = plan.Quiet{From: at("17:00"), To: at("07:00")}
		}, from: "2026-06-21", want: []string{"2026-06-20/s2 restarted", "2026-06-21/s1 quiet hours"}},
		{name: "ended before restarted", change: func(p *plan.Plan) { restarts("2026-06-03")(p); p.BandsEnd = day("2026-06-02") }, from: "2026-06-02", to: "2026-06-04",
			want: []string{"s2 17:30-20:30", "2026-06-03/s1 ended", "s3 ended", "2026-06-03/s2 ended", "s4 ended"}},
	})
}

// Bedtime is a moment: minutes written for it do not delay its nudge.
func TestBedtimeHasNoLength(t *testing.T) {
	for _, minutes := range []int{0, 20} {
		p := &plan.Plan{AlignerStart: plan.NewDate(2026, time.May, 18), NoticeAt: 480, EveningAt: 1050, UsefulMin: 90,
			Meals: []plan.Meal{{Code: plan.Bedtime, At: 21*60 + 30, Minutes: minutes, Days: plan.AllDays}}}
		d := plan.NewDate(2026, time.June, 9)
		nudges, dropped := Nudges(p, time.UTC, d, d)
		if len(nudges) != 1 || len(dropped) != 0 {
			t.Fatalf("%d minutes: %v, dropped %v", minutes, nudges, dropped)
		}
		if got := nudges[0].Due.Format("15:04") + "-" + nudges[0].Until.Format("15:04"); got != "21:30-23:00" {
			t.Errorf("%d minutes: %s", minutes, got)
		}
	}
}
