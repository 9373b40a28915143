package main

import (
	"fmt"
	"io"
	"strings"
)

// sheetWidth is how wide the text of the sheet runs.
const sheetWidth = 96

// text prints the sheet for a terminal.
func (s *sheet) text(w io.Writer) error {
	var b strings.Builder
	head := func(title string) { b.WriteString("\n" + title + "\n") }
	put := func(text string) { b.WriteString(wrap(printable(text), "  ", sheetWidth)) }
	b.WriteString(printable(fmt.Sprintf("%s (%s), %s, as of %s", s.Name, s.Patient, s.Clinic, s.AsOf)) + "\n")
	b.WriteString(wrap(printable("Standing: "+string(s.Standing)+": "+strings.Join(s.Why, "; ")+"."), "", sheetWidth))
	if s.Mail != "" {
		b.WriteString(printable(s.Mail) + "\n")
	}
	head("What to say")
	for _, e := range s.Say {
		put("- " + e)
	}
	head("Plan and hook-up")
	for _, e := range s.Plan {
		put(e.Name + ": " + e.Text)
	}
	head("Hours, as reported")
	for _, e := range s.Hours {
		put(e)
	}
	b.WriteString("\n" + s.raster.Text)
	head("Soreness and supply")
	put(s.Soreness)
	put(s.Supply)
	head("In their words")
	for _, e := range s.Words {
		put(e.Name + ": " + e.Text)
	}
	if len(s.Words) == 0 {
		put("nothing yet")
	}
	head("The bite")
	if len(s.Visits) > 0 {
		put("Still to correct on " + strings.Join(s.Visits, "; on ") + ".")
	}
	for _, e := range s.Forecast {
		put(e)
	}
	b.WriteString("\n")
	for _, e := range s.Cautions {
		b.WriteString(wrap(e, "", sheetWidth))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap breaks a text at blanks so that no line is longer than width where a
// blank allows it; every line begins with the indent.
func wrap(s, indent string, width int) string {
	var b strings.Builder
	n := 0
	for word := range strings.FieldsSeq(s) {
		k := len([]rune(word))
		switch {
		case n == 0:
			b.WriteString(indent)
			n = len(indent)
		case n+1+k > width:
			b.WriteString("\n" + indent)
			n = len(indent)
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += k
	}
	return b.String() + "\n"
}
