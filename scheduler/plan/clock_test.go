package plan

import (
	"testing"
	"time"
	_ "time/tzdata"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// The transitions are those of the IANA time zone database (releases 2025b and
// later for 2026; 2011 and 2018 for Apia and Sao Paulo).
func TestInstantAtClockChanges(t *testing.T) {
	tests := []struct{ zone, day, clock, want string }{
		{"America/New_York", "2026-03-08", "01:59", "2026-03-08T06:59:00Z"},
		{"America/New_York", "2026-03-08", "02:00", "2026-03-08T07:00:00Z"}, // in the gap
		{"America/New_York", "2026-03-08", "02:30", "2026-03-08T07:00:00Z"}, // in the gap
		{"America/New_York", "2026-03-08", "02:59", "2026-03-08T07:00:00Z"}, // in the gap
		{"America/New_York", "2026-03-08", "03:00", "2026-03-08T07:00:00Z"},
		{"America/New_York", "2026-03-08", "03:01", "2026-03-08T07:01:00Z"},
		{"America/New_York", "2026-11-01", "00:59", "2026-11-01T04:59:00Z"},
		{"America/New_York", "2026-11-01", "01:00", "2026-11-01T05:00:00Z"}, // the first of two
		{"America/New_York", "2026-11-01", "01:30", "2026-11-01T05:30:00Z"}, // the first of two
		{"America/New_York", "2026-11-01", "02:00", "2026-11-01T07:00:00Z"},
		{"Europe/Berlin", "2026-03-29", "02:30", "2026-03-29T01:00:00Z"},
		{"Europe/Berlin", "2026-10-25", "02:30", "2026-10-25T00:30:00Z"}, // the first of two
		{"Europe/Berlin", "2026-10-25", "03:00", "2026-10-25T02:00:00Z"},
		{"Australia/Lord_Howe", "2026-10-04", "01:59", "2026-10-03T15:29:00Z"},
		{"Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-03T15:30:00Z"}, // half an hour's gap
		{"Australia/Lord_Howe", "2026-10-04", "02:30", "2026-10-03T15:30:00Z"},
		{"Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-04T14:45:00Z"}, // the first of two
		{"Australia/Lord_Howe", "2026-04-05", "02:00", "2026-04-04T15:30:00Z"},
		{"Africa/Cairo", "2026-04-24", "00:00", "2026-04-23T22:00:00Z"}, // no midnight
		{"Africa/Cairo", "2026-04-24", "00:30", "2026-04-23T22:00:00Z"},
		{"Africa/Cairo", "2026-04-24", "01:00", "2026-04-23T22:00:00Z"},
		{"Africa/Cairo", "2026-10-29", "23:30", "2026-10-29T20:30:00Z"}, // the first of two
		{"Africa/Cairo", "2026-10-30", "00:00", "2026-10-29T22:00:00Z"},
		{"America/Santiago", "2026-09-06", "00:00", "2026-09-06T04:00:00Z"}, // no midnight
		{"America/Santiago", "2026-04-04", "23:30", "2026-04-05T02:30:00Z"}, // the first of two
		{"America/Santiago", "2026-04-05", "00:00", "2026-04-05T04:00:00Z"},
		{"America/Sao_Paulo", "2018-11-04", "00:00", "2018-11-04T03:00:00Z"}, // no midnight
		{"Pacific/Apia", "2011-12-29", "23:59", "2011-12-30T09:59:00Z"},
		{"Pacific/Apia", "2011-12-30", "12:00", "2011-12-30T10:00:00Z"}, // the date does not exist
		{"Pacific/Apia", "2011-12-31", "00:00", "2011-12-30T10:00:00Z"},
		{"UTC", "2026-06-01", "12:00", "2026-06-01T12:00:00Z"},
		{"Asia/Kathmandu", "2026-06-01", "00:00", "2026-05-31T18:15:00Z"},
	}
	for _, tt := range tests {
		d, err := ParseDate(tt.day)
		if err != nil {
			t.Fatal(err)
		}
		c, err := ParseClock(tt.clock)
		if err != nil {
			t.Fatal(err)
		}
		if got := Instant(d, c, zone(t, tt.zone)).UTC().Format(time.RFC3339); got != tt.want {
			t.Errorf("%s %s %s: got %s, want %s", tt.zone, tt.day, tt.clock, got, tt.want)
		}
	}
}

// Beyond the table of changes a zone goes on by its rule. On the last days of a
// leap year the library's bounds do not advance there; every day must still
// start at its midnight (New York keeps -05:00 from November to March).
func TestInstantBeyondTheTable(t *testing.T) {
	for _, name := range []string{"America/New_York", "Europe/Berlin", "Australia/Sydney", "America/Santiago"} {
		loc := zone(t, name)
		for year := 2024; year <= 2104; year += 4 {
			for _, d := range []Date{{year, time.December, 30}, {year, time.December, 31}, {year + 1, time.January, 1}} {
				got := DayStart(d, loc)
				if l := got.In(loc); l.Hour() != 0 || l.Minute() != 0 || fromUTC(time.Date(l.Year(), l.Month(), l.Day(), 0, 0, 0, 0, time.UTC)) != d {
					t.Errorf("%s %v starts at %v", name, d, l)
				}
			}
		}
	}
	if got := Instant(Date{2028, time.December, 31}, 720, zone(t, "America/New_York")).UTC().Format(time.RFC3339); got != "2028-12-31T17:00:00Z" {
		t.Errorf("noon of 31 December 2028 in New York is %s", got)
	}
}

func TestDayLengths(t *testing.T) {
	tests := []struct {
		zone, day string
		minutes   int
	}{
		{"America/New_York", "2026-03-07", 1440},
		{"America/New_York", "2026-03-08", 1380},
		{"America/New_York", "2026-11-01", 1500},
		{"Australia/Lord_Howe", "2026-10-04", 1410},
		{"Australia/Lord_Howe", "2026-04-05", 1470},
		{"Africa/Cairo", "2026-04-24", 1380},
		{"Africa/Cairo", "2026-10-29", 1500},
		{"Pacific/Apia", "2011-12-29", 1440},
		{"Pacific/Apia", "2011-12-30", 0},
		{"Pacific/Apia", "2011-12-31", 1440},
	}
	for _, tt := range tests {
		d, _ := ParseDate(tt.day)
		loc := zone(t, tt.zone)
		if got := int(DayEnd(d, loc).Sub(DayStart(d, loc)).Minutes()); got != tt.minutes {
			t.Errorf("%s %s: got %d minutes, want %d", tt.zone, tt.day, got, tt.minutes)
		}
		if got := Exists(d, loc); got != (tt.minutes > 0) {
			t.Errorf("%s %s: exists is %v", tt.zone, tt.day, got)
		}
	}
}

// Toronto went back at 00:01 until 2006, over midnight: the minutes shown
// twice belong to the later date (IANA zone America/Toronto, 2006-10-29 went
// back at 02:00; St John's kept 00:01 until 2011, as here).
func TestDateOfWhereTheClockGoesBackOverMidnight(t *testing.T) {
	loc := zone(t, "America/St_Johns")
	later := Date{2010, time.November, 7}
	start := DayStart(later, loc)
	for m := 0; m < 1440; m += 7 {
		if got := DateOf(start.Add(time.Duration(m)*time.Minute), loc); got != later {
			t.Fatalf("%d minutes into %v: got %v", m, later, got)
		}
	}
	if got := DateOf(start.Add(-time.Second), loc); got != later.AddDays(-1) {
		t.Errorf("a second before %v: got %v", later, got)
	}
}

func TestParseClock(t *testing.T) {
	for _, s := range []string{"", "7:30", "24:00", "12:60", "12.30", "12:3a", " 12:30", "-1:00"} {
		if _, err := ParseClock(s); err == nil {
			t.Errorf("ParseClock(%q) gave no error", s)
		}
	}
	for s, want := range map[string]Clock{"00:00": 0, "07:30": 450, "23:59": 1439} {
		if got, err := ParseClock(s); err != nil || got != want {
			t.Errorf("ParseClock(%q) = %v, %v", s, got, err)
		}
	}
}

func TestParseDate(t *testing.T) {
	for _, s := range []string{"", "2026-2-1", "2026-02-30", "01/02/2026", "2026-02-01T00:00"} {
		if _, err := ParseDate(s); err == nil {
			t.Errorf("ParseDate(%q) gave no error", s)
		}
	}
	d, err := ParseDate("2028-02-28")
	if err != nil || d.AddDays(1).String() != "2028-02-29" || d.AddDays(2).String() != "2028-03-01" {
		t.Errorf("leap day: %v %v", d, err)
	}
}
