package reply

import (
	"strings"
)

// answerWord finds the clause's own word of answer: it leads the clause (among
// words that change nothing), or ends it, or the clause holds nothing else.
func (a *analysis) answerWord(k int) (statement, bool) {
	c := a.clauses[k]
	i := a.skipFiller(c.from, c.to)
	if i >= c.to {
		return statement{}, false
	}
	whole := func(end int) bool { return a.skipFiller(end, c.to) >= c.to }
	for {
		// An "ok" before the answer is only breath.
		h, ok := a.hitAt("ok", i)
		if !ok || h.to >= c.to || whole(h.to) || a.starts("yes", i) && a.starts("yes-word", i) {
			break
		}
		if i = a.skipFiller(h.to, c.to); i >= c.to {
			return statement{}, false
		}
	}
	if h, ok := a.hitAt("yes", i); ok && h.to <= c.to && !a.inside("idiom", i) && !a.inside("pause", i) {
		if h.to < c.to && (a.starts("or-no", h.to) || a.starts("yes-else", h.to)) {
			return statement{}, false
		}
		st := statement{kind: sayYes, w: h, bare: true, why: "a plain yes"}
		if !whole(h.to) {
			// "done" and the like lead other sentences too; "yes" does not.
			if !a.starts("yes-word", i) && !a.mealAt(h.to) && !a.timeAfter(h.to) {
				return statement{}, false
			}
			// "yeah no": the second word is the answer.
			if n, ok := a.hitAt("no-word", a.skipFiller(h.to, c.to)); ok && n.to <= c.to && (whole(n.to) || n.from == h.to && !a.inside("idiom", n.from) && a.noHolds(n, c.to)) {
				return statement{kind: sayNo, w: n, bare: true, why: "a plain no"}, true
			}
		}
		return st, true
	}
	if h, ok := a.hitAt("no", i); ok && h.to <= c.to && !a.inside("idiom", i) && !a.starts("stop", i) {
		if a.ws[i].s == "not" && k > 0 && c.brk < sentence && a.signBefore(a.clauses[k-1].from, c.from) {
			return statement{}, false // "had a rash but not now"
		}
		if a.starts("no-word", i) && !whole(h.to) && a.ofPain(h.to, c.to) {
			return statement{}, false
		}
		if strings.HasSuffix(a.ws[h.to-1].s, "nt") && a.whatElse(h.to, c.to) {
			return statement{}, false
		}
		if whole(h.to) || a.starts("no-word", i) && (!bareNo(a.ws[i].s) || a.noAnswers(h.to, c.to)) || h.to-h.from > 1 && !a.whatElse(h.to, c.to) || a.mealAt(h.to) {
			return statement{kind: sayNo, w: h, bare: true, why: "a plain no"}, true
		}
		return statement{}, false
	}
	if h, ok := a.hitAt("ok", i); ok && h.to <= c.to && whole(h.to) {
		return statement{kind: sayYes, w: h, bare: true, weak: true, why: "a plain okay"}, true
	}
	// "lunch yes", "changed them, yes", "ana no"
	j := c.to - 1
	for j > c.from && a.starts("filler", j) {
		j--
	}
	if j > c.from {
		if h, ok := a.hitAt("yes", j); ok && h.to <= c.to && a.starts("yes-tail", j) {
			return statement{kind: sayYes, w: h, bare: true, why: "a plain yes"}, true
		}
		if h, ok := a.hitAt("no", j); ok && h.to <= c.to && a.starts("no-word", j) && !a.signBefore(c.from, j) {
			return statement{kind: sayNo, w: h, bare: true, why: "a plain no"}, true
		}
	}
	return statement{}, false
}

// ofPain tells whether the words behind a "no" speak of pain or a sign and not
// of the change.
func (a *analysis) ofPain(from, to int) bool {
	for _, n := range []string{"change", "changed", "forgot", "later", "put-on", "same", "is-off"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return false
			}
		}
	}
	for _, n := range []string{"yellow", "yellow-weak", "red", "sore", "swelling"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return true
			}
		}
	}
	return false
}

func (a *analysis) signBefore(from, to int) bool {
	for _, n := range []string{"yellow", "yellow-weak", "red", "sore", "swelling", "part", "damage", "jaw", "severe"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return true
			}
		}
	}
	return false
}

// bareNo is true of a "no" that may as well deny the next word.
func bareNo(s string) bool { return s == "no" || s == "nao" }

// noHolds tells whether a word of denial in the middle of a clause answers.
func (a *analysis) noHolds(h hit, to int) bool {
	if strings.HasSuffix(a.ws[h.to-1].s, "nt") {
		return !a.whatElse(h.to, to)
	}
	return !bareNo(a.ws[h.from].s) || a.noAnswers(h.to, to)
}

// noAnswers tells whether a leading "no" answers the nudge, not the noun
// behind it: "no i forgot", not "no itching".
func (a *analysis) noAnswers(from, to int) bool {
	if from >= to {
		return true
	}
	if a.lang != "es" && a.lang != "pt" && !a.deniesNoun(from, to) {
		return true
	}
	return a.starts("after-no", from) || a.starts("forgot", from) || a.starts("no", from) || a.starts("filler", from) && (a.lang != "es" || !a.starts("subject", from)) || a.starts("turn", from)
}

// deniesNoun tells whether a sign, a part or another thing that can be lacking
// stands within three words: "no real pain", "no broken hooks".
func (a *analysis) deniesNoun(from, to int) bool {
	if a.starts("after-no", from) {
		return false
	}
	for i := from; i < to && i < from+3 && (i == from || a.ws[i].brk == joined); i++ {
		for _, n := range []string{"no-noun", "sore", "severe", "yellow", "yellow-weak", "mouth", "swelling", "red", "ulcer", "fever", "jaw", "part", "damage", "medical", "elsewhere"} {
			if a.starts(n, i) {
				return true
			}
		}
	}
	return false
}

// whatElse tells whether a phrase like "i didnt" goes on to something that is
// not the change.
func (a *analysis) whatElse(from, to int) bool {
	if from >= to {
		return false
	}
	i := from
	return !(a.starts("filler", i) || a.starts("turn", i) || a.starts("after-no", i) || a.starts("cut", i))
}

func (a *analysis) mealAt(i int) bool {
	for j := i; j <= i+2 && j < len(a.ws) && a.ws[j].brk < sentence; j++ {
		for _, m := range mealConcepts {
			if a.starts(m, j) {
				return true
			}
		}
	}
	return false
}

func (a *analysis) timeAfter(i int) bool {
	if i >= len(a.ws) {
		return false
	}
	return a.starts("at", i) || a.ws[i].clock || a.ws[i].isNum || a.starts("turn", i) || a.starts("since", i) || a.starts("ago", i)
}

func (a *analysis) skipFiller(i, to int) int {
	for i < to {
		h, ok := a.hitAt("filler", i)
		if !ok {
			break
		}
		// A longer answer that begins with the same word wins: "i did it".
		if y, ok := a.hitAt("yes", i); ok && y.to-y.from >= h.to-h.from {
			break
		}
		if y, ok := a.hitAt("no", i); ok && y.to-y.from >= h.to-h.from {
			break
		}
		i = h.to
	}
	return i
}
