package timetable

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func hours(from, to string) func(*plan.Plan) {
	return func(p *plan.Plan) { p.Quiet = plan.Quiet{From: at(from), To: at(to)} }
}

func all(changes ...func(*plan.Plan)) func(*plan.Plan) {
	return func(p *plan.Plan) {
		for _, c := range changes {
			c(p)
		}
	}
}

func TestQuietHours(t *testing.T) {
	check(t, time.UTC, []rule{
		{name: "over midnight, a late bedtime and an early meal", change: all(hours("21:45", "08:15")), from: "2026-06-20", want: []string{
			"2026-06-20/PCM 08:15-09:30 moved: quiet hours", "2026-06-20/PCD 12:30-14:00", "2026-06-20/PCV 19:30-21:00", "2026-06-20/HS quiet hours"}},
		{name: "due a minute before they begin", change: all(hours("22:01", "07:00"), only(meal("HS", "22:00", 0))), from: "2026-06-20",
			want: []string{"2026-06-20/HS 22:00-22:01"}},
		{name: "due as they begin", change: all(hours("22:00", "07:00"), only(meal("HS", "22:00", 0))), from: "2026-06-20",
			want: []string{"2026-06-20/HS quiet hours"}},
		{name: "due a minute before they end", change: all(hours("21:45", "08:01"), only(meal("PCM", "07:30", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:01-09:30 moved: quiet hours"}},
		{name: "due as they end", change: all(hours("21:45", "08:00"), only(meal("PCM", "07:30", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 08:00-09:30"}},
		{name: "they end a minute before until", change: all(hours("21:45", "09:29"), only(meal("PCM", "07:30", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCM 09:29-09:30 moved: quiet hours"}},
		{name: "they end at until", change: all(hours("21:45", "09:30"), only(meal("PCM", "07:30", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCM quiet hours"}},
		{name: "they end after the next meal began", change: all(hours("21:45", "08:30"), only(meal("PCM", "07:30", 30), meal("PC", "08:20", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PC 08:50-10:20", "2026-06-20/PCM quiet hours"}},
		{name: "no time left, and quiet: quiet is asked first", change: all(hours("21:45", "08:30"), only(meal("PCM", "07:30", 30), meal("PC", "07:50", 45))), from: "2026-06-20",
			want: []string{"2026-06-20/PC 08:35-10:05", "2026-06-20/PCM quiet hours"}},
		{name: "until ends as they begin", change: all(hours("21:00", "07:00"), only(meal("PCV", "19:00", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCV 19:30-21:00"}},
		{name: "until cut by a minute", change: all(hours("20:59", "07:00"), only(meal("PCV", "19:00", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCV 19:30-20:59"}},
		{name: "within one day", change: all(hours("12:30", "13:15"), only(meal("PCD", "12:00", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCD 13:15-14:00 moved: quiet hours"}},
		{name: "within one day, cut", change: all(hours("13:15", "15:00"), only(meal("PCD", "12:00", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCD 12:30-13:15"}},
		{name: "moved, then cut by the next day's period", change: all(hours("21:45", "21:00"), noMeals), from: "2026-05-29",
			want: []string{"d-3 21:00-21:45 moved: quiet hours"}},
		{name: "moved over midnight keeps its day", change: all(hours("23:00", "00:15"), only(meal("HS", "23:30", 0))), from: "2026-06-20",
			want: []string{"2026-06-20/HS 06-21T00:15-06-21T01:00 moved: quiet hours"}},
		{name: "a late meal after midnight within the period of its eve", change: all(hours("22:00", "06:00"), only(meal("PC", "23:50", 20))), from: "2026-06-20",
			want: []string{"2026-06-20/PC quiet hours"}},
		{name: "all but a minute of the day", change: all(hours("12:31", "12:30"), only(meal("PCD", "12:00", 30))), from: "2026-06-20",
			want: []string{"2026-06-20/PCD 12:30-12:31"}},
		{name: "soreness moved and cut by its own hours", change: all(hours("17:00", "18:00"), noMeals), from: "2026-06-02",
			want: []string{"s2 18:00-20:30 moved: quiet hours"}},
		{name: "from equal to to is none", change: all(hours("22:00", "22:00"), only(meal("HS", "22:00", 0))), from: "2026-06-20",
			want: []string{"2026-06-20/HS 22:00-23:30"}},
	})
}

func TestPauses(t *testing.T) {
	pause := func(of plan.PauseOf) func(*plan.Plan) {
		return func(p *plan.Plan) {
			p.Meals = []plan.Meal{meal("PC", "23:50", 20)}
			p.Pauses = []plan.Pause{{From: day("2026-06-20"), To: day("2026-06-21"), Of: of}}
		}
	}
	want := []string{
		"2026-06-19/PC 06-20T00:10-06-20T01:40", "2026-06-22/PC 06-23T00:10-06-23T01:40", "2026-06-20/PC paused", "2026-06-21/PC paused"}
	check(t, time.UTC, []rule{
		{name: "mail: both ends, and a late meal follows its day", change: pause(plan.PauseMail), from: "2026-06-19", to: "2026-06-22", want: want},
		{name: "bands", change: pause(plan.PauseBands), from: "2026-06-19", to: "2026-06-22", want: want},
		{name: "asked before every other reason", change: func(p *plan.Plan) {
			p.Pauses = []plan.Pause{{From: day("2026-05-29"), To: day("2026-06-20"), Of: plan.PauseMail}}
			p.Restarts = []plan.Date{day(start)}
			p.BandsEnd = day(start)
			p.Bands = []plan.Prescription{{From: day(start), To: day(start)}}
			hours("00:01", "00:00")(p)
		}, from: "2026-05-29", to: "2026-06-02", want: []string{
			"d-3 paused", "d-1 paused",
			"2026-06-01/HS paused", "2026-06-01/PCD paused", "2026-06-01/PCM paused", "2026-06-01/PCV paused",
			"2026-06-01/s1 paused", "s1 paused", "d0 paused",
			"2026-06-01/s2 paused", "s2 paused", "b/2026-06-02 paused"}},
	})
}

func TestSwallowed(t *testing.T) {
	tests := []struct {
		name   string
		change func(*plan.Plan)
		want   []plan.MealCode
	}{
		{"bedtime at 22:00 against quiet from 21:45", hours("21:45", "07:00"), []plan.MealCode{"HS"}},
		{"bedtime as quiet begins", hours("22:00", "07:00"), []plan.MealCode{"HS"}},
		{"bedtime a minute before", hours("22:01", "07:00"), nil},
		{"moved, not swallowed", hours("21:45", "08:15"), []plan.MealCode{"HS"}},
		{"quiet by day", hours("12:30", "14:00"), []plan.MealCode{"PCD"}},
		{"no quiet hours", nil, nil},
		{"easing and nights only pass", func(p *plan.Plan) {
			hours("12:30", "14:00")(p)
			p.Cadence = []plan.Cadence{{From: day(start), Level: 1}}
			p.Wear = []plan.Wear{{From: day(start), HoursPerDay: 10, Nights: true}}
		}, []plan.MealCode{"PCD"}},
		{"on some weekdays the next meal leaves no time, on others it is moved", func(p *plan.Plan) {
			hours("21:45", "08:15")(p)
			p.Meals = []plan.Meal{meal("PCM", "07:30", 30), {Code: "PC", At: at("08:10"), Minutes: 10, Days: 1 << time.Sunday}}
		}, nil},
		{"a meal without a weekday", func(p *plan.Plan) {
			hours("21:45", "07:00")(p)
			p.Meals = []plan.Meal{{Code: "HS", At: at("22:00")}}
		}, nil},
		{"no time left for another reason", func(p *plan.Plan) {
			hours("21:45", "07:00")(p)
			p.Meals = []plan.Meal{meal("PCM", "07:30", 30), meal("PC", "07:40", 10)}
		}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := base()
			if tt.change != nil {
				tt.change(p)
			}
			var got []plan.MealCode
			for _, m := range Swallowed(p) {
				got = append(got, m.Code)
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("-want +got\n%s", diff)
			}
		})
	}
}
