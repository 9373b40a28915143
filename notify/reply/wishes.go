package reply

// wishes are what the sender wants of the e-mails, or of wearing at all.
type wishes struct {
	stop, fewer, start, pause bool
	w                         hit
}

// readWishes finds the wish to have no more, fewer, or again e-mails. A bare
// STOP is one only where it stands alone; a stop of wearing is none.
func (a *analysis) readWishes() wishes {
	var v wishes
	for _, h := range a.hits["pause"] {
		if a.denied(h) && !a.deniedWithin(h) || a.supposed(h) || a.clauses[a.of[h.from]].asks && h.value != "want" {
			continue
		}
		v.pause, v.w = true, h
	}
	for _, h := range a.hits["start"] {
		if a.alone(h) || h.to-h.from > 2 && !a.denied(h) && !a.clauses[a.of[h.from]].asks {
			v.start, v.w = true, h
		}
	}
	for _, h := range a.hits["fewer"] {
		if (h.to-h.from > 1 || a.alone(h)) && !a.denied(h) {
			v.fewer, v.w = true, h
		}
	}
	for _, h := range a.hits["stop"] {
		if a.denied(h) && !a.deniedWithin(h) && a.notJustBefore(h) || a.supposed(h) || a.overlaps("pause", h) || a.overlaps("stop-else", h) {
			continue
		}
		if v.fewer && a.overlaps("fewer", h) && h.value != "hard" {
			continue
		}
		v.stop, v.w = true, h
	}
	for _, h := range a.hits["stop-word"] {
		if (a.alone(h) || a.onlyStops(h)) && !a.overlaps("idiom", h) {
			v.stop, v.w = true, h
		}
	}
	if h, ok := a.endOfMail(); ok && !v.stop && !v.fewer && !v.start {
		v.stop, v.w = true, h
	}
	return v
}

// endOfMail is the net under the phrases of stop: a sentence that names the
// e-mails close to a word that ends or refuses things, and does not merely tell
// of having got one.
func (a *analysis) endOfMail() (hit, bool) {
	for _, n := range a.hits["mail-noun"] {
		lo, hi := a.sentenceOf(n.from)
		whole := hit{from: lo, to: hi}
		if a.within("mail-seen", whole) || a.within("new-address", whole) || a.within("stop-else", whole) || a.within("fewer", whole) {
			continue
		}
		for _, e := range a.hits["mail-end"] {
			if e.from >= lo && e.to <= hi && e.from-n.to <= 6 && n.from-e.to <= 6 && !a.inside("pause", e.from) {
				return hit{from: min(e.from, n.from), to: max(e.to, n.to)}, true
			}
		}
	}
	return hit{}, false
}

// notJustBefore tells whether a denial ends at most two words before h: "don't
// take me off" denies, "I never signed up for this take me off" does not.
func (a *analysis) notJustBefore(h hit) bool {
	for _, n := range a.hits["not"] {
		if n.to <= h.from && n.to >= h.from-2 {
			return true
		}
	}
	return false
}

// onlyStops tells whether the clause of h says the word over and over.
func (a *analysis) onlyStops(h hit) bool {
	c := a.clauses[a.of[h.from]]
	for i := c.from; i < c.to; {
		w, ok := a.hitAt("stop-word", i)
		if !ok {
			if w, ok = a.hitAt("filler", i); !ok {
				return false
			}
		}
		i = w.to
	}
	return !c.mark
}

// alone tells whether a phrase is a clause of its own, fillers apart, and no
// question.
func (a *analysis) alone(h hit) bool {
	c := a.clauses[a.of[h.from]]
	return a.skipFiller(c.from, h.from+1) == h.from && a.skipFiller(h.to, c.to) >= c.to && !c.asks && !c.mark
}
