package reply

// firstOf returns the first hit of a concept that is neither denied nor
// supposed.
func (a *analysis) firstOf(concept string) (hit, bool) {
	for _, h := range a.hits[concept] {
		if a.inside("idiom", h.from) && (concept == "medical" || concept == "person") || a.overlaps("fixed", h) && concept == "medical" {
			continue
		}
		if concept == "person" && a.inside("chatter", h.from) {
			continue // nervous of a test, a cousin Bill
		}
		if concept != "self-harm" {
			if a.denied(h) && !a.deniedWithin(h) || a.supposed(h) {
				continue
			}
		}
		// "I'm not" is the wrong person only before a name.
		if h.value == "name" && !(h.to < len(a.ws) && a.ws[h.to].upper && a.ws[h.to].brk == joined && a.isName(h.to)) {
			continue
		}
		return h, true
	}
	return hit{}, false
}

// oneSide finds the word that the change was made on one side only.
func (a *analysis) oneSide() (hit, bool) {
	for _, h := range a.hits["one-side"] {
		if a.supposed(h) || a.clauses[a.of[h.from]].asks || a.overlaps("running-low", h) || a.nearPart(h) {
			continue
		}
		return h, true
	}
	return hit{}, false
}

// nearPart keeps "the left hook broke" from being a one-sided change.
func (a *analysis) nearPart(h hit) bool {
	k := a.of[h.from]
	return (a.has("part", k) && a.has("damage", k) || a.has("sore", k) || a.has("ulcer", k)) && !a.has("changed", k) && !a.has("put-on", k)
}

// two finds an answer for two patients: said outright, or two names that
// answer differently.
func (a *analysis) two() (hit, bool) {
	for _, h := range a.hits["two"] {
		if !a.overlaps("bands-both", h) {
			return h, true
		}
	}
	// "yes for Ana, no for Luis"
	var who []hit
	for k := range a.clauses {
		i := a.clauses[k].from
		if i+2 < len(a.ws) && (a.starts("yes-word", i) || a.starts("no-word", i)) && a.starts("for-whom", i+1) && a.isName(i+2) {
			who = append(who, hit{from: i, to: i + 3})
		}
	}
	if len(who) > 1 {
		return hit{from: who[0].from, to: who[len(who)-1].to}, true
	}
	first := -1
	name := ""
	for k := range a.clauses {
		c := a.clauses[k]
		if c.to-c.from < 2 || c.to-c.from > 5 {
			continue
		}
		i := c.from
		if a.ws[i].s == "and" || a.ws[i].s == "y" || a.ws[i].s == "but" || a.ws[i].s == "pero" {
			i++
		}
		if i+1 >= c.to {
			continue
		}
		answers := a.starts("yes", i+1) || a.starts("no", i+1) || a.starts("meal-did", i+1) || a.starts("forgot", i+1)
		if !answers || !a.isName(i) {
			continue
		}
		if first >= 0 && a.ws[i].s != name {
			return hit{from: first, to: c.to}, true
		}
		first, name = i, a.ws[i].s
	}
	return hit{}, false
}

// isName guesses that a word is somebody's name: no vocabulary knows it, or it
// is written large inside a sentence.
func (a *analysis) isName(i int) bool {
	w := &a.ws[i]
	if w.isNum || w.emoji || len(w.s) < 2 {
		return false
	}
	langs, skip := langOrder, map[string]bool{}
	if w.upper {
		// A name may be a common word of another language ("Ella").
		langs, skip = []string{"en", a.lang}, map[string]bool{"filler": true, "subject": true}
	}
	for _, l := range langs {
		if v := vocabularies[l]; v != nil && v.common[w.s] {
			return false
		}
	}
	for _, c := range []string{"filler", "yes", "no", "ok", "not", "subject", "cut", "meal-PCM", "meal-PCD", "meal-PCV", "meal-HS", "meal-PC", "sore", "yellow", "yellow-weak", "red", "turn", "side", "bands", "later", "copula", "part", "approx", "changed", "ulcer", "swelling", "since", "forgot", "doubt", "hearsay"} {
		if a.starts(c, i) && !(skip[c] && !vocabularies["en"].words[w.s]) {
			return false
		}
	}
	return true
}
