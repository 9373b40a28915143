package plan

import (
	"fmt"
	"time"
)

// Date is a civil day in the proleptic Gregorian calendar, without a zone.
// Dates are stepped as dates, never by adding hours to an instant. The zero
// Date means "none".
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// NewDate returns the date with the given parts, normalised as time.Date does.
func NewDate(year int, month time.Month, day int) Date {
	return fromUTC(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// ParseDate reads a date in the form 2006-01-02 (ISO 8601 extended).
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || len(s) != len(time.DateOnly) {
		return Date{}, fmt.Errorf("%q is not a date; write it as YYYY-MM-DD", s)
	}
	return fromUTC(t), nil
}

func fromUTC(t time.Time) Date { return Date{t.Year(), t.Month(), t.Day()} }

// utc is midnight of the date in UTC, used only for calendar arithmetic.
func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// IsZero reports whether d is the zero Date, which means "none".
func (d Date) IsZero() bool { return d == Date{} }

// AddDays returns the date n days later (earlier where n is negative).
func (d Date) AddDays(n int) Date { return fromUTC(d.utc().AddDate(0, 0, n)) }

// DaysSince returns the number of days from e to d: 1 when d is the day after e.
func (d Date) DaysSince(e Date) int {
	// In seconds, since a time.Duration ends at 292 years.
	return int((d.utc().Unix() - e.utc().Unix()) / (24 * 60 * 60))
}

// Before reports whether d lies before e.
func (d Date) Before(e Date) bool { return d.Compare(e) < 0 }

// After reports whether d lies after e.
func (d Date) After(e Date) bool { return d.Compare(e) > 0 }

// Compare returns -1, 0 or +1 as d lies before, on or after e.
func (d Date) Compare(e Date) int {
	switch {
	case d == e:
		return 0
	case d.Year != e.Year:
		return sign(d.Year - e.Year)
	case d.Month != e.Month:
		return sign(int(d.Month - e.Month))
	}
	return sign(d.Day - e.Day)
}

func sign(n int) int {
	if n < 0 {
		return -1
	}
	return 1
}

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

// String returns the date as YYYY-MM-DD, or "" for the zero Date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// MarshalText writes the date as YYYY-MM-DD.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// MarshalJSON writes the date as a JSON string, or null for the zero Date.
func (d Date) MarshalJSON() ([]byte, error) {
	if d.IsZero() {
		return []byte("null"), nil
	}
	return []byte(`"` + d.String() + `"`), nil
}

// UnmarshalText reads YYYY-MM-DD; the empty text is the zero Date.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = Date{}
		return nil
	}
	v, err := ParseDate(string(b))
	if err != nil {
		return err
	}
	*d = v
	return nil
}
