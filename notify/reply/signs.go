package reply

// sign is something a person at the clinic must know of.
type sign struct {
	what, level string
	w           hit
	certainty   float64
	why         string
}

// readSigns looks for what could be an allergy or another trouble of the body.
// The worst sign decides. A sign that is denied, only supposed, or plainly of
// another cause is none; where that is not plain, it stands.
func (a *analysis) readSigns() []sign {
	var out []sign
	add := func(s sign) { out = append(out, s) }
	for _, h := range a.hits["red"] {
		if a.denied(h) && !a.deniedWithin(h) || a.deniedInside(h) || a.onlySupposed(h) || a.otherCause(h) || a.before(h) {
			continue
		}
		if h.value == "gums" {
			add(sign{what: FlagSwelling, w: h, certainty: .8, why: "swelling"})
			continue
		}
		add(sign{what: FlagAllergy, level: Red, w: h, certainty: .9, why: "sign of a severe allergy"})
	}
	for _, h := range a.hits["yellow"] {
		if a.denied(h) || a.deniedInside(h) || a.onlySupposed(h) || a.otherCause(h) || a.before(h) {
			continue
		}
		add(sign{what: FlagAllergy, level: Yellow, w: h, certainty: .85, why: "sign of an allergy"})
	}
	for _, h := range a.hits["yellow-weak"] {
		if a.denied(h) || a.onlySupposed(h) || a.otherCause(h) || a.before(h) {
			continue
		}
		// Itching somewhere else counts only when it is tied to the bands.
		if a.near("elsewhere", h.from) && !a.near("mouth", h.from) && !a.near("bands", h.from) {
			continue
		}
		if h.value == "burn" && !a.near("mouth", h.from) {
			continue
		}
		add(sign{what: FlagAllergy, level: Yellow, w: h, certainty: .75, why: "sign of an allergy"})
	}
	for _, f := range []string{"swelling", "ulcer", "fever", "jaw"} {
		for _, h := range a.hits[f] {
			if a.denied(h) && !a.deniedWithin(h) || a.onlySupposed(h) || a.before(h) || a.has("over", a.of[h.from]) || f == "fever" && a.isTimeOrSpan(h) {
				continue
			}
			if f == "swelling" && a.covered(out, h) || f == "fever" && a.near("hay", h.from) {
				continue
			}
			add(sign{what: f, w: h, certainty: .8, why: f})
			break
		}
	}
	return out
}

// deniedWithin tells whether the sign itself holds the denial ("can't
// breathe"), and nothing before it denies it again.
func (a *analysis) deniedWithin(h hit) bool {
	for _, n := range a.hits["not"] {
		if n.from >= h.from && n.to <= h.to {
			return true
		}
	}
	return false
}

// deniedInside is true of "lips are not swollen": the denial stands between
// the part and the sign.
func (a *analysis) deniedInside(h hit) bool {
	if h.value == "neg" {
		return false // the phrase itself is made of a denial
	}
	for _, n := range a.hits["not"] {
		if n.from > h.from && n.to < h.to && a.ws[n.from].s != "cant" && a.ws[n.from].s != "cannot" {
			return true
		}
	}
	for _, n := range a.hits["idiom"] {
		if n.from > h.from && n.to <= h.to {
			return true
		}
	}
	return false
}

// onlySupposed tells whether a sign is only asked about in general: "what if",
// "can latex cause". A condition that tells of now ("if my lips are swelling
// should I") still stands when it speaks of the sender's own body.
func (a *analysis) onlySupposed(h hit) bool {
	if !a.supposed(h) {
		return false
	}
	own := false
	for _, f := range a.in("if", a.of[h.from]) {
		if f.value != "own" {
			return true
		}
		own = own || a.ownBody(f.from, h.to)
	}
	return !own
}

func (a *analysis) ownBody(from, to int) bool {
	for i := from; i < to; i++ {
		if a.starts("own", i) {
			return true
		}
	}
	return false
}

// otherCause tells whether the sentence names a plain cause that is not the
// bands, and does not blame the bands as well.
func (a *analysis) otherCause(h hit) bool {
	if !a.near("cause", h.from) {
		return false
	}
	from, to := a.sentenceOf(h.from)
	for _, c := range a.hits["cause"] {
		if c.from >= from && c.from < to && !a.denied(c) && !(c.from >= h.from && c.to <= h.to) {
			return !a.blamesBands(from, to)
		}
	}
	return false
}

func (a *analysis) blamesBands(from, to int) bool {
	for _, b := range a.hits["blame"] {
		if b.from >= from && b.from < to {
			return true
		}
	}
	return false
}

// before tells whether the sentence speaks of long ago.
func (a *analysis) before(h hit) bool { return a.near("long-ago", h.from) }

func (a *analysis) covered(out []sign, h hit) bool {
	for _, s := range out {
		if s.level == Red && s.w.from < h.to && h.from < s.w.to || s.level == Red && a.of[s.w.from] == a.of[h.from] {
			return true
		}
	}
	return a.otherCause(h)
}

func (a *analysis) isTimeOrSpan(h hit) bool { return a.used[h.from] }

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
		if a.denied(d) || a.bandBetween(p.to, d.from) || a.later2(d, k) {
			continue
		}
		return d, true
	}
	for _, d := range a.hits["damage-before"] {
		if d.to > p.from || d.from < lo || p.from-d.to > 5 {
			continue
		}
		if a.denied(d) || a.bandBetween(d.to, p.from) || a.onPart(d.to, p.from) || a.later2(d, k) {
			continue
		}
		return d, true
	}
	return hit{}, false
}

// later2 tells whether the damage is only feared.
func (a *analysis) later2(d hit, k int) bool {
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

// readSupply tells whether bands are gone or going.
func (a *analysis) readSupply() (out, low bool, w hit) {
	for _, h := range a.hits["running-low"] {
		if a.denied(h) || a.onlySupposed(h) || a.inside("side", h.to-1) && a.near("one-side", h.from) {
			continue
		}
		low, w = true, h
		break
	}
	for _, h := range a.hits["out-of-bands"] {
		denied := a.denied(h)
		if h.value == "deny" {
			denied = !denied && !a.denied(h)
		} else if a.deniedWithin(h) && !a.twiceDenied(h) {
			denied = false
		}
		if denied || a.onlySupposed(h) || a.overlaps("running-low", h) && !a.nought(h) || a.overlaps("out-else", h) || a.aheadOf(h.from) {
			continue
		}
		return true, low, h
	}
	return false, low, w
}

// nought is true of "0 left" and "none left".
func (a *analysis) nought(h hit) bool {
	w := a.ws[h.from]
	return w.isNum && w.num == 0 || w.s == "none"
}

func (a *analysis) twiceDenied(h hit) bool {
	for _, n := range a.hits["not"] {
		if n.to <= h.from && h.from-n.to < 3 && a.of[n.from] == a.of[h.from] {
			return true
		}
	}
	return false
}
