package reply

// readBroken looks for a broken part: the part's name with a word of damage
// behind or before it in the same clause, or a phrase that says both.
func (a *analysis) readBroken() (part string, w hit) {
	for _, h := range a.hits["broken"] {
		if !a.denied(h) && !a.supposed(h) && !a.mended(h) {
			part, w = h.value, h
			if part == "" {
				part = "wire"
			}
		}
	}
	rank := func(p string) int {
		// Of "the hook on my aligner" the smaller thing is the broken one.
		return map[string]int{"hook": 5, "button": 5, "molar-band": 6, "bracket": 4, "wire": 3, "aligner": 1}[p]
	}
	best := rank(part)
	for _, p := range a.hits["part"] {
		if a.overlaps("not-part", p) || a.supposed(p) || rank(p.value) <= best {
			continue
		}
		d, ok := a.damageOf(p)
		if !ok || a.mended(p) {
			continue
		}
		k := a.of[p.from]
		if a.clauses[k].asks && a.generalAsk(k) {
			continue
		}
		part, best = p.value, rank(p.value)
		w = hit{from: min(p.from, d.from), to: max(p.to, d.to)}
	}
	return part, w
}

// damageOf finds the word of damage that belongs to a part.
func (a *analysis) damageOf(p hit) (hit, bool) {
	k := a.of[p.from]
	c := a.clauses[k]
	lo, hi := c.from, c.to
	// A relative clause or a comma may stand between the two.
	for _, d := range a.hits["damage"] {
		if d.from < p.to || d.from >= hi+4 || d.from-p.to > 7 {
			continue
		}
		if d.from >= hi && a.ws[hi].brk >= soft && !a.starts("pronoun", hi) {
			continue
		}
		if a.denied(d) || a.bandBetween(p.to, d.from) || a.feared(d, k) {
			continue
		}
		return d, true
	}
	for _, d := range a.hits["damage-before"] {
		if d.to > p.from || d.from < lo || p.from-d.to > 5 {
			continue
		}
		if a.denied(d) || a.bandBetween(d.to, p.from) || a.onPart(d.to, p.from) || a.feared(d, k) {
			continue
		}
		return d, true
	}
	return hit{}, false
}

// feared tells whether the damage is only feared.
func (a *analysis) feared(d hit, k int) bool {
	for _, h := range a.in("later", k) {
		if h.from < d.from && h.to >= d.from-1 {
			return true
		}
	}
	return false
}

// bandBetween is true where a band stands nearer the damage than the part.
func (a *analysis) bandBetween(from, to int) bool {
	for i := from; i < to; i++ {
		if a.starts("band-word", i) {
			return true
		}
	}
	return false
}

// onPart is true of "broke on my hook", where the part is only the place.
func (a *analysis) onPart(from, to int) bool {
	for i := from; i < to; i++ {
		if a.starts("place", i) {
			return true
		}
	}
	return false
}

func (a *analysis) mended(h hit) bool { return a.near("fixed", h.from) && !a.near("again", h.from) }

// generalAsk is true of a question about what might happen.
func (a *analysis) generalAsk(k int) bool { return a.clauses[k].supposes }
