package plan

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Zones of the IANA database whose clocks do odd things: half and quarter
// hours, two and three hours at once, changes at midnight or over it, winter
// time as the exception (Dublin), the month of Ramadan (Casablanca), a date
// that never was (Apia 2011-12-30, Kwajalein 1993-08-21).
var oddZones = []string{
	"UTC", "America/New_York", "Europe/Berlin", "Europe/Dublin", "Africa/Casablanca", "Africa/Cairo", "Asia/Beirut",
	"Asia/Gaza", "Asia/Tehran", "Asia/Kathmandu", "Asia/Pyongyang", "Australia/Lord_Howe", "Antarctica/Troll",
	"Antarctica/Casey", "America/St_Johns", "America/Sao_Paulo", "America/Santiago", "America/Asuncion", "America/Havana",
	"America/Caracas", "America/Scoresbysund", "Pacific/Apia", "Pacific/Kwajalein", "Pacific/Norfolk", "Pacific/Chatham",
}

// drawDate draws a date from 1986 to 2037, three times in four within two days
// of a change of the clocks: before, every zone of the list keeps offsets of
// whole minutes only from 1986 on (Kathmandu was the last), which the scan by
// minutes needs.
func drawDate(t *rapid.T, loc *time.Location) Date {
	first := time.Date(1986, time.January, 3, 0, 0, 0, 0, time.UTC)
	at := first.Add(time.Duration(rapid.Int64Range(0, 51*365*24*60).Draw(t, "minute")) * time.Minute)
	if rapid.IntRange(0, 3).Draw(t, "near") > 0 {
		if _, end := at.In(loc).ZoneBounds(); !end.IsZero() {
			at = end.Add(time.Duration(rapid.IntRange(-2880, 2880).Draw(t, "off")) * time.Minute)
		}
	}
	return fromUTC(at.In(loc))
}

// scan looks at the clock on the wall minute by minute and gives the first at
// which it shows the reading or, where it never does, the first after it jumped
// over the reading.
func scan(d Date, c Clock, loc *time.Location) time.Time {
	reading := d.utc().Add(time.Duration(c) * time.Minute)
	var after time.Time
	for m := -26 * 60; m <= 26*60; m++ {
		t := reading.Add(time.Duration(m) * time.Minute)
		_, offset := t.In(loc).Zone()
		shown := t.Add(time.Duration(offset) * time.Second)
		if shown.Equal(reading) {
			return t
		}
		if after.IsZero() && shown.After(reading) {
			after = t
		}
	}
	return after
}

func TestInstantIsWhatTheClockOnTheWallShows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(oddZones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		d := drawDate(t, loc)
		c := Clock(rapid.IntRange(0, 1439).Draw(t, "clock"))
		got, want := Instant(d, c, loc), scan(d, c, loc)
		if !got.Equal(want) {
			t.Fatalf("%v %v in %v: got %v, the wall says %v", d, c, loc, got.UTC(), want.UTC())
		}
		if got.Location() != loc {
			t.Fatalf("the instant came back in %v", got.Location())
		}
	})
}

func TestDaysTileTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(oddZones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		d := drawDate(t, loc)
		start, end := DayStart(d, loc), DayEnd(d, loc)
		if !end.Equal(DayStart(d.AddDays(1), loc)) {
			t.Fatalf("%v ends at %v and the next day starts at %v", d, end, DayStart(d.AddDays(1), loc))
		}
		if length := end.Sub(start); length < 0 || length > 27*time.Hour {
			t.Fatalf("%v lasts %v", d, length)
		}
		if !Exists(d, loc) {
			if !start.Equal(end) {
				t.Fatalf("%v does not exist and lasts %v", d, end.Sub(start))
			}
			return
		}
		into := time.Duration(rapid.Int64Range(0, int64(end.Sub(start)/time.Second)-1).Draw(t, "second")) * time.Second
		for _, at := range []time.Time{start, start.Add(into), end.Add(-time.Nanosecond)} {
			if got := DateOf(at, loc); got != d {
				t.Fatalf("%v lies in %v and is dated %v", at, d, got)
			}
		}
		if got := DateOf(start.Add(-time.Nanosecond), loc); !got.Before(d) {
			t.Fatalf("the moment before %v is dated %v", d, got)
		}
		if got := DateOf(end, loc); !got.After(d) {
			t.Fatalf("the end of %v is dated %v", d, got)
		}
	})
}

func TestLaterOnTheWallIsNeverEarlier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(oddZones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		d := drawDate(t, loc)
		a, b := rapid.IntRange(0, 1439).Draw(t, "a"), rapid.IntRange(0, 1439).Draw(t, "b")
		if first, last := Instant(d, Clock(min(a, b)), loc), Instant(d, Clock(max(a, b)), loc); last.Before(first) {
			t.Fatalf("%v: %v is %v and %v is %v", d, Clock(min(a, b)), first, Clock(max(a, b)), last)
		}
	})
}
