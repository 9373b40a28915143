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
		c.supposes = a.has("if", k)
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
