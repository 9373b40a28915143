package reply

import (
	"fmt"
	"regexp"
	"strings"
)

// A pattern is a phrase of a vocabulary, compiled. Its elements match words
// one after another, never across the end of a sentence:
//
//	word      that word, accents aside
//	=wörd     that word with exactly these accents
//	pre*      a word that begins so
//	a|b       either
//	a_b|c     either, the first being two words
//	<class>   any phrase of a class of the same file
//	x?        perhaps
//	..  ...   up to two, up to five words between
//	#         a number
//	^  $      the beginning, the end of a clause
type pattern struct {
	concept string
	lang    string
	value   string // what stands behind "=>" on the line
	elems   []element
	line    int
}

type element struct {
	alts [][]form // phrases, one of which must match; a plain word is a phrase of one
	opt  bool
	gap  int // a gap of up to so many words; alts is empty
	num  bool
	edge byte // '^' or '$'
}

// form is one word of a phrase.
type form struct {
	s      string
	prefix bool
	exact  bool
}

func (f form) match(w *word) bool {
	switch {
	case f.exact:
		return w.raw == f.s
	case f.prefix:
		return strings.HasPrefix(w.s, f.s)
	}
	return w.s == f.s
}

var elision = regexp.MustCompile(`(?i)\b([nljdmstc]|qu)'`)

// compile reads one phrase. classes are those known so far.
func compile(src string, classes map[string][][]form) ([]element, error) {
	var out []element
	src = elision.ReplaceAllString(src, "$1 ")
	fields := strings.Fields(src)
	for n := 0; n < len(fields); n++ {
		if two, ok := contracted[strings.ReplaceAll(fields[n], "'", "")]; ok {
			fields = append(fields[:n:n], append([]string{two[0], two[1]}, fields[n+1:]...)...)
		}
	}
	for _, t := range fields {
		e := element{}
		switch {
		case t == "..":
			e.gap = 2
		case t == "...":
			e.gap = 5
		case t == "^" || t == "$":
			e.edge = t[0]
		case strings.TrimSuffix(t, "?") == "#":
			e.num, e.opt = true, strings.HasSuffix(t, "?")
		default:
			if strings.HasSuffix(t, "?") {
				e.opt, t = true, strings.TrimSuffix(t, "?")
			}
			for _, a := range strings.Split(t, "|") {
				if strings.HasPrefix(a, "<") && strings.HasSuffix(a, ">") {
					c, ok := classes[a[1:len(a)-1]]
					if !ok {
						return nil, fmt.Errorf("class %s is not defined above", a)
					}
					e.alts = append(e.alts, c...)
					continue
				}
				var seq []form
				for _, w := range strings.Split(a, "_") {
					f, err := compileForm(w)
					if err != nil {
						return nil, err
					}
					seq = append(seq, f)
				}
				e.alts = append(e.alts, seq)
			}
		}
		out = append(out, e)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("empty phrase")
	}
	if out[0].gap > 0 || out[len(out)-1].gap > 0 {
		return nil, fmt.Errorf("a phrase neither begins nor ends with a gap")
	}
	return out, nil
}

func compileForm(a string) (form, error) {
	f := form{s: strings.ReplaceAll(a, "'", "")}
	if strings.HasPrefix(f.s, "=") {
		f.exact, f.s = true, strings.ToLower(f.s[1:])
	} else {
		if strings.HasSuffix(f.s, "*") {
			f.prefix, f.s = true, strings.TrimSuffix(f.s, "*")
		}
		f.s = fold(f.s)
	}
	if f.s == "" || strings.ContainsAny(f.s, "<>*?=") {
		return f, fmt.Errorf("bad word %q", a)
	}
	return f, nil
}

// firsts adds to set the words, and to prefixes the beginnings, with which the
// pattern can begin; number is true when a number can.
func (p *pattern) firsts() (set []form, number bool) {
	for _, e := range p.elems {
		if e.edge != 0 {
			continue
		}
		if e.num {
			number = true
		}
		for _, a := range e.alts {
			set = append(set, a[0])
		}
		if !e.opt {
			break
		}
	}
	return set, number
}

// match tries the pattern at word i and returns the word behind the match.
func (p *pattern) match(ws []word, i int) (int, bool) {
	return matchElems(p.elems, ws, i, i, true)
}

// matchElems matches the rest of a phrase at word i. tight is true where no
// comma may stand before the next word.
func matchElems(elems []element, ws []word, i, start int, tight bool) (int, bool) {
	if len(elems) == 0 {
		return i, true
	}
	e := &elems[0]
	switch {
	case e.edge == '^':
		if i == 0 || ws[i].brk >= soft || leads[ws[i-1].s] {
			return matchElems(elems[1:], ws, i, start, tight)
		}
		return 0, false
	case e.edge == '$':
		if i == len(ws) || ws[i].brk >= soft {
			return matchElems(elems[1:], ws, i, start, tight)
		}
		return 0, false
	case e.gap > 0:
		for n := 0; n <= e.gap; n++ {
			if i+n > len(ws) || n > 0 && ws[i+n-1].brk == sentence && i+n-1 > start {
				break
			}
			if end, ok := matchElems(elems[1:], ws, i+n, start, false); ok {
				return end, true
			}
		}
		return 0, false
	}
	if i < len(ws) && (i == start || ws[i].brk == joined || ws[i].brk == soft && !tight) {
		if e.num {
			if ws[i].isNum {
				if end, ok := matchElems(elems[1:], ws, i+1, start, true); ok {
					return end, true
				}
			}
		}
	alts:
		for _, a := range e.alts {
			if i+len(a) > len(ws) {
				continue
			}
			for k := range a {
				if !a[k].match(&ws[i+k]) || k > 0 && ws[i+k].brk >= soft {
					continue alts
				}
			}
			if end, ok := matchElems(elems[1:], ws, i+len(a), start, true); ok {
				return end, true
			}
		}
	}
	if e.opt {
		return matchElems(elems[1:], ws, i, start, tight)
	}
	return 0, false
}
