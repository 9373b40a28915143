package chart

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// long writes a date as 25 Nov 2026; the zero date as nothing.
func long(d plan.Date) string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, month(d), d.Year)
}

// short writes a date as Wed 25 Nov.
func short(d plan.Date) string {
	return fmt.Sprintf("%s %d %s", d.Weekday().String()[:3], d.Day, month(d))
}

func month(d plan.Date) string { return d.Month.String()[:3] }

// stretchOf writes a window as one date or from one to another.
func stretchOf(from, to plan.Date) string {
	if from == to {
		return long(from)
	}
	return long(from) + " to " + long(to)
}

// hours writes a span in hours to one decimal.
func hours(m compliance.Minutes) string {
	return strconv.FormatFloat(m.Hours(), 'f', 1, 64)
}

// about writes a span in hours with as few decimals as it needs, two at most.
func about(m compliance.Minutes) string {
	s := strconv.FormatFloat(m.Hours(), 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// clock writes a wall time as HH:MM, midnight at the end of a day as 24:00.
func clock(wall int64) string {
	m := wall / microMinute
	return fmt.Sprintf("%02d:%02d", m/60, m%60)
}

// moment writes an instant as 25 Nov 2026 08:02 on the zone's clock.
func moment(t time.Time, loc *time.Location) string {
	return t.In(loc).Format("2 Jan 2006 15:04")
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// fold breaks words into lines of at most width runes. A word that is longer
// is cut, for a line must not leave its place.
func fold(s string, width int) []string {
	var lines []string
	var line []rune
	flush := func() {
		if len(line) > 0 {
			lines, line = append(lines, string(line)), nil
		}
	}
	for word := range strings.FieldsSeq(s) {
		w := []rune(word)
		if len(line) > 0 && len(line)+1+len(w) > width {
			flush()
		}
		if len(line) > 0 {
			line = append(line, ' ')
		}
		for len(w) > width-len(line) {
			n := width - len(line)
			line, w = append(line, w[:n]...), w[n:]
			flush()
		}
		line = append(line, w...)
	}
	flush()
	return lines
}

// plain makes a text fit for a terminal: whatever is not a letter, a mark, a
// sign or a blank is shown as a question mark, so that no name of a zone can
// move the cursor.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if strconv.IsPrint(r) {
			return r
		}
		return '?'
	}, s)
}

// page joins lines, each folded to the width of a terminal.
func page(lines ...string) string {
	var b strings.Builder
	for _, l := range lines {
		for _, part := range fold(plain(l), textWidth) {
			b.WriteString(part)
			b.WriteByte('\n')
		}
	}
	return b.String()
}
