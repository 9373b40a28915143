package reply

// cameOff tells whether clause k says that bands came or are off.
func (a *analysis) cameOff(k int) bool {
	for _, name := range []string{"took-off", "is-off", "span-off"} {
		for _, h := range a.in(name, k) {
			if (name != "span-off" || a.ws[h.from].s == "off" || a.ws[h.from].s == "out") && !a.denied(h) {
				return true
			}
		}
	}
	return false
}

// role says what the words around a time or length say of it: off, on, back,
// fresh, or "" when they say nothing. The clause is asked first, then the
// sentence, then the clause before.
func (a *analysis) role(from, to, k int) string {
	look := func(lo, hi int) string {
		best, dist := "", 1<<30
		consider := func(name, what string, weight int) {
			for _, h := range a.hits[name] {
				if h.from < lo || h.from >= hi {
					continue
				}
				d := from - h.to
				if h.from >= to {
					d = h.from - to + 1
				}
				if d < 0 {
					d = 0
				}
				w := what
				if a.denied(h) {
					switch what {
					case "on", "fresh", "back":
						w = "off"
					case "off":
						if name == "took-off" || name == "is-off" {
							w = "on"
						}
					}
				}
				if d*4+weight < dist {
					best, dist = w, d*4+weight
				}
			}
		}
		consider("is-off", "off", 0)
		consider("took-off", "off", 0)
		consider("span-off", "off", 1)
		consider("span-on", "on", 1)
		consider("wearing", "on", 1)
		consider("same", "back", 0)
		consider("put-on", "back", 0)
		consider("changed", "fresh", 0)
		consider("change", "fresh", 2)
		return best
	}
	c := a.clauses[k]
	if r := look(c.from, c.to); r != "" {
		return r
	}
	lo, hi := a.sentenceOf(from)
	if r := look(lo, hi); r != "" {
		return r
	}
	if lo > 0 {
		plo, phi := a.sentenceOf(lo - 1)
		return look(plo, phi)
	}
	return ""
}

// aheadOf tells whether the clause of word i speaks of what is still to come.
func (a *analysis) aheadOf(i int) bool {
	k := a.of[i]
	for _, h := range a.in("later", k) {
		if h.from < i && !a.inside("idiom", h.from) {
			return true
		}
	}
	return false
}
