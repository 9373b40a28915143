package reply

// topics in the order in which they win over one another.
var topics = []string{"pain-reliever", "pain-first", "ran-out", "broken", "forgot", "appointment", "sport-or-meal", "how-often", "hook-up", "pain", "other"}

// readQuestion tells whether the clinic is asked something, or asked to do
// something, and what about.
func (a *analysis) readQuestion() (topic string, w hit, found bool) {
	type asking struct {
		k int
		w hit
	}
	var qs []asking
	_, net := a.endOfMail()
	for k, c := range a.clauses {
		at := hit{from: c.from, to: c.to}
		if net && a.has("mail-noun", k) || a.has("stop", k) || a.has("fewer", k) {
			continue // a bare removal request is no question
		}
		if c.asks {
			qs = append(qs, asking{k, at})
			continue
		}
		if c.mark && !a.has("rhetorical", k) && !a.onlyAnswer(k) {
			qs = append(qs, asking{k, at})
			continue
		}
		for _, h := range a.in("request", k) {
			if a.overlaps("stop", h) || a.denied(h) || a.supposed(h) && !c.mark {
				continue
			}
			qs = append(qs, asking{k, at})
			break
		}
	}
	if len(qs) == 0 {
		return "", hit{}, false
	}
	// The clause itself tells the topic best; then its neighbours; then all.
	rank := func(from, to int) int {
		best := len(topics)
		for _, h := range a.hits["topic"] {
			if h.from < from || h.from >= to || h.value == "forgot" && a.inside("idiom", h.from) {
				continue
			}
			for n, t := range topics {
				if t == h.value && n < best {
					best = n
				}
			}
		}
		return best
	}
	best, at := len(topics), qs[0]
	for _, q := range qs {
		c := a.clauses[q.k]
		if n := rank(c.from, c.to); n < best {
			best, at = n, q
		}
	}
	if best == len(topics) {
		for _, q := range qs {
			lo, hi := a.sentenceOf(a.clauses[q.k].from)
			if n := rank(lo, hi); n < best {
				best, at = n, q
			}
		}
	}
	if best == len(topics) {
		if n := rank(0, len(a.ws)); n < len(topics) && len(a.ws) < 40 {
			best = n
		}
	}
	if best >= len(topics) && a.asked.kind() == Soreness {
		return "pain", at.w, true
	}
	if best >= len(topics) {
		return "other", at.w, true
	}
	if topics[best] == "pain-first" {
		return "pain", at.w, true
	}
	return topics[best], at.w, true
}

// onlyAnswer is true of a clause with a question mark that holds only an
// answer: "yes?" is doubt, no question to the clinic.
func (a *analysis) onlyAnswer(k int) bool {
	c := a.clauses[k]
	i := a.skipFiller(c.from, c.to)
	if i >= c.to {
		return true
	}
	for _, n := range []string{"yes", "no", "ok"} {
		if h, ok := a.hitAt(n, i); ok && a.skipFiller(h.to, c.to) >= c.to {
			return true
		}
	}
	return false
}
