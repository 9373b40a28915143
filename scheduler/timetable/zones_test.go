package timetable

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

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

// The clock changes are those of the IANA time zone database, release 2025b
// and later; the instants are reckoned by hand from them.
//
//	New York   2026-03-08T07:00Z 02:00 -> 03:00   2026-11-01T06:00Z 02:00 -> 01:00
//	Berlin     2026-03-29T01:00Z 02:00 -> 03:00   2026-10-25T01:00Z 03:00 -> 02:00
//	Cairo      2026-04-23T22:00Z 00:00 -> 01:00   2026-10-29T21:00Z 00:00 -> 23:00
//	Beirut     2026-03-28T22:00Z 00:00 -> 01:00   2026-10-24T21:00Z 00:00 -> 23:00
//	Santiago   2026-09-06T04:00Z 00:00 -> 01:00   2026-04-05T03:00Z 00:00 -> 23:00
//	Lord Howe  2026-10-03T15:30Z 02:00 -> 02:30   2026-04-04T15:00Z 02:00 -> 01:30
//	Apia       2011-12-30T10:00Z, the end of 29 December, becomes the start of 31 December
func TestClockChanges(t *testing.T) {
	type want struct{ slot, due, until string }
	meals := func(m ...plan.Meal) func(*plan.Plan) { return only(m...) }
	begins := func(d string) func(*plan.Plan) { return func(p *plan.Plan) { p.BandsStart = day(d) } }
	tests := []struct {
		name, zone, day string
		change          func(*plan.Plan)
		want            []want
	}{
		{"a meal in the gap", "America/New_York", "2026-03-08", meals(meal("PC", "02:30", 10)),
			[]want{{"PC", "2026-03-08T03:10:00-04:00", "2026-03-08T04:40:00-04:00"}}},
		{"a meal over the gap lasts its minutes", "America/New_York", "2026-03-08", meals(meal("PC", "01:50", 30)),
			[]want{{"PC", "2026-03-08T03:20:00-04:00", "2026-03-08T04:50:00-04:00"}}},
		{"two meals in the gap fall together", "America/New_York", "2026-03-08", meals(meal("PC", "02:10", 10), meal("PCM", "02:50", 20)),
			[]want{{"PCM", "2026-03-08T03:20:00-04:00", "2026-03-08T04:50:00-04:00"}}},
		{"cut by a meal in the gap", "America/New_York", "2026-03-08", meals(meal("PC", "01:30", 10), meal("PCM", "02:50", 20)), []want{
			{"PC", "2026-03-08T01:40:00-05:00", "2026-03-08T03:00:00-04:00"}, {"PCM", "2026-03-08T03:20:00-04:00", "2026-03-08T04:50:00-04:00"}}},
		{"the first of two", "America/New_York", "2026-11-01", meals(meal("PC", "01:30", 10)),
			[]want{{"PC", "2026-11-01T01:40:00-04:00", "2026-11-01T02:10:00-05:00"}}},
		{"until in the second hour", "America/New_York", "2026-11-01", meals(meal("PC", "00:50", 30)),
			[]want{{"PC", "2026-11-01T01:20:00-04:00", "2026-11-01T01:50:00-05:00"}}},
		{"Berlin, in the gap", "Europe/Berlin", "2026-03-29", meals(meal("PC", "02:30", 10)),
			[]want{{"PC", "2026-03-29T03:10:00+02:00", "2026-03-29T04:40:00+02:00"}}},
		{"Berlin, the first of two", "Europe/Berlin", "2026-10-25", meals(meal("PC", "02:30", 10)),
			[]want{{"PC", "2026-10-25T02:40:00+02:00", "2026-10-25T03:10:00+01:00"}}},
		{"Lord Howe, half an hour's gap", "Australia/Lord_Howe", "2026-10-04", meals(meal("PC", "02:15", 10)),
			[]want{{"PC", "2026-10-04T02:40:00+11:00", "2026-10-04T04:10:00+11:00"}}},
		{"Lord Howe, the first of two", "Australia/Lord_Howe", "2026-04-05", meals(meal("PC", "01:45", 10)),
			[]want{{"PC", "2026-04-05T01:55:00+11:00", "2026-04-05T02:55:00+10:30"}}},
		{"Cairo, after midnight where there is none", "Africa/Cairo", "2026-04-24", meals(meal("PC", "00:30", 10)),
			[]want{{"PC", "2026-04-24T01:10:00+03:00", "2026-04-24T02:40:00+03:00"}}},
		{"Cairo, the eve of no midnight", "Africa/Cairo", "2026-04-23", all(noMeals, begins("2026-04-26")),
			[]want{{"d-3", "2026-04-23T08:00:00+02:00", "2026-04-24T01:00:00+03:00"}}},
		{"Cairo, the hour before midnight twice", "Africa/Cairo", "2026-10-29", all(meals(meal("HS", "23:30", 0)), func(p *plan.Plan) {
			p.Bands = []plan.Prescription{{From: day("2026-10-29")}}
		}), []want{
			{"b/2026-10-29", "2026-10-29T08:00:00+03:00", "2026-10-30T00:00:00+02:00"},
			{"HS", "2026-10-29T23:30:00+03:00", "2026-10-30T00:00:00+02:00"}}},
		{"Beirut, the eve of no midnight", "Asia/Beirut", "2026-03-28", all(noMeals, begins("2026-03-31")),
			[]want{{"d-3", "2026-03-28T08:00:00+02:00", "2026-03-29T01:00:00+03:00"}}},
		{"Beirut, the hour before midnight twice", "Asia/Beirut", "2026-10-24", meals(meal("HS", "23:15", 0)),
			[]want{{"HS", "2026-10-24T23:15:00+03:00", "2026-10-24T23:45:00+02:00"}}},
		{"Santiago, after midnight where there is none", "America/Santiago", "2026-09-06", meals(meal("PC", "00:10", 5)),
			[]want{{"PC", "2026-09-06T01:05:00-03:00", "2026-09-06T02:35:00-03:00"}}},
		{"Santiago, the hour before midnight twice", "America/Santiago", "2026-04-04", all(noMeals, begins("2026-04-05")),
			[]want{{"d-1", "2026-04-04T08:00:00-03:00", "2026-04-05T00:00:00-04:00"}}},
		{"Apia, a day that was not", "Pacific/Apia", "2011-12-30", begins("2011-12-30"), nil},
		{"Apia, a notice on a day that was not", "Pacific/Apia", "2011-12-30", all(noMeals, begins("2011-12-31")), nil},
		{"Apia, the second sore day by date", "Pacific/Apia", "2011-12-31", all(noMeals, begins("2011-12-30")),
			[]want{{"s2", "2011-12-31T17:30:00+14:00", "2011-12-31T20:30:00+14:00"}}},
		{"Apia, until the first instant of the next day", "Pacific/Apia", "2011-12-29", all(noMeals, begins("2011-12-29")), []want{
			{"d0", "2011-12-29T08:00:00-10:00", "2011-12-31T00:00:00+14:00"}, {"s1", "2011-12-29T17:30:00-10:00", "2011-12-29T20:30:00-10:00"}}},

		{"quiet hours that end in the gap", "America/New_York", "2026-03-08", all(hours("21:45", "02:30"), meals(meal("PC", "01:30", 20))),
			[]want{{"PC", "2026-03-08T03:00:00-04:00", "2026-03-08T04:20:00-04:00"}}},
		{"quiet hours that begin in the gap", "America/New_York", "2026-03-08", all(hours("02:30", "07:00"), meals(meal("PC", "01:30", 20))),
			[]want{{"PC", "2026-03-08T01:50:00-05:00", "2026-03-08T03:00:00-04:00"}}},
		{"quiet hours within the gap are none", "America/New_York", "2026-03-08", all(hours("02:10", "02:50"), meals(meal("PC", "01:30", 20))),
			[]want{{"PC", "2026-03-08T01:50:00-05:00", "2026-03-08T04:20:00-04:00"}}},
		{"quiet hours that end in the hour that comes twice", "America/New_York", "2026-11-01", all(hours("21:45", "01:30"), meals(meal("PC", "00:50", 30))),
			[]want{{"PC", "2026-11-01T01:30:00-04:00", "2026-11-01T01:50:00-05:00"}}},
		{"quiet hours over both", "America/New_York", "2026-11-01", all(hours("01:30", "03:00"), meals(meal("PC", "00:50", 30))),
			[]want{{"PC", "2026-11-01T01:20:00-04:00", "2026-11-01T01:30:00-04:00"}}},
		{"periods that the gap joins", "America/New_York", "2026-03-07", all(hours("02:50", "02:10"), func(p *plan.Plan) {
			p.Meals = []plan.Meal{meal("PC", "02:20", 5), meal("PCM", "23:00", 30)}
			p.UsefulMin = 360 // until 05:30, but quiet from 02:50 on the 7th to 02:10 on the 9th
		}), []want{{"PC", "2026-03-07T02:25:00-05:00", "2026-03-07T02:50:00-05:00"}}},
		{"quiet from before the day that was not", "Pacific/Apia", "2011-12-29", all(hours("22:00", "06:00"), begins("2011-12-20"), func(p *plan.Plan) {
			p.Meals = []plan.Meal{meal("PC", "22:30", 20)} // until 08:50 of the 31st
			p.UsefulMin = 600
		}), []want{{"PC", "2011-12-31T06:00:00+14:00", "2011-12-31T08:50:00+14:00"}}},
		{"quiet over the day that was not", "Pacific/Apia", "2011-12-29", all(hours("22:00", "06:00"), begins("2011-12-20"), func(p *plan.Plan) {
			p.Meals = []plan.Meal{meal("PC", "23:50", 20)}
			p.UsefulMin = 600
		}), []want{{"PC", "2011-12-31T06:00:00+14:00", "2011-12-31T10:10:00+14:00"}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := base()
			p.BandsStart = day("2026-01-05")
			tt.change(p)
			nudges, _ := Nudges(p, zone(t, tt.zone), day(tt.day), day(tt.day))
			var got []want
			for _, n := range nudges {
				slot := n.Slot
				if n.Kind == plan.BandChange {
					slot = slot[len("2026-01-05/"):]
				}
				got = append(got, want{slot, n.Due.Format(time.RFC3339), n.Until.Format(time.RFC3339)})
			}
			if diff := cmp.Diff(tt.want, got, cmp.AllowUnexported(want{})); diff != "" {
				t.Errorf("-want +got\n%s", diff)
			}
		})
	}
}
