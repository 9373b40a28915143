package plan

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// String returns a string member, or "".
func (o *Object) String(key string) string {
	s, _ := o.text(key)
	return s
}

// text returns a string member, and false where it is absent or, which is then
// noted, no string.
func (o *Object) text(key string) (string, bool) {
	n := o.Get(key)
	if n == nil {
		return "", false
	}
	s, ok := n.value.(string)
	if !ok {
		o.wrong(key, n, "must be a string, not "+n.kind(), "")
	}
	return s, ok
}

// Word returns a string member that must be one of the words, or the default.
func (o *Object) Word(key, missing string, words ...string) string {
	s, ok := o.text(key)
	if !ok {
		return missing
	}
	for _, w := range words {
		if s == w {
			return s
		}
	}
	hint := "one of " + strings.Join(words, ", ")
	if near := Closest(s, words); near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	o.wrong(key, o.Get(key), strconv.Quote(s)+" is not known here", hint)
	return missing
}

// Bool returns a true-or-false member, or false.
func (o *Object) Bool(key string) bool {
	n := o.Get(key)
	if n == nil {
		return false
	}
	b, ok := n.value.(bool)
	if !ok {
		o.wrong(key, n, "must be true or false, not "+n.kind(), "")
	}
	return b
}

// Number returns a number from low to high, or the default.
func (o *Object) Number(key string, missing, low, high float64) float64 {
	n := o.Get(key)
	if n == nil {
		return missing
	}
	num, ok := n.value.(json.Number)
	if !ok {
		o.wrong(key, n, "must be a number, not "+n.kind(), "")
		return missing
	}
	v, err := num.Float64()
	if err != nil || v < low || v > high || math.IsNaN(v) {
		o.wrong(key, n, fmt.Sprintf("%s is out of range", num), limits(low, high))
		return missing
	}
	return v
}

// smallest as a lower bound says "over 0".
const smallest = math.SmallestNonzeroFloat64

func limits(low, high float64) string {
	if low == smallest {
		return "over 0, at most " + trim(high)
	}
	return trim(low) + " to " + trim(high)
}

// Int returns a whole number from low to high, or the default.
func (o *Object) Int(key string, missing, low, high int) int {
	v := o.Number(key, float64(missing), float64(low), float64(high))
	if v != math.Trunc(v) {
		o.wrong(key, o.Get(key), "must be a whole number", "")
		return missing
	}
	return int(v)
}

// Date returns a date member, or the zero Date.
func (o *Object) Date(key string) Date {
	s, ok := o.text(key)
	if !ok {
		return Date{}
	}
	d, err := ParseDate(s)
	if err != nil {
		o.wrong(key, o.Get(key), err.Error(), "")
	}
	return d
}

// Clock returns a time of day, or the default.
func (o *Object) Clock(key string, missing Clock) Clock {
	s, ok := o.text(key)
	if !ok {
		return missing
	}
	c, err := ParseClock(s)
	if err != nil {
		o.wrong(key, o.Get(key), err.Error(), "")
		return missing
	}
	return c
}

// Time returns an instant written as RFC 3339, or the zero time.
func (o *Object) Time(key string) time.Time {
	s, ok := o.text(key)
	if !ok {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		o.wrong(key, o.Get(key), fmt.Sprintf("%q is not an instant", s), "write it as RFC 3339: 2026-06-01T08:00:00-04:00")
	}
	return t
}

// Dates returns a list of dates.
func (o *Object) Dates(key string) []Date {
	var out []Date
	for i, n := range o.List(key) {
		s, ok := n.value.(string)
		if !ok {
			o.doc.Fault(n, o.at(key, i), "must be a string, not "+n.kind(), "write it as YYYY-MM-DD")
			continue
		}
		d, err := ParseDate(s)
		if err != nil {
			o.doc.Fault(n, o.at(key, i), err.Error(), "")
			continue
		}
		out = append(out, d)
	}
	return out
}
