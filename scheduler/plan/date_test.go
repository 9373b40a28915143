package plan

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// julian is the Julian day number by Fliegel and Van Flandern, Communications
// of the ACM 11 (1968), 657, whose divisions cut towards zero as Go's do.
func julian(d Date) int {
	i, j, k := d.Year, int(d.Month), d.Day
	return k - 32075 + 1461*(i+4800+(j-14)/12)/4 + 367*(j-2-(j-14)/12*12)/12 - 3*((i+4900+(j-14)/12)/100)/4
}

func anyDate() *rapid.Generator[Date] {
	return rapid.Custom(func(t *rapid.T) Date {
		return NewDate(rapid.IntRange(1, 9999).Draw(t, "year"), time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 28).Draw(t, "day"))
	})
}

func TestDatesCountAsJulianDays(t *testing.T) {
	// Noon of 2000-01-01 is JD 2451545, the epoch J2000.
	if got := julian(Date{2000, time.January, 1}); got != 2451545 {
		t.Fatalf("the oracle says %d", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyDate().Draw(t, "a"), anyDate().Draw(t, "b")
		days := julian(b) - julian(a)
		if got := b.DaysSince(a); got != days {
			t.Fatalf("from %v to %v: %d days, want %d", a, b, got, days)
		}
		if got := a.AddDays(days); got != b {
			t.Fatalf("%v and %d days: %v, want %v", a, days, got, b)
		}
		if got, want := b.Compare(a), min(1, max(-1, days)); got != want || b.After(a) != (days > 0) || b.Before(a) != (days < 0) {
			t.Fatalf("%v against %v: %d, want %d", b, a, got, want)
		}
		if got, want := a.Weekday(), time.Weekday((julian(a)+1)%7); got != want { // JD 0 was a Monday
			t.Fatalf("%v is a %v, want %v", a, got, want)
		}
		if got, err := ParseDate(a.String()); err != nil || got != a {
			t.Fatalf("%v reads back as %v, %v", a, got, err)
		}
	})
}

func TestDateText(t *testing.T) {
	d := Date{2026, time.June, 1}
	var none Date
	if !none.IsZero() || d.IsZero() || none.String() != "" || d.String() != "2026-06-01" {
		t.Errorf("none %q, June %q", none, d)
	}
	type pair struct{ A, B Date }
	text, err := json.Marshal(pair{d, none})
	if want := `{"A":"2026-06-01","B":null}`; err != nil || string(text) != want {
		t.Errorf("got %s, %v; want %s", text, err, want)
	}
	var back pair
	if err := json.Unmarshal(text, &back); err != nil || back != (pair{d, none}) {
		t.Errorf("read back %+v, %v", back, err)
	}
	back.B = d
	if err := back.B.UnmarshalText(nil); err != nil || !back.B.IsZero() {
		t.Errorf("the empty text is %v, %v", back.B, err)
	}
	back.B = d
	if err := back.B.UnmarshalText([]byte("2026-02-29")); err == nil || back.B != d {
		t.Errorf("29 February of a common year: %v, %v", back.B, err)
	}
	if text, err := d.MarshalText(); err != nil || string(text) != "2026-06-01" {
		t.Errorf("as text: %q, %v", text, err)
	}
}

// Leap years of the Gregorian calendar: 2000 and 2028, not 1900, 2100 or 2026.
func TestLeapDays(t *testing.T) {
	for year, want := range map[int]string{1900: "1900-03-01", 2000: "2000-02-29", 2026: "2026-03-01", 2028: "2028-02-29", 2100: "2100-03-01"} {
		if got := NewDate(year, time.February, 28).AddDays(1).String(); got != want {
			t.Errorf("the day after 28 February %d: %s, want %s", year, got, want)
		}
		if got := NewDate(year, time.February, 29).String(); got != want {
			t.Errorf("29 February %d: %s, want %s", year, got, want)
		}
	}
}

func TestClockText(t *testing.T) {
	for c := Clock(0); c < 1440; c++ {
		if got, err := ParseClock(c.String()); err != nil || got != c {
			t.Fatalf("%d reads back as %d, %v", int(c), int(got), err)
		}
	}
	if text, err := Clock(1439).MarshalText(); err != nil || string(text) != "23:59" {
		t.Errorf("the last minute: %q, %v", text, err)
	}
}
