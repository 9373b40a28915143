package plan

import (
	"fmt"
	"time"
)

// Clock is a wall-clock time of day in minutes after midnight, 0 to 1439.
type Clock int

// ParseClock reads HH:MM, 00:00 to 23:59.
func ParseClock(s string) (Clock, error) {
	if len(s) == 5 && s[2] == ':' && digit(s[0]) && digit(s[1]) && digit(s[3]) && digit(s[4]) {
		h, m := int(s[0]-'0')*10+int(s[1]-'0'), int(s[3]-'0')*10+int(s[4]-'0')
		if h < 24 && m < 60 {
			return Clock(h*60 + m), nil
		}
	}
	return 0, fmt.Errorf("%q is not a time of day; write it as HH:MM, 00:00 to 23:59", s)
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

// String returns HH:MM.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// MarshalText writes HH:MM.
func (c Clock) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// Instant is the moment at which the wall clock in loc shows c on date d.
//
// One policy holds everywhere: a wall time that does not exist, because the
// clocks went forward over it, is the first instant after the gap; one that
// exists twice is the first of the two. time.Date promises neither.
func Instant(d Date, c Clock, loc *time.Location) time.Time {
	wall := d.utc().Add(time.Duration(c) * time.Minute) // the wall reading, as if it were UTC
	// No zone is further than a day from UTC, so the instant lies in one of the
	// zone's constant-offset spans within 26 hours of the reading.
	t := wall.Add(-26 * time.Hour).In(loc)
	for {
		_, end := t.ZoneBounds()
		if !end.IsZero() && !end.After(t) {
			// Go 1.26 gives an end that is not after t on the last day of a leap
			// year beyond the zone's table of changes; there is no change then.
			end = t.Add(24 * time.Hour)
		}
		_, offset := t.Zone()
		off := time.Duration(offset) * time.Second
		at := wall.Add(-off)
		if end.IsZero() || at.Before(end) {
			if at.Before(t) {
				// The reading fell between the end of the span before and the
				// start of this one: a gap.
				at = t
			}
			return at.In(loc)
		}
		t = end
	}
}

// DayStart is the first instant of date d in loc. For a date that does not
// exist there (Apia had no 30 December 2011) it is the start of the next one.
func DayStart(d Date, loc *time.Location) time.Time { return Instant(d, 0, loc) }

// DayEnd is the first instant after date d: the start of the next date.
func DayEnd(d Date, loc *time.Location) time.Time { return DayStart(d.AddDays(1), loc) }

// Exists reports whether date d occurs in loc at all.
func Exists(d Date, loc *time.Location) bool {
	return DayStart(d, loc).Before(DayEnd(d, loc))
}

// DateOf is the date in loc to which instant t belongs: the one whose
// [DayStart, DayEnd) holds it. Where a clock goes back over midnight the
// repeated minutes belong to the later date, so that days tile time in order.
func DateOf(t time.Time, loc *time.Location) Date {
	l := t.In(loc)
	d := Date{l.Year(), l.Month(), l.Day()}
	for !t.Before(DayEnd(d, loc)) {
		d = d.AddDays(1)
	}
	return d
}
