package reply

import (
	"regexp"
	"strings"
)

// isQuoted tells whether a line carries a mark of quotation: ">" behind at most
// three blanks, "&gt;" of a clumsy converter, a bar.
func isQuoted(line string) bool {
	for n := 0; n < 3 && strings.HasPrefix(line, " "); n++ {
		line = line[1:]
	}
	for _, m := range []string{">", "&gt;", "|>", "| >", "»", "┃"} {
		if strings.HasPrefix(line, m) {
			return true
		}
	}
	return false
}

// lastParagraph returns the last lines behind a blank one, on one line.
func lastParagraph(lines []string) string {
	end := len(lines)
	for end > 0 && strings.TrimSpace(lines[end-1]) == "" {
		end--
	}
	from := end
	for from > 0 && strings.TrimSpace(lines[from-1]) != "" {
		from--
	}
	if from == 0 {
		return ""
	}
	return oneLine(strings.Join(lines[from:end], " "))
}

// marked tells whether the next line with anything on it carries a mark of
// quotation.
func marked(lines []string, i int) bool {
	for ; i < len(lines); i++ {
		if strings.TrimSpace(lines[i]) != "" {
			return isQuoted(lines[i])
		}
	}
	return true
}

// attribution returns how many lines from i on are one line of attribution,
// folded over at most three; 0 when none begins there.
func attribution(lines []string, i int) int {
	t := strings.TrimSpace(lines[i])
	if len(t) < 8 || len(t) > 400 {
		return 0
	}
	if endsAttribution(t) && mailMarks.match("attribution", t) && attributionFits(t) {
		return 1
	}
	if !mailMarks.match("attribution-start", t) {
		return 0
	}
	joined := t
	for n := 1; n <= 3 && i+n < len(lines); n++ {
		u := strings.TrimSpace(lines[i+n])
		if u == "" || isQuoted(u) || len(u) > 300 {
			return 0
		}
		joined += " " + u
		if mailMarks.match("attribution-end", u) && mailMarks.match("attribution", joined) && attributionFits(joined) {
			return n + 1
		}
	}
	return 0
}

func endsAttribution(t string) bool {
	return strings.HasSuffix(t, ":") || strings.HasSuffix(t, "：") || !strings.HasSuffix(t, ".")
}

var attributionSign = regexp.MustCompile(`@|\d{1,2}[:.h]\d{2}|\b(19|20)\d\d\b|\d{1,2}[/.-]\d{1,2}`)

// attributionFits asks for an address, a time or a date, so that "my mom wrote
// it on the calendar:" stays the patient's own.
func attributionFits(t string) bool { return attributionSign.MatchString(t) }

// copiedHeader is true where an author line is followed within four lines by
// two other lines of a copied header.
func copiedHeader(lines []string, i int) bool {
	t := strings.TrimSpace(lines[i])
	if len(t) > 300 || !strings.Contains(t, ":") && !strings.Contains(t, "：") || !mailMarks.match("head-from", t) {
		return false
	}
	n := 0
	for j := i + 1; j < len(lines) && j <= i+6; j++ {
		u := clip(strings.TrimSpace(lines[j]), 300)
		if u != "" && mailMarks.match("head-other", u) {
			n++
		}
	}
	return n >= 2
}
