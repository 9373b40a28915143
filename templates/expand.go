package templates

import (
	"strconv"
	"strings"
)

// MaxRows is how many rows of a list are shown; how many more there are is
// what {{rows_more}} says. With maxRow characters each, the list stays within
// MaxHTML.
const (
	MaxRows = 30
	maxRow  = 160
)

// scope is what the placeholders of one rendering stand for.
type scope struct {
	lang    string
	values  map[string]string // cleaned
	rows    []string          // cleaned
	missing []string          // names asked for that have no value
	marks   []string          // what each mark stands for, in order
}

// has reports whether a value is there: a text that is not empty, a number that
// is not nought.
func (s *scope) has(name string) bool {
	if name == "rows" {
		return len(s.rows) > 0
	}
	v := s.values[name]
	if ph, _ := findPlaceholder(name); ph.Number && v == "0" {
		return false
	}
	return v != ""
}

// put is how one piece of a value is written: as itself in plain text, as a
// mark in Markdown.
type put func(b *strings.Builder, value string)

func plainValue(b *strings.Builder, value string) { b.WriteString(value) }

// markValue leaves a mark that stands for the value until the Markdown is read.
func (s *scope) markValue(b *strings.Builder, value string) {
	if firstMark+rune(len(s.marks)) > lastMark {
		return // there are 6400 marks; the lint keeps a text to maxText characters
	}
	b.WriteRune(firstMark + rune(len(s.marks)))
	s.marks = append(s.marks, value)
}

// expand resolves blocks, plurals and values.
func (s *scope) expand(nodes []node, write put) string {
	var b strings.Builder
	s.expandTo(&b, nodes, write)
	return b.String()
}

func (s *scope) expandTo(b *strings.Builder, nodes []node, write put) {
	for _, n := range nodes {
		switch {
		case n.name == "":
			b.WriteString(n.text)
		case n.block:
			if s.has(n.name) != n.negate {
				s.expandTo(b, n.children, write)
			}
		case n.name == "rows":
			// A list of its own, whatever stands around it.
			b.WriteString("\n\n")
			for _, row := range s.rows {
				b.WriteString("- ")
				write(b, row)
				b.WriteString("\n")
			}
			b.WriteString("\n")
		default:
			v := s.values[n.name]
			if v == "" {
				s.missing = append(s.missing, n.name)
				continue
			}
			if n.forms == nil {
				write(b, v)
				continue
			}
			before, after, number := strings.Cut(n.forms[pluralOf(s.lang).of(v)], "#")
			b.WriteString(before)
			if number {
				write(b, v)
				b.WriteString(after)
			}
		}
	}
}

// newScope cleans the values of a request and lists what is wrong with them,
// by name only.
func newScope(lang string, req Request) (*scope, []string) {
	s := &scope{lang: lang, values: map[string]string{}}
	var wrong []string
	for name, v := range req.Values {
		ph, ok := findPlaceholder(name)
		v = clean(v)
		switch {
		case !ok:
			wrong = append(wrong, "value "+strconv.Quote(name)+" is not a known placeholder")
		case name == "rows":
			wrong = append(wrong, "rows are given in Rows")
		case len([]rune(v)) > MaxValue:
			wrong = append(wrong, "value "+name+" is longer than "+strconv.Itoa(MaxValue)+" characters")
		case ph.Number && v != "" && !isNumber(v):
			wrong = append(wrong, "value "+name+" is not a number")
		default:
			s.values[name] = v
		}
	}
	for name, n := range req.Counts {
		ph, ok := findPlaceholder(name)
		switch {
		case !ok || !ph.Number:
			wrong = append(wrong, "count "+strconv.Quote(name)+" is not a known number")
		case n < 0:
			wrong = append(wrong, "count "+name+" is below nought")
		default:
			s.values[name] = strconv.Itoa(n)
		}
	}
	for i, row := range req.Rows {
		if i == MaxRows {
			s.values["rows_more"] = strconv.Itoa(len(req.Rows) - MaxRows)
			break
		}
		if r := []rune(clean(row)); len(r) > maxRow {
			s.rows = append(s.rows, string(r[:maxRow-1])+"…")
		} else {
			s.rows = append(s.rows, string(r))
		}
	}
	return s, wrong
}
