package reply

// statements reads one clause.
func (a *analysis) statements(k int, kind string) []statement {
	c := a.clauses[k]
	if c.asks && !a.answersFirst(k) {
		return nil
	}
	var out []statement
	add := func(s statement) { out = append(out, s) }
	turn := a.has("turn", k) || k > 0 && a.onlyTurn(k-1)
	doubt := a.doubtIn(k)
	hearsay := a.has("hearsay", k)
	other := a.mealOf(k)
	if a.has("same", k) {
		other = false // "the breakfast ones" are the old set
	}

	// Answer words.
	if s, ok := a.answerWord(k); ok {
		s.turn = turn
		if c.mark && !c.asks && a.onlyAnswer(k) {
			s.kind, s.why = sayDoubt, "answers with a question mark"
		}
		if other {
			s.kind, s.why = sayDoubt, "answers for another meal"
		}
		add(s)
	}
	for _, name := range []string{"correct", "turn"} {
		for _, m := range a.in(name, k) {
			i := a.skipFiller(m.to, c.to)
			for _, s := range []statement{{kind: sayYes, why: "a plain yes"}, {kind: sayNo, why: "a plain no"}} {
				word := "yes-word"
				if s.kind == sayNo {
					word = "no-word"
				}
				if h, ok := a.hitAt(word, i); ok && i < c.to && !a.inside("idiom", i) && (len(out) == 0 || out[len(out)-1].w.from != i) &&
					(s.kind == sayYes || a.noHolds(h, c.to)) {
					s.w, s.bare, s.turn = h, true, true
					add(s)
				}
			}
		}
	}
	if s, ok := a.mealAnswer(k); ok {
		return append(out, s)
	}
	for _, h := range a.hits["sarcasm"] {
		if a.of[h.from] == k && a.sarcastic(h) {
			add(statement{kind: sayDoubt, w: h, why: "may be meant the other way"})
		}
	}
	// Sentences about bands.
	done := map[int]bool{}
	say := func(name string, f func(h hit) (statement, bool)) {
		if c.mark && !a.has("rhetorical", k) {
			return // asked, not told
		}
		for _, h := range a.in(name, k) {
			if a.taken(name, h) {
				continue
			}
			if done[h.from] || a.inside("idiom", h.from) && name != "later" && name != "forgot" {
				continue
			}
			if c.supposes && a.supposed(h) {
				continue
			}
			if s, ok := f(h); ok {
				done[h.from] = true
				s.w, s.turn = h, s.turn || turn
				if other && (s.kind == sayOff || s.kind == sayOn) {
					continue // off for another meal is no answer at all
				}
				if other {
					s.kind, s.why = sayDoubt, "answers for another meal"
				}
				add(s)
			}
		}
	}
	later := a.laterIn(k)
	say("changed", func(h hit) (statement, bool) {
		if a.denied(h) {
			return statement{kind: sayNo, why: "says they were not changed"}, true
		}
		if later >= 0 && later < h.from {
			return statement{kind: sayNo, why: "means to change them later"}, true
		}
		if a.sinceBefore(h) {
			return statement{}, false
		}
		if c.asks {
			return statement{}, false
		}
		if a.changedOther(h) {
			return statement{}, false
		}
		return statement{kind: sayYes, why: "says they were changed"}, true
	})
	say("change", func(h hit) (statement, bool) {
		if a.overlaps("changed", h) || a.overlaps("same", h) || a.overlaps("put-on", h) || a.overlaps("pause", h) || a.changedOther(h) {
			return statement{}, false
		}
		if a.denied(h) {
			return statement{kind: sayNo, why: "says they were not changed"}, true
		}
		if later >= 0 || h.value == "meant" && !c.asks && !a.signBefore(c.from, c.to) {
			return statement{kind: sayNo, why: "means to change them later"}, true
		}
		return statement{}, false
	})
	say("forgot", func(h hit) (statement, bool) {
		if a.denied(h) || a.inside("idiom", h.from) {
			return statement{}, false
		}
		return statement{kind: sayNo, weak: true, why: "says it was not done"}, true
	})
	say("same", func(h hit) (statement, bool) {
		if a.overlaps("changed", h) && !a.longer("same", "changed", h) {
			return statement{}, false
		}
		if a.denied(h) {
			return statement{}, false
		}
		if later >= 0 && later < h.from {
			return statement{kind: sayNo, why: "means to put them in later"}, true
		}
		return statement{kind: saySame, why: "the old set is back on"}, true
	})
	say("put-on", func(h hit) (statement, bool) {
		if a.overlaps("changed", h) || a.overlaps("same", h) || a.sinceBefore(h) {
			return statement{}, false
		}
		if a.denied(h) {
			return statement{kind: sayNo, why: "says they were not put on"}, true
		}
		if later >= 0 && later < h.from {
			return statement{kind: sayNo, why: "means to put them in later"}, true
		}
		return statement{kind: sayYes, weak: true, why: "says they were put on"}, true
	})
	say("is-off", func(h hit) (statement, bool) {
		if a.denied(h) && !a.within("not", h) {
			return statement{kind: sayOn, why: "wearing"}, true
		}
		if later >= 0 && later < h.from || a.overlaps("damage", h) && (a.has("part", k) || k > 0 && a.has("part", k-1)) || a.overlaps("out-of-bands", h) || a.overlaps("red", h) {
			return statement{}, false
		}
		return statement{kind: sayOff, why: "says they are off"}, true
	})
	say("took-off", func(h hit) (statement, bool) {
		if a.denied(h) {
			return statement{kind: sayOn, why: "never took them off"}, true
		}
		if later >= 0 && later < h.from || a.overlaps("is-off", h) {
			return statement{}, false
		}
		return statement{kind: sayOff, why: "says they were taken off"}, true
	})
	say("wearing", func(h hit) (statement, bool) {
		if a.overlaps("changed", h) || a.overlaps("same", h) || a.overlaps("put-on", h) || a.overlaps("is-off", h) {
			return statement{}, false
		}
		if a.denied(h) {
			return statement{kind: sayOff, why: "says they are off"}, true
		}
		if later >= 0 && later < h.from {
			return statement{}, false
		}
		return statement{kind: sayOn, why: "wearing"}, true
	})
	say("later", func(h hit) (statement, bool) {
		for _, s := range out {
			if s.kind == sayNo || s.kind == sayYes && !s.bare {
				return statement{}, false
			}
		}
		switch h.value {
		case "when":
			// "when I got home I changed them" only dates the rest.
			if len(out) > 0 || a.signBefore(c.from, c.to) {
				return statement{}, false
			}
		case "dating":
			if len(out) > 0 || a.saidBefore(k) || a.signBefore(c.from, c.to) {
				return statement{}, false
			}
		case "verb":
			if !a.wearWords(k) && (len(a.clauses) > 1 && a.saidBefore(k) || c.to-c.from > 6) {
				return statement{}, false
			}
		}
		if a.has("pause", k) || a.has("stop", k) || a.has("self-harm", k) || a.has("request", k) || a.overlaps("request", h) || a.overlaps("running-low", h) || a.denied(h) && !a.within("not", h) {
			return statement{}, false
		}
		return statement{kind: sayNo, weak: true, why: "means to do it later"}, true
	})
	if other && later >= 0 {
		// What is meant for a later meal says nothing of this one.
		out = nil
	}
	sortStatements(out)
	if doubt || hearsay && !a.saw(k) && !onlyNo(out) {
		why := "is not sure"
		if !doubt {
			why = "tells what another one said"
		}
		if len(out) > 0 || !a.aside(k) {
			out = append(out, statement{kind: sayDoubt, w: hit{from: c.from, to: c.to}, why: why})
		}
	}
	if cs := a.in("correct", k); len(cs) > 0 {
		// A marker takes back what stands before it.
		s := statement{kind: sayBack, w: cs[0], why: "took it back"}
		out = append(out, s)
		sortStatements(out)
	}
	return out
}

func sortStatements(s []statement) {
	for i := 1; i < len(s); i++ {
		for j := i; j > 0 && s[j].w.from < s[j-1].w.from; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
}

func (a *analysis) overlaps(concept string, h hit) bool {
	for i := h.from; i < h.to; i++ {
		if a.inside(concept, i) {
			return true
		}
	}
	return false
}

func (a *analysis) longer(one, two string, h hit) bool {
	for _, g := range a.hits[two] {
		if g.from < h.to && g.to > h.from && g.to-g.from > h.to-h.from {
			return false
		}
	}
	return true
}
