package templates

import (
	"fmt"
	"strings"
)

// Fault is one thing wrong with a message file.
type Fault struct {
	File string // path inside the message directory
	Line int    // from 1; 0 when the fault is of the whole file
	Col  int    // from 1, in characters
	What string // what is wrong; quotes the message file, never a value
	Hint string // what would put it right; may be empty
}

// Error gives file:line:col: what, and the hint on a line of its own.
func (f Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", f.Line, f.Col)
	}
	b.WriteString(": " + f.What)
	if f.Hint != "" {
		b.WriteString("\n  hint: " + f.Hint)
	}
	return b.String()
}

// Faults is every fault found, by file and then by place.
type Faults []Fault

func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// nearest returns the entry of a closed list that a typo most likely meant, or
// "" when none is close.
func nearest(word string, list []string) string {
	best, least := "", len(word)/3+2
	for _, w := range list {
		if d := distance(strings.ToLower(word), strings.ToLower(w)); d < least {
			best, least = w, d
		}
	}
	return best
}

// distance counts the single-character edits between two short words
// (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			diagonal, row[j] = row[j], min(row[j]+1, row[j-1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}

func didYouMean(word string, list []string) string {
	if n := nearest(word, list); n != "" {
		return fmt.Sprintf("did you mean %q?", n)
	}
	return "known are " + strings.Join(list, ", ")
}
