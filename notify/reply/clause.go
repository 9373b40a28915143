package reply

import (
	"sort"
	"strings"
	"unicode/utf8"
)

// analysis is a text cut into words and clauses, with the phrases found in it.
type analysis struct {
	text    string
	asked   Asked
	lang    string
	ws      []word
	tail    string // what follows the last word
	cut     bool   // the text ran over maxWords
	hits    map[string][]hit
	clauses []clause
	of      []int // the clause of each word
	used    []bool
	clock   []timeMention
	lens    []duration
}

// clause is words [from, to), and what sets its mood.
type clause struct {
	from, to int
	// asks is true of a question to the clinic, supposes of what only might
	// be, old of what is long past.
	asks, mark, supposes bool
	// brk is the break before the clause.
	brk int
}

// analyse cuts a text and finds the phrases.
func analyse(text string, asked Asked) *analysis {
	a := &analysis{text: text, asked: asked}
	a.ws, a.tail, a.cut = splitWords(text)
	a.lang = detect(a.ws, asked.Lang)
	for i := range a.ws {
		a.ws[i].s = respell(a.ws[i].s, a.lang)
	}
	numbers(a.ws, a.lang)
	a.hits = matcherFor(a.lang).find(a.ws)
	a.dropIdioms()
	a.cutClauses()
	a.used = make([]bool, len(a.ws))
	return a
}

// dropIdioms takes the denials and answers out of phrases that hold a "no" and
// deny nothing.
func (a *analysis) dropIdioms() {
	for _, name := range []string{"not", "no", "yes", "forgot"} {
		keep := a.hits[name][:0:0]
	next:
		for _, h := range a.hits[name] {
			for _, id := range a.hits["idiom"] {
				if h.from >= id.from && h.to <= id.to && !a.within("red", id) {
					continue next // but "no trouble breathing" does deny
				}
			}
			keep = append(keep, h)
		}
		a.hits[name] = keep
	}
}

func (a *analysis) cutClauses() {
	cuts := map[int]bool{}
	for _, h := range a.hits["cut"] {
		cuts[h.from] = true
	}
	for _, h := range a.hits["ask"] {
		if h.from > 0 && h.value != "mark" && !a.inside("idiom", h.from) {
			cuts[h.from] = true
		}
	}
	a.of = make([]int, len(a.ws))
	for i := range a.ws {
		if i == 0 || a.ws[i].brk >= soft || cuts[i] {
			if len(a.clauses) > 0 {
				a.clauses[len(a.clauses)-1].to = i
			}
			a.clauses = append(a.clauses, clause{from: i, to: len(a.ws), brk: a.ws[i].brk})
		}
		a.of[i] = len(a.clauses) - 1
	}
	for k := range a.clauses {
		c := &a.clauses[k]
		after := a.tail
		if c.to < len(a.ws) {
			after = a.ws[c.to].sep
		}
		c.mark = strings.Contains(strings.TrimSpace(after), "?")
		for _, h := range a.in("if", k) {
			_ = h
			c.supposes = true
		}
	}
	// A question mark reaches back over the commas of its sentence.
	for k := len(a.clauses) - 2; k >= 0; k-- {
		if a.clauses[k+1].brk < sentence && a.clauses[k+1].supposes && a.clauses[k].supposes {
			a.clauses[k].mark = a.clauses[k].mark || a.clauses[k+1].mark
		}
	}
	for _, h := range a.hits["ask"] {
		k := a.of[h.from]
		if !a.has("rhetorical", k) && (h.value != "mark" || a.clauses[k].mark) {
			a.clauses[k].asks = true
		}
	}
}

// in returns the hits of a concept that begin in clause k.
func (a *analysis) in(concept string, k int) []hit {
	hs := a.hits[concept]
	c := a.clauses[k]
	i := sort.Search(len(hs), func(i int) bool { return hs[i].from >= c.from })
	j := i
	for j < len(hs) && hs[j].from < c.to {
		j++
	}
	return hs[i:j]
}

func (a *analysis) has(concept string, k int) bool { return len(a.in(concept, k)) > 0 }

// inside tells whether word i lies in a hit of the concept.
func (a *analysis) inside(concept string, i int) bool {
	hs := a.hits[concept]
	// Hits are short: none that begins twelve words before reaches i.
	j := sort.Search(len(hs), func(j int) bool { return hs[j].from >= i-12 })
	for ; j < len(hs) && hs[j].from <= i; j++ {
		if hs[j].to > i {
			return true
		}
	}
	return false
}

// sentenceOf returns the words of the sentence around word i.
func (a *analysis) sentenceOf(i int) (from, to int) {
	from, to = i, i+1
	for from > 0 && a.ws[from].brk < sentence {
		from--
	}
	for to < len(a.ws) && a.ws[to].brk < sentence {
		to++
	}
	return from, to
}

// near tells whether a concept begins in the sentence around word i.
func (a *analysis) near(concept string, i int) bool {
	from, to := a.sentenceOf(i)
	hs := a.hits[concept]
	j := sort.Search(len(hs), func(j int) bool { return hs[j].from >= from })
	return j < len(hs) && hs[j].from < to
}

// denied tells whether a phrase stands under a denial: one before it in the
// same sentence, at most six words off, with no new clause between; a comma,
// "or" and "and" carry the denial on through a list ("no itching, rash or
// swelling"), but not onto a statement of its own ("no rash and my lips are
// swelling").
func (a *analysis) denied(h hit) bool {
	hs := a.hits["not"]
	reach := 7
	for j := len(hs) - 1; j >= 0; j-- {
		n := hs[j]
		if n.from >= h.from {
			continue
		}
		if h.from-n.to > 14 {
			break
		}
		if n.to > h.from || a.answersAlone(n) {
			continue
		}
		if a.carries(n, h, reach) {
			return true
		}
	}
	// "itching: none", "rash? no"
	k := a.of[h.from]
	c := a.clauses[k]
	if h.to == c.to && c.to-c.from <= 4 && k+1 < len(a.clauses) {
		d := a.clauses[k+1]
		if d.to-d.from <= 2 && strings.ContainsAny(a.ws[d.from].sep, "?:-=") && (a.starts("no", d.from) || a.starts("not", d.from)) {
			return true
		}
	}
	// "itching no"
	if h.to < c.to && h.to+1 == c.to && a.starts("no", h.to) {
		return true
	}
	return false
}

// answersAlone is true of a leading "no" that answers the nudge and denies
// nothing behind it: "no i changed them".
func (a *analysis) answersAlone(n hit) bool {
	if n.to-n.from != 1 {
		return false
	}
	if !bareNo(a.ws[n.from].s) {
		// "nope", "nah" only ever answer.
		w, ok := a.hitAt("no-word", n.from)
		c := a.clauses[a.of[n.from]]
		return ok && w.to == n.to && !strings.HasSuffix(a.ws[n.from].s, "nt") && a.skipFiller(c.from, c.to) == n.from
	}
	c := a.clauses[a.of[n.from]]
	if a.skipFiller(c.from, c.to) != n.from {
		return false
	}
	return n.to >= c.to || a.noAnswers(n.to, c.to) && !a.starts("not", n.to)
}

func (a *analysis) carries(n, h hit, reach int) bool {
	list, gap := false, 0
	for i := n.to; i <= h.from && i < len(a.ws); i++ {
		w := &a.ws[i]
		if i > n.from && w.brk == sentence {
			return false
		}
		if i >= n.to && (w.brk == soft || w.s == "and" || w.s == "y" || w.s == "et" || w.s == "und" || w.s == "e") {
			if w.brk == soft && (n.value != "list" || a.starts("subject", i) || a.starts("copula", i)) {
				return false
			}
			if a.within("copula", h) || a.within("copula", hit{from: i, to: h.from}) {
				return false
			}
			list, gap = true, 0
		}
		if i > n.to && a.starts("cut", i) && i <= h.from {
			return false
		}
		if a.starts("but-not", i) || i > n.to && a.starts("yes-word", i) {
			return false
		}
		gap++
	}
	_ = list
	return gap <= reach
}

// within tells whether a hit of a concept begins inside h.
func (a *analysis) within(concept string, h hit) bool {
	hs := a.hits[concept]
	j := sort.Search(len(hs), func(j int) bool { return hs[j].from >= h.from })
	return j < len(hs) && hs[j].from < h.to
}

// starts tells whether a hit of the concept begins at word i.
func (a *analysis) starts(concept string, i int) bool {
	hs := a.hits[concept]
	j := sort.Search(len(hs), func(j int) bool { return hs[j].from >= i })
	return j < len(hs) && hs[j].from == i
}

// hitAt returns the longest hit of a concept that begins at word i.
func (a *analysis) hitAt(concept string, i int) (hit, bool) {
	hs := a.hits[concept]
	j := sort.Search(len(hs), func(j int) bool { return hs[j].from >= i })
	if j < len(hs) && hs[j].from == i {
		return hs[j], true
	}
	return hit{}, false
}

// span turns words [from, to) into code points of the text.
func (a *analysis) span(from, to int) [2]int {
	if len(a.ws) == 0 || from >= to || from >= len(a.ws) {
		return [2]int{}
	}
	to = min(to, len(a.ws))
	start := utf8.RuneCountInString(a.text[:a.ws[from].start])
	return [2]int{start, start + utf8.RuneCountInString(a.text[a.ws[from].start:a.ws[to-1].end])}
}

// sense is the clause of a hit read for its mood: a supposed thing or one
// asked about has not happened.
func (a *analysis) supposed(h hit) bool {
	k := a.of[h.from]
	if a.clauses[k].supposes {
		for _, c := range a.in("if", k) {
			if c.from <= h.from {
				return true
			}
		}
	}
	return false
}
