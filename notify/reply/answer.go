package reply

import "strings"

// verdict is the answer to the nudge's question and what made it.
type verdict struct {
	// is is Yes, No or Unclear, or None when nothing was said.
	is string
	// wears is true when bands are in, though not freshly changed.
	wears bool
	// plain is true of a bare yes or no.
	plain     bool
	certainty float64
	w         hit
	why       string
	// person is true when the answer itself needs one.
	person bool
}

// Kinds of statement.
const (
	sayYes = iota
	sayNo
	saySame
	sayOn
	sayOff
	sayDoubt
	sayBack // takes back what was said
)

// statement is one thing said about the change, in the order of the text.
type statement struct {
	kind int
	w    hit
	// bare is true of an answer word, false of a sentence about bands.
	bare bool
	// turn is true when a word says that this one holds against those before.
	turn bool
	weak bool
	why  string
}

// judge reads the answer. What is said last holds, unless two answers stand
// against each other with nothing that turns from one to the other.
func (a *analysis) judge(spans []offSpan) verdict {
	kind := a.asked.kind()
	var ss []statement
	for k := range a.clauses {
		ss = append(ss, a.statements(k, kind)...)
	}
	v := verdict{is: None}
	last, bareNo, conflict, cameOff := -1, false, false, false
	doubted, soft := false, false
	prev := statement{w: hit{}}
	for n, s := range ss {
		switch s.kind {
		case sayBack:
			if n+1 < len(ss) && ss[n+1].kind <= sayNo {
				conflict, doubted = false, false
				last, bareNo = -1, false
				continue
			}
			switch last {
			case sayYes:
				last, v.w, v.why, conflict = sayNo, s.w, "took the yes back", false
			case sayNo:
				doubted, v.w, v.why = true, s.w, "took the no back"
			}
			continue
		case sayDoubt:
			doubted, v.w = true, s.w
			v.why = s.why
			continue
		case sayYes:
			apart := a.ws[s.w.from].brk == sentence || a.parted(prev.w.to, s.w.from)
			if last == sayNo && bareNo && !s.turn && !(apart && !s.bare) {
				conflict = true
			} else {
				conflict = false
			}
			if s.turn || apart {
				doubted = false
			}
			last, soft = sayYes, s.weak
			bareNo = false
		case sayNo:
			if s.w.value == "excuse" && last == sayYes {
				continue
			}
			conflict = false
			if !(s.bare && last == sayNo) {
				bareNo = s.bare
			}
			last, soft = sayNo, s.weak
			if s.turn {
				doubted = false
			}
		case saySame:
			if last == sayYes && a.closedOver(spans, s.w) {
				continue
			}
			if last == sayNo && !cameOff && !s.turn {
				v.wears = true
				continue
			}
			last, v.wears = saySame, true
		case sayOn:
			v.wears = true
			if last == -1 {
				last = sayOn
			} else {
				continue
			}
		case sayOff:
			if last == sayYes && !s.turn && !a.parted(prev.w.to, s.w.from) && false {
				conflict = true
			}
			if len(spans) > 0 && a.closedOver(spans, s.w) || a.pastStretch(s.w) {
				continue
			}
			if last == sayYes && a.inside("took-off", s.w.from) {
				continue
			}
			v.wears = false
			last, bareNo = sayNo, false
		}
		cameOff = s.kind == sayOff
		prev = s
		v.w, v.plain = s.w, s.bare
		v.why = s.why
	}
	if kind == Soreness {
		a.judgeSoreWeek(&v, ss, last, conflict || doubted)
		return v
	}
	v.certainty = .95
	if !v.plain {
		v.certainty = .85
	}
	if soft {
		v.certainty = .7
	}
	if soft && v.plain && last == sayYes && a.hasAsk() {
		// "ok but why?" is no answer.
		doubted, v.why = true, "only an okay beside a question"
	}
	switch {
	case conflict:
		v.is, v.why, v.person = Unclear, "two answers stand against each other", true
	case doubted:
		v.is, v.person = Unclear, true
		if v.why == "" {
			v.why = "the answer is in doubt"
		}
	case last == sayYes:
		v.is = Yes
	case last == sayNo:
		v.is = No
	case last == saySame:
		v.is = Unclear
		v.why = "the old set is back on"
		if kind == WearStart {
			v.is = Yes
		}
	case last == sayOn:
		v.is = Unclear
		v.why = "wearing, no word of a fresh set"
		if kind == WearStart {
			v.is = Yes
		}
	default:
		v.is = Unclear
		v.why = "the answer is not stated"
	}
	return v
}

// judgeSoreWeek settles a reply to a soreness nudge, which does not ask about a
// change: only a sentence about one counts.
func (a *analysis) judgeSoreWeek(v *verdict, ss []statement, last int, shaky bool) {
	v.is, v.certainty = None, .8
	for _, s := range ss {
		switch {
		case s.bare:
			v.plain = true
		case s.kind == sayYes && (a.inside("changed", s.w.from)):
			v.is, v.w, v.why, v.plain = Yes, s.w, "says they were changed", false
		case s.kind == sayNo && a.inside("change", s.w.from) || s.kind == sayNo && a.inside("changed", s.w.from):
			v.is, v.w, v.why, v.plain = No, s.w, "says they were not changed", false
		case s.kind == sayOn, s.kind == saySame, s.kind == sayYes:
			v.wears = true
		case s.kind == sayOff:
			v.wears = false
		}
	}
	if shaky && v.is == Yes {
		v.is = Unclear
	}
}

// parted tells whether a sentence ends between two words.
func (a *analysis) parted(from, to int) bool {
	for i := from; i <= to && i < len(a.ws); i++ {
		if i > from && a.ws[i].brk == sentence || i == from && i > 0 && i != to && a.ws[i].brk == sentence {
			return true
		}
	}
	return from < to && from < len(a.ws) && a.ws[to].brk == sentence
}

// closedOver tells whether an "off" belongs to an interval that has ended.
func (a *analysis) closedOver(spans []offSpan, w hit) bool {
	for _, s := range spans {
		if s.open {
			continue
		}
		k, m := a.of[w.from], a.of[min(s.w.from, len(a.of)-1)]
		if k == m || abs(k-m) <= 1 {
			return true
		}
		lo, hi := a.sentenceOf(w.from)
		if s.w.from >= lo && s.w.from < hi {
			return true
		}
	}
	return false
}

// pastStretch tells whether an "off" is of a stretch that is over: it has a
// length, and nothing says that it still runs.
func (a *analysis) pastStretch(w hit) bool {
	if w.value == "now" {
		return false
	}
	lo, hi := a.sentenceOf(w.from)
	for _, d := range a.lens {
		if d.w.from >= lo && d.w.from < hi && !d.ago {
			return true
		}
	}
	return a.within("vague", hit{from: w.to, to: hi})
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

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
	other, sameMeal := a.mealOf(k)
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
	_ = sameMeal
	return out
}

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

func sortStatements(s []statement) {
	for i := 1; i < len(s); i++ {
		for j := i; j > 0 && s[j].w.from < s[j-1].w.from; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
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

// answerWord finds the clause's own word of answer: it leads the clause (among
// words that change nothing), or ends it, or the clause holds nothing else.
func (a *analysis) answerWord(k int) (statement, bool) {
	c := a.clauses[k]
	i := a.skipFiller(c.from, c.to)
	if i >= c.to {
		return statement{}, false
	}
	whole := func(end int) bool { return a.skipFiller(end, c.to) >= c.to }
	for {
		// An "ok" before the answer is only breath.
		h, ok := a.hitAt("ok", i)
		if !ok || h.to >= c.to || whole(h.to) || a.starts("yes", i) && a.starts("yes-word", i) {
			break
		}
		if i = a.skipFiller(h.to, c.to); i >= c.to {
			return statement{}, false
		}
	}
	if h, ok := a.hitAt("yes", i); ok && h.to <= c.to && !a.inside("idiom", i) && !a.inside("pause", i) {
		if h.to < c.to && a.starts("or-no", h.to) {
			return statement{}, false
		}
		st := statement{kind: sayYes, w: h, bare: true, why: "a plain yes"}
		if !whole(h.to) {
			// "done" and the like lead other sentences too; "yes" does not.
			if !a.starts("yes-word", i) && !a.mealAt(h.to) && !a.timeAfter(h.to) {
				return statement{}, false
			}
			// "yeah no": the second word is the answer.
			if n, ok := a.hitAt("no-word", a.skipFiller(h.to, c.to)); ok && n.to <= c.to && whole(n.to) {
				return statement{kind: sayNo, w: n, bare: true, why: "a plain no"}, true
			}
		}
		return st, true
	}
	if h, ok := a.hitAt("no", i); ok && h.to <= c.to && !a.inside("idiom", i) {
		if a.ws[i].s == "not" && k > 0 && c.brk < sentence && a.signBefore(a.clauses[k-1].from, c.from) {
			return statement{}, false // "had a rash but not now"
		}
		if a.starts("no-word", i) && !whole(h.to) && a.ofPain(h.to, c.to) {
			return statement{}, false
		}
		if strings.HasSuffix(a.ws[h.to-1].s, "nt") && a.whatElse(h.to, c.to) {
			return statement{}, false
		}
		if whole(h.to) || a.starts("no-word", i) && (!bareNo(a.ws[i].s) || a.noAnswers(h.to, c.to)) || h.to-h.from > 1 && !a.whatElse(h.to, c.to) || a.mealAt(h.to) {
			return statement{kind: sayNo, w: h, bare: true, why: "a plain no"}, true
		}
		return statement{}, false
	}
	if h, ok := a.hitAt("ok", i); ok && h.to <= c.to && whole(h.to) && !a.thanksOnly(i) {
		return statement{kind: sayYes, w: h, bare: true, weak: true, why: "a plain okay"}, true
	}
	// "lunch yes", "changed them, yes", "ana no"
	j := c.to - 1
	for j > c.from && a.starts("filler", j) {
		j--
	}
	if j > c.from {
		if h, ok := a.hitAt("yes", j); ok && h.to <= c.to && a.starts("yes-tail", j) {
			return statement{kind: sayYes, w: h, bare: true, why: "a plain yes"}, true
		}
		if h, ok := a.hitAt("no", j); ok && h.to <= c.to && a.starts("no-word", j) && !a.signBefore(c.from, j) {
			return statement{kind: sayNo, w: h, bare: true, why: "a plain no"}, true
		}
	}
	return statement{}, false
}

// ofPain tells whether the words behind a "no" speak of pain or a sign and not
// of the change.
func (a *analysis) ofPain(from, to int) bool {
	for _, n := range []string{"change", "changed", "forgot", "later", "put-on", "same", "is-off"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return false
			}
		}
	}
	for _, n := range []string{"yellow", "yellow-weak", "red", "sore", "swelling"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return true
			}
		}
	}
	return false
}

func (a *analysis) signBefore(from, to int) bool {
	for _, n := range []string{"yellow", "yellow-weak", "red", "sore", "swelling", "part", "damage"} {
		for _, h := range a.hits[n] {
			if h.from >= from && h.from < to {
				return true
			}
		}
	}
	return false
}

func (a *analysis) thanksOnly(int) bool { return false }

// bareNo is true of a "no" that may as well deny the next word.
func bareNo(s string) bool { return s == "no" || s == "nao" }

// noHolds tells whether a word of denial in the middle of a clause answers.
func (a *analysis) noHolds(h hit, to int) bool {
	if strings.HasSuffix(a.ws[h.to-1].s, "nt") {
		return !a.whatElse(h.to, to)
	}
	return !bareNo(a.ws[h.from].s) || a.noAnswers(h.to, to)
}

// noAnswers tells whether a leading "no" answers the nudge, not the noun
// behind it: "no i forgot", not "no itching".
func (a *analysis) noAnswers(from, to int) bool {
	if from >= to {
		return true
	}
	if a.lang != "es" && a.lang != "pt" && !a.deniesNoun(from, to) {
		return true
	}
	return a.starts("after-no", from) || a.starts("forgot", from) || a.starts("no", from) || a.starts("filler", from) && (a.lang != "es" || !a.starts("subject", from)) || a.starts("turn", from)
}

// deniesNoun tells whether a sign, a part or another thing that can be lacking
// stands within three words: "no real pain", "no broken hooks".
func (a *analysis) deniesNoun(from, to int) bool {
	if a.starts("after-no", from) {
		return false
	}
	for i := from; i < to && i < from+3 && (i == from || a.ws[i].brk == joined); i++ {
		for _, n := range []string{"no-noun", "sore", "severe", "yellow", "yellow-weak", "mouth", "swelling", "red", "ulcer", "fever", "jaw", "part", "damage", "medical", "elsewhere"} {
			if a.starts(n, i) {
				return true
			}
		}
	}
	return false
}

// whatElse tells whether a phrase like "i didnt" goes on to something that is
// not the change.
func (a *analysis) whatElse(from, to int) bool {
	if from >= to {
		return false
	}
	i := from
	return !(a.starts("filler", i) || a.starts("turn", i) || a.starts("after-no", i) || a.starts("cut", i))
}

func (a *analysis) mealAt(i int) bool {
	for j := i; j <= i+2 && j < len(a.ws) && a.ws[j].brk < sentence; j++ {
		for _, m := range mealConcepts {
			if a.starts(m, j) {
				return true
			}
		}
	}
	return false
}

func (a *analysis) timeAfter(i int) bool {
	if i >= len(a.ws) {
		return false
	}
	return a.starts("at", i) || a.ws[i].clock || a.ws[i].isNum || a.starts("turn", i) || a.starts("since", i) || a.starts("ago", i)
}

func (a *analysis) skipFiller(i, to int) int {
	for i < to {
		h, ok := a.hitAt("filler", i)
		if !ok {
			break
		}
		// A longer answer that begins with the same word wins: "i did it".
		if y, ok := a.hitAt("yes", i); ok && y.to-y.from >= h.to-h.from {
			break
		}
		if y, ok := a.hitAt("no", i); ok && y.to-y.from >= h.to-h.from {
			break
		}
		i = h.to
	}
	return i
}

// mealOf tells whether clause k speaks for another meal than the nudge asked
// about, or for that one.
func (a *analysis) mealOf(k int) (other, same bool) {
	asked := a.asked.Meal
	if asked == "" || asked == WholeDay {
		return false, false
	}
	for _, name := range mealConcepts {
		for _, h := range a.in(name, k) {
			if !a.bound(h, k) {
				continue
			}
			if name == "meal-"+asked {
				same = true
			} else {
				other = true
			}
		}
	}
	if same {
		other = false
	}
	return other, same
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

// mealAnswer reads "did lunch not breakfast", "lunch yes, breakfast no": what a
// clause says of the meal that was asked about, or of another one only.
func (a *analysis) mealAnswer(k int) (statement, bool) {
	asked := a.asked.Meal
	if asked == "" || asked == WholeDay {
		return statement{}, false
	}
	var out statement
	found, others := false, false
	for _, name := range mealConcepts {
		for _, h := range a.in(name, k) {
			i := h.from - 1
			for i >= a.clauses[k].from && (a.starts("article", i) || a.starts("meal-lead", i)) {
				i--
			}
			s := statement{w: h, kind: -1, bare: false}
			switch {
			case i >= a.clauses[k].from && a.starts("meal-did", i):
				s.kind, s.why = sayYes, "done for that meal"
			case i >= a.clauses[k].from && a.starts("meal-not", i):
				s.kind, s.why = sayNo, "not done for that meal"
			case h.to < a.clauses[k].to && a.starts("yes-word", h.to):
				s.kind, s.why = sayYes, "done for that meal"
			case h.to < a.clauses[k].to && a.starts("no-word", h.to):
				s.kind, s.why = sayNo, "not done for that meal"
			}
			if s.kind < 0 {
				continue
			}
			if name == "meal-"+asked {
				if a.denied(h) && s.kind == sayYes {
					s.kind = sayNo
				}
				out, found = s, true
			} else {
				others = true
			}
		}
	}
	if !found && others {
		return statement{kind: sayDoubt, w: hit{from: a.clauses[k].from, to: a.clauses[k].to}, why: "answers for another meal"}, true
	}
	out.turn = true
	return out, found
}

// bound tells whether a meal names what the answer is for.
func (a *analysis) bound(h hit, k int) bool {
	i := h.from - 1
	for i >= 0 && a.ws[i+1].brk == joined && a.starts("article", i) {
		i--
	}
	if i < 0 || a.ws[i+1].brk >= soft {
		return a.yesNoAround(h, k)
	}
	for _, b := range a.hits["before-meal"] {
		if b.to == i+1 && !a.starts("at-meal", i) {
			return false
		}
	}
	for _, b := range a.hits["at-meal"] {
		if b.to == i+1 {
			return true
		}
	}
	return a.yesNoAround(h, k)
}

func (a *analysis) yesNoAround(h hit, k int) bool {
	c := a.clauses[k]
	return h.to < c.to && (a.starts("yes", h.to) || a.starts("no", h.to)) || h.from > c.from && (a.starts("yes", h.from-1) || a.starts("no", h.from-1)) ||
		c.to-c.from <= 3
}
