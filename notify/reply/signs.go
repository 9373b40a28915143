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
