package main

import (
	"regexp"
	"strings"
	"unicode"

	"bandbell/scheduler/plan"

	"golang.org/x/text/unicode/norm"
)

// What stands in place of what was taken out; the domain cannot exist (RFC 2606).
const (
	someName    = "Pat"
	someSurname = "Doe"
	someoneElse = "Jo"
	someAddress = "someone@home.example"
	someLink    = "https://home.example/"
	someNumber  = "555 0100"
	someToken   = "token"
)

var (
	links     = regexp.MustCompile(`(?i)\b(?:https?://|www\.)\S+`)
	addresses = regexp.MustCompile(`[^\s<>"(),:;@|]+@[^\s<>"(),:;@|]+`)
	numbers   = regexp.MustCompile(`\+?\(?\d[\d\s().-]{5,}\d`)
	tokenLine = regexp.MustCompile(`(?im)^\s*ref: *[a-z2-7]{20,}\s*$`)
	tokens    = regexp.MustCompile(`\b[a-z2-7]{20,}\b`)
	isoDates  = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)
)

// strip takes the names and addresses of a patient, and whatever looks like an
// address, a link or a telephone number, out of a text, and writes it on one
// line, with \n for a new line.
func strip(text string, p plan.Patient) string {
	// A reply address's token names its patient. Where a button has written it
	// on a line of its own, the line goes.
	text = tokens.ReplaceAllString(tokenLine.ReplaceAllString(text, ""), someToken)
	text = links.ReplaceAllString(text, someLink)
	text = addresses.ReplaceAllString(text, someAddress)
	text = numbers.ReplaceAllStringFunc(text, func(s string) string {
		digits := strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return r
			}
			return -1
		}, s)
		if len(digits) < 7 || isoDates.MatchString(s) {
			return s
		}
		return someNumber
	})
	names := map[string]string{}
	add := func(name, instead string) {
		for _, w := range strings.FieldsFunc(name, func(r rune) bool { return !isLetter(r) }) {
			if k := bare(w); len([]rune(k)) > 1 && names[k] == "" {
				names[k] = instead
			}
		}
	}
	add(p.FirstName, someName)
	for _, r := range p.Recipients {
		add(r.Name, someoneElse)
	}
	add(p.LastName, someSurname)
	text = strings.Join(strings.FieldsFunc(renamed(text, names), func(r rune) bool { return r == '\n' || r == '\r' }), "\n")
	text = strings.ReplaceAll(strings.TrimSpace(text), `\n`, `\ n`)
	return strings.ReplaceAll(printableLines(text), "\n", `\n`)
}

// renamed replaces whole words that are a name, however they are written.
func renamed(text string, names map[string]string) string {
	var b, word strings.Builder
	flush := func() {
		if instead, ok := names[bare(word.String())]; ok {
			b.WriteString(instead)
		} else {
			b.WriteString(word.String())
		}
		word.Reset()
	}
	for _, r := range text {
		if isLetter(r) {
			word.WriteRune(r)
			continue
		}
		flush()
		b.WriteRune(r)
	}
	flush()
	return b.String()
}

func isLetter(r rune) bool { return unicode.IsLetter(r) || unicode.Is(unicode.Mn, r) }

// bare is a word in small letters without its accents.
func bare(word string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFD.String(word))
}
