package reply

// mealOf tells whether clause k speaks only for another meal than the one the
// nudge asked about.
func (a *analysis) mealOf(k int) bool {
	other, same := false, false
	asked := a.asked.Meal
	if asked == "" || asked == WholeDay {
		return false
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
	return other && !same
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
