package reply

import (
	"strings"
)

func normalLines(s string) string {
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.ReplaceAll(s, "\r", "\n")
}

// unflow joins the soft lines of format=flowed (RFC 3676 section 4): a line
// that ends in a space goes on in the next of the same quote depth; one space
// of stuffing comes off; "-- " is never joined.
func unflow(s string, delsp bool) string {
	lines := strings.Split(s, "\n")
	var out strings.Builder
	open, depth := false, 0
	for i, line := range lines {
		d := 0
		for d < len(line) && line[d] == '>' {
			d++
		}
		text := line[d:]
		text = strings.TrimPrefix(text, " ")
		if open && (d != depth || text == "-- ") {
			out.WriteByte('\n')
			open = false
		}
		if !open {
			if d > 0 {
				out.WriteString(strings.Repeat(">", d) + " ")
			}
		}
		depth = d
		if strings.HasSuffix(text, " ") && text != "-- " {
			if delsp {
				text = text[:len(text)-1]
			}
			out.WriteString(text)
			open = true
			continue
		}
		out.WriteString(text)
		open = false
		if i < len(lines)-1 {
			out.WriteByte('\n')
		}
	}
	return out.String()
}
