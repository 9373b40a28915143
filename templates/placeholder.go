package templates

import (
	"strings"
	"unicode"
)

// Placeholder is a name that may stand in a message.
type Placeholder struct {
	Name   string
	Number bool   // whether a plural block may ask it
	About  string // what it stands for, for the person who edits
}

var placeholders = []Placeholder{
	{"first_name", false, "the patient's first name, or nothing"},
	{"clinic_name", false, "the clinic's name"},
	{"clinic_phone", false, "the number to call"},
	{"emergency_number", false, "the local emergency number"},
	{"meal", false, "the meal in words"},
	{"when", false, "a day or time in words"},
	{"hooks", false, "which tooth to which, in words"},
	{"stopped_hooks", false, "which bands to leave off from now on, in words"},
	{"wear_start_date", false, "the first day of band wear, in words"},
	{"last_day", false, "the last day of band wear, in words"},
	{"day_number", true, "the day of wear, 1 on the first"},
	{"hours_per_day", true, "hours of wear a day"},
	{"changes_per_day", true, "fresh sets a day"},
	{"token", false, "the reference of this message"},
	{"to_call", true, "digest: patients to call"},
	{"unread", true, "digest: replies a person has to read"},
	{"sent", true, "digest: messages sent"},
	{"lapsed", true, "digest: messages not sent in time"},
	{"failed", true, "digest: messages that could not be delivered"},
	{"rows", false, "digest: the list, on a line of its own"},
	{"rows_more", true, "digest: how many more there are than the list shows"},
}

func findPlaceholder(name string) (Placeholder, bool) {
	for _, p := range placeholders {
		if p.Name == name {
			return p, true
		}
	}
	return Placeholder{}, false
}

func placeholderNames() []string {
	names := make([]string, len(placeholders))
	for i, p := range placeholders {
		names[i] = p.Name
	}
	return names
}

// MaxValue is the greatest number of characters in one value.
const MaxValue = 500

// A value stands in the Markdown as one character of a private-use area
// (Unicode 16, section 23.5) until the Markdown was read; no source and no
// value may hold one.
const (
	firstMark = '\uE000'
	lastMark  = '\uF8FF'
)

func isMark(r rune) bool { return firstMark <= r && r <= lastMark }

// clean makes a value harmless wherever text goes: one line, no control
// characters, nothing that turns the direction of the text around it. What a
// person can see stays as it is.
func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) && r != '\u00A0' && r != '\u202F', r == '\u2028', r == '\u2029':
			return ' '
		case unicode.IsControl(r):
			return -1
		case r == '\u061C', r == '\u200B', r == '\u200E', r == '\u200F', r == '\uFEFF',
			'\u202A' <= r && r <= '\u202E', '\u2066' <= r && r <= '\u2069':
			return -1
		case isMark(r):
			return '\uFFFD'
		}
		return r
	}, s)
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }), " ")
}
