package main

import (
	"io"
	"strings"
	"text/tabwriter"
)

// table prints columns for a terminal. Control characters are shown as the
// replacement character: what came from outside never steers the terminal.
type table struct{ w *tabwriter.Writer }

func newTable(w io.Writer, heads ...string) table {
	t := table{tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)}
	t.row(heads...)
	return t
}

func (t table) row(cells ...string) {
	for i, c := range cells {
		cells[i] = printable(c)
	}
	io.WriteString(t.w, strings.Join(cells, "\t")+"\n")
}

func (t table) flush() { t.w.Flush() }

// printable replaces control characters, among them those that would steer a
// terminal or turn the direction of the text.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return '\uFFFD'
		}
		return r
	}, s)
}
