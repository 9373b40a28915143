package reply

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
