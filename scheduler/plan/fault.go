package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong in what was given, with its place and a hint.
type Fault struct {
	File string // name of the file; empty: none
	Line int    // from 1; 0: no place known
	Col  int    // from 1, in octets
	Path string // plan.meals[2].code; empty: the whole
	What string // what is wrong
	Hint string // what to do; may be empty
}

// String is file:line:col: path: what, then the hint on a line of its own.
func (f Fault) String() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File)
		if f.Line > 0 {
			fmt.Fprintf(&b, ":%d:%d", f.Line, f.Col)
		}
		b.WriteString(": ")
	}
	if f.Path != "" {
		b.WriteString(f.Path + ": ")
	}
	b.WriteString(f.What)
	if f.Hint != "" {
		b.WriteString("\n  hint: " + f.Hint)
	}
	return b.String()
}

// Faults is everything wrong at once, in the order of the text.
type Faults []Fault

// Error lists every fault, each on its own line with its hint below.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.String()
	}
	return strings.Join(lines, "\n")
}

// Err returns the faults sorted by place, or nil when there are none.
func (fs Faults) Err() error {
	if len(fs) == 0 {
		return nil
	}
	slices.SortStableFunc(fs, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col))
	})
	return fs
}

// Closest returns the word of the list that a mistyped one most likely meant,
// or "" where none is near: at most one more than a third of its letters differ.
func Closest(word string, list []string) string {
	best, least := "", len(word)/3+1
	for _, w := range list {
		if d := distance(word, w); d <= least && (best == "" || d < least) {
			best, least = w, d
		}
	}
	return best
}

// distance is the Levenshtein distance in octets.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := diagonal
			if a[i-1] != b[j-1] {
				cost++
			}
			diagonal, row[j] = row[j], min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
