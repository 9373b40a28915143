package reply

// soreValue is a stated soreness.
type soreValue struct {
	value     float64
	w         hit
	certainty float64
	over      bool // more than ten of ten
}

// readSoreness finds the current 0-10 value. Numbers that are times, lengths,
// dates, counts or of another day do not count; of several current ones the
// last does.
func (a *analysis) readSoreness() (soreValue, bool) {
	week := a.asked.kind() == Soreness
	var best soreValue
	found := false
	bestOld := true
	bestNow := false
	for i := range a.ws {
		w := &a.ws[i]
		if !w.isNum || w.num < 0 || w.s == "half" {
			continue
		}
		if a.used[i] && !w.ofTen {
			continue
		}
		if a.inside("not-time", i) && !w.ofTen || a.unitFollows(i+1) {
			continue
		}
		k := a.of[i]
		sore := a.near("sore", i) || a.near("severe", i)
		outOf, last := a.outOfTen(i)
		if !(w.ofTen || outOf) {
			if !week && !sore || !week && !a.soreBound(i) {
				continue
			}
			if !w.digits && !a.standsForValue(i) {
				continue
			}
		}
		if a.clauses[k].asks || a.supposed(hit{from: i}) {
			continue
		}
		if i > 0 && a.ws[i].brk == joined && (a.ws[i-1].s == "out" || a.ws[i-1].s == "of" || a.ws[i-1].s == "de" || a.ws[i-1].s == "sobre" || a.ws[i-1].s == "day") && w.num == 10 {
			continue
		}
		if w.num > 10 {
			if w.ofTen || outOf {
				best, found, bestOld = soreValue{w: hit{from: i, to: last}, over: true}, true, false
			}
			continue
		}
		old := a.oldValue(i, k)
		now := a.nowValue(i, k)
		if found && old && !bestOld {
			continue
		}
		if found && bestNow && !now && !a.correctedBetween(best.w.to, i) {
			continue
		}
		v := soreValue{value: w.num, w: hit{from: i, to: last}, certainty: .9}
		if h, ok := a.hitAt("and-half", i+1); ok {
			v.value, v.w.to = v.value+.5, h.to
		}
		// "4-5": the greater, as the record keeps the day's greater.
		if found && i > 0 && best.w.to == i && (isDash(w.sep) && w.sep != "" || a.ws[i-1].s == "or" || a.ws[i-1].s == "o") {
			v.value = max(v.value, best.value)
			v.certainty = .6
		}
		if !sore && !w.ofTen && !outOf && a.clauses[k].to-a.clauses[k].from > 4 {
			v.certainty = .7
		}
		if found && a.backTo(best.w.to, i) {
			continue
		}
		best, found, bestOld, bestNow = v, true, old, now
	}
	if !found || bestOld && a.onlyOld(best) {
		return soreValue{}, false
	}
	return best, true
}

// onlyOld is true of a value that is plainly of another day, with none of now.
func (a *analysis) onlyOld(v soreValue) bool { return a.near("yesterday", v.w.from) }

// backTo tells whether word i is the old end of "down to 3 from 7".
func (a *analysis) backTo(from, i int) bool {
	return i > 0 && i-from <= 2 && a.starts("from-value", i-1)
}

func (a *analysis) correctedBetween(from, to int) bool {
	for i := from; i < to; i++ {
		if a.starts("correct", i) || a.starts("turn", i) {
			return true
		}
	}
	return false
}

// outOfTen reads "6 out of 10", "6 de 10"; end is the word behind.
func (a *analysis) outOfTen(i int) (bool, int) {
	for j := i + 1; j <= i+3 && j < len(a.ws); j++ {
		if a.ws[j].isNum {
			if a.ws[j].num == 10 && j > i+1 && (a.ws[j-1].s == "of" || a.ws[j-1].s == "de" || a.ws[j-1].s == "sobre" || a.ws[j-1].s == "sur" || a.ws[j-1].s == "von" || a.ws[j-1].s == "em") {
				return true, j + 1
			}
			return false, i + 1
		}
	}
	return false, i + 1
}

// soreBound tells whether a number belongs to a word of pain: in its clause and
// within six words.
func (a *analysis) soreBound(i int) bool {
	k := a.of[i]
	for _, n := range []string{"sore", "severe"} {
		for _, h := range a.hits[n] {
			if d := max(h.from-i, i-h.to); d <= 6 && (a.of[h.from] == k || abs(a.of[h.from]-k) == 1 && a.clauses[k].to-a.clauses[k].from <= 5) {
				return true
			}
		}
	}
	return false
}

// standsForValue tells whether a number word is one, not "no one" or "one of
// them": it ends its clause, or an approximating word leads to it.
func (a *analysis) standsForValue(i int) bool {
	c := a.clauses[a.of[i]]
	if a.ws[i].num != 1 && a.ws[i].num != 2 || a.ws[i].num == 2 && a.ws[i].s != "couple" {
		return true
	}
	if a.ws[i].s == "un" || a.ws[i].s == "una" || a.ws[i].s == "a" || a.ws[i].s == "couple" {
		return false
	}
	j := i + 1
	for j < c.to && a.starts("filler", j) {
		j++
	}
	if j < c.to && !a.starts("value-after", j) {
		return false
	}
	return i == c.from || a.starts("value-before", i-1) || a.starts("approx", i-1)
}

// oldValue tells whether the words around a number say that it is of another
// time.
func (a *analysis) oldValue(i, k int) bool {
	for _, h := range a.in("old-value", k) {
		if h.from < i || h.from > i && h.from-i <= 4 {
			// "was a 7 now 3": what stands behind a "now" is current.
			for _, n := range a.in("now-value", k) {
				if n.to <= i && n.from >= h.from || n.from > i && n.from-i <= 2 {
					return false
				}
			}
			return true
		}
	}
	return false
}

func (a *analysis) nowValue(i, k int) bool {
	for _, n := range a.in("now-value", k) {
		if d := i - n.to; d >= 0 && d <= 3 || n.from > i && n.from-i <= 2 && !a.oldValue(i, k) {
			return true
		}
	}
	return false
}

// severePain finds pain said to be severe in words.
func (a *analysis) severePain() (hit, bool) {
	for _, h := range a.hits["severe"] {
		if a.denied(h) && !a.deniedWithin(h) || a.supposed(h) || a.clauses[a.of[h.from]].asks && a.clauses[a.of[h.from]].supposes {
			continue
		}
		if a.oldValue(h.from, a.of[h.from]) && a.hasAfter("comfort", h.to) {
			continue
		}
		if h.value == "bound" && !a.near("sore", h.from) && a.asked.kind() != Soreness {
			continue
		}
		return h, true
	}
	return hit{}, false
}

func (a *analysis) hasAfter(concept string, i int) bool {
	hs := a.hits[concept]
	return len(hs) > 0 && hs[len(hs)-1].from >= i
}
