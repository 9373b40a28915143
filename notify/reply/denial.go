package reply

import (
	"strings"
)

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
	gap := 0
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
			gap = 0
		}
		if i > n.to && a.starts("cut", i) && i <= h.from {
			return false
		}
		if a.starts("but-not", i) || i > n.to && a.starts("yes-word", i) {
			return false
		}
		gap++
	}
	return gap <= reach
}

// supposed tells whether a phrase stands under an "if": a supposed thing
// has not happened.
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
