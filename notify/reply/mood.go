package reply

// sarcastic asks of a sarcastic phrase that it stand alone or next to an
// answer.
func (a *analysis) sarcastic(h hit) bool {
	if h.to-h.from == 1 && !a.ws[h.from].emoji {
		// "yes... not": a lone word at the very end behind an answer.
		return h.to == a.clauses[a.of[h.from]].to && h.from == a.clauses[a.of[h.from]].from && h.to-h.from == 1 && h.from > 0 && h.to == len(a.ws) && len(a.ws) <= 4
	}
	return true
}

// onlyNo is true of statements that all deny: a "no" told by another one is
// taken as it is.
func onlyNo(ss []statement) bool {
	for _, s := range ss {
		if s.kind != sayNo {
			return false
		}
	}
	return len(ss) > 0
}

// onlyTurn tells whether clause k holds nothing but a "wait" or an "actually".
func (a *analysis) onlyTurn(k int) bool {
	c := a.clauses[k]
	for i := c.from; i < c.to; {
		h, ok := a.hitAt("turn", i)
		if !ok {
			if h, ok = a.hitAt("filler", i); !ok {
				return false
			}
		}
		i = h.to
	}
	return a.has("turn", k)
}

// sinceBefore is true of "since I put them in", which only dates something
// else.
func (a *analysis) sinceBefore(h hit) bool {
	for i := max(0, h.from-3); i <= h.from; i++ {
		if i > h.from-3 && a.ws[i].brk > joined {
			continue
		}
		if a.starts("since", i) && a.ws[i].s != "as" {
			return true
		}
	}
	return false
}

// laterIn returns the first word of clause k that puts things off, or -1.
func (a *analysis) laterIn(k int) int {
	for _, h := range a.in("later", k) {
		if h.value == "dating" || h.value == "when" && a.signBefore(a.clauses[k].from, a.clauses[k].to) {
			continue
		}
		if !a.inside("idiom", h.from) && !a.inside("changed", h.from) {
			return h.from
		}
	}
	return -1
}

// doubtIn tells whether clause k doubts: "maybe", but not the "maybe" of a
// length or a number, nor the "don't know" of a question.
func (a *analysis) doubtIn(k int) bool {
	for _, h := range a.in("doubt", k) {
		near := h.to < len(a.ws) && a.ws[h.to].brk == joined && (a.ws[h.to].isNum || a.starts("article", h.to))
		if a.inside("ask", h.from) || near && a.starts("approx", h.from) {
			continue
		}
		return true
	}
	return false
}

// saw tells whether the one who reports was there.
func (a *analysis) saw(k int) bool { return a.has("saw", k) }

// aside tells whether a doubt is about something else: pain, a date.
func (a *analysis) aside(k int) bool {
	return a.has("sore", k) || a.has("part", k) || a.has("yellow", k) || a.has("yellow-weak", k) || a.has("running-low", k) || len(a.clauses) > 1 && !a.aboutBands(k)
}

func (a *analysis) aboutBands(k int) bool {
	for _, name := range []string{"change", "changed", "put-on", "same", "wearing", "is-off", "took-off", "bands"} {
		if a.has(name, k) {
			return true
		}
	}
	return len(a.clauses) == 1 && a.clauses[k].to-a.clauses[k].from <= 6
}

// wearWords tells whether clause k speaks of putting bands on or changing them.
func (a *analysis) wearWords(k int) bool {
	for _, name := range []string{"change", "changed", "put-on", "same"} {
		if a.has(name, k) {
			return true
		}
	}
	return false
}

// saidBefore tells whether a clause before k already answers.
func (a *analysis) saidBefore(k int) bool {
	to := a.clauses[k].from
	for _, name := range []string{"yes-word", "no-word", "changed", "forgot"} {
		if hs := a.hits[name]; len(hs) > 0 && hs[0].from < to {
			return true
		}
	}
	return false
}

// answersFirst tells whether a question begins with an answer ("yes, can I
// eat now"); its answer counts, the rest does not.
func (a *analysis) answersFirst(k int) bool {
	i := a.clauses[k].from
	return a.starts("yes", i) && a.starts("ask", i+1) || a.starts("no", i) && len(a.ws[i].s) > 1 && a.starts("ask", i+1)
}

// changedOther is true where something else was changed: an address, a mind.
func (a *analysis) changedOther(h hit) bool {
	if h.from > 0 && h.to == h.from+1 && a.ws[h.from].brk == joined && a.starts("other-thing", h.from-1) {
		return true // "his number changed"
	}
	for i := h.to; i < h.to+3 && i < len(a.ws) && a.ws[i].brk == joined; i++ {
		if a.starts("other-thing", i) {
			return true
		}
	}
	for i := h.from; i < h.to; i++ {
		if a.starts("other-thing", i) {
			return true
		}
	}
	return false
}

// taken tells whether the words of a statement say something else: a sign, a
// part that is gone, a wish.
func (a *analysis) taken(name string, h hit) bool {
	for _, c := range []string{"red", "yellow", "self-harm", "stop", "running-low", "pause"} {
		if a.overlaps(c, h) && c != name {
			return true
		}
	}
	return name == "forgot" && a.has("part", a.of[h.from]) && (a.overlaps("damage-before", h) || a.overlaps("damage", h))
}
