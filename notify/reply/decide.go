package reply

import (
	"sort"
	"strings"
)

// step is one decision, for Explain.
type step struct {
	what string
	span [2]int
	why  string
}

// decide turns an analysis into the fields of a Reading.
func (a *analysis) decide(r *Reading) {
	now := r.At
	t := a.readTimes(now)
	v := a.judge(t.spans)
	signs := a.readSigns()
	part, partW := a.readBroken()
	out, low, supplyW := a.readSupply()
	sore, isSore := a.readSoreness()
	severe, isSevere := a.severePain()
	wish := a.readWishes()
	topic, askW, asks := a.readQuestion()

	var why []string
	person := false
	need := func(reason string) {
		person = true
		for _, w := range why {
			if w == reason {
				return
			}
		}
		why = append(why, reason)
	}
	flag := func(what, level, detail string, w hit, certainty float64) {
		r.Reports = append(r.Reports, Report{What: what, Level: level, Detail: detail, Span: a.span(w.from, w.to), Certainty: certainty, At: now})
	}
	note := func(what string, w hit, reason string) {
		r.steps = append(r.steps, step{what, a.span(w.from, w.to), reason})
	}

	// What cannot wait comes first.
	if h, ok := a.firstOf("self-harm"); ok {
		need("speaks of self-harm or abuse")
		r.NoAnswer = true
		flag(FlagOther, "", "self-harm-or-abuse", h, .9)
		note("needs_person", h, "self-harm or abuse")
	}
	r.Allergy = AllergyNone
	flagged := map[string]bool{}
	for _, level := range []string{Red, Yellow} {
		for _, s := range signs {
			if s.level == level && r.Allergy == AllergyNone {
				r.Allergy = level
				need(s.why)
				flag(FlagAllergy, level, "", s.w, s.certainty)
				note("allergy", s.w, level)
			}
		}
	}
	for _, s := range signs {
		if s.level == "" && !flagged[s.what] {
			flagged[s.what] = true
			need(s.why)
			flag(s.what, "", "", s.w, s.certainty)
			note(s.what, s.w, "named")
		}
	}
	if wish.stop {
		r.Stop = true
		need("wants the e-mails stopped")
		note("stop", wish.w, "asks for no more e-mails")
	}
	if part != "" {
		r.Broken = &part
		need("broken " + part)
		flag(FlagBroken, "", part, partW, .9)
		note("broken", partW, part)
	}
	if out {
		r.OutOfBands = true
		need("out of bands")
		flag(FlagOutOfBands, "", "", supplyW, .9)
		note("out_of_bands", supplyW, "none left")
	} else if low {
		need("running low on bands")
		flag(FlagRunningLow, "", "", supplyW, .8)
		note("running-low", supplyW, "few left")
	}
	if isSore {
		if sore.over {
			need("severe pain")
			flag(FlagOther, "", "severe-pain", sore.w, .8)
		} else {
			value := sore.value
			r.Soreness = &value
			r.Reports = append(r.Reports, Report{What: Sore, Value: value, Span: a.span(sore.w.from, sore.w.to), Certainty: sore.certainty, At: now})
			note("soreness", sore.w, "stated value")
			if value >= 7 {
				need("soreness of 7 or more")
			}
		}
	}
	if isSevere {
		need("severe pain")
		if !isSore {
			flag(FlagOther, "", "severe-pain", severe, .8)
		}
		note("needs_person", severe, "severe pain in words")
	}
	if wish.pause {
		need("means to stop or pause wearing")
		flag(FlagOther, "", "pause", wish.w, .8)
	}
	if wish.fewer {
		r.Wish = "fewer"
		need("wants fewer e-mails")
		flag(FlagOther, "", "fewer", wish.w, .9)
	}
	if wish.start {
		r.Wish = "start"
		need("wants the e-mails back")
		flag(FlagOther, "", "start", wish.w, .9)
	}
	if asks && !(wish.stop && topic == "other" && !a.hasAsk()) {
		r.Question = &topic
		need("asks about " + topic)
		flag(FlagQuestion, "", topic, askW, .85)
		note("question", askW, topic)
	}
	for _, p := range []struct{ concept, reason string }{
		{"medical", "a medical matter"}, {"wrong-person", "may be the wrong person"}, {"new-address", "another address or person to write to"},
		{"plan-date", "the plan's dates may not fit"}, {"person", "something for the desk"},
	} {
		if h, ok := a.firstOf(p.concept); ok {
			need(p.reason)
			flag(FlagOther, "", p.concept, h, .7)
			note("needs_person", h, p.reason)
		}
	}

	// The answer to the question asked.
	if h, ok := a.oneSide(); ok && a.asked.kind() != Soreness {
		v.is, v.w, v.person, v.why, v.wears = Unclear, h, true, "one side only", false
	}
	if h, ok := a.two(); ok {
		v.is, v.w, v.person, v.why, v.wears = Unclear, h, true, "two patients in one answer", false
		need("two patients in one answer")
	}
	r.Changed = v.is
	note("changed", v.w, v.is+": "+v.why)
	if v.person && v.is == Unclear {
		need(v.why)
	}

	r.HoursOff, r.HoursWorn = t.off, t.worn
	for _, s := range t.spans {
		if !s.open {
			r.Off = append(r.Off, Interval{From: s.from.Format("15:04"), To: s.to.Format("15:04")})
		}
	}
	a.dayTotal(r, &t, v)
	a.wear(r, v, t)

	// What is left to tell.
	told := v.is == Yes || v.is == No || v.is == Unclear && v.wears && !v.person
	if a.asked.kind() == Soreness {
		told = isSore || v.wears || v.plain || v.is == Yes || a.comfortable() || isSevere
	}
	if a.asked.Meal == WholeDay && (r.HoursOff != nil || r.HoursWorn != nil) {
		told = true
	}
	empty := strings.TrimSpace(a.text) == ""
	if !told && !empty {
		reason := v.why
		if a.asked.kind() == Soreness || reason == "" {
			reason = "the answer cannot be told"
		}
		need(reason)
		note("needs_person", v.w, reason)
	}
	if a.cut {
		need("longer than what is read")
	}
	if len(r.Reports) == 0 {
		w := v.w
		if w.to == 0 {
			w = hit{to: len(a.ws)}
		}
		detail := "unclear"
		if r.Stop {
			detail = "stop"
			w = wish.w
		}
		flag(FlagOther, "", detail, w, .3)
	}
	sort.SliceStable(r.Reports, func(i, j int) bool { return r.Reports[i].Span[0] < r.Reports[j].Span[0] })
	r.NeedsPerson = person
	if !person {
		switch {
		case empty:
			why = append(why, "nothing but a quotation or a signature")
		case v.is == Yes || v.is == No || v.why != "":
			why = append(why, v.why)
		case isSore:
			why = append(why, "a soreness value")
		}
		if len(why) > 0 && why[0] == "" {
			why = []string{"an ordinary answer"}
		}
		if len(why) == 0 {
			why = []string{"an ordinary answer"}
		}
	}
	r.Why = strings.Join(why, "; ")
}

func (a *analysis) hasAsk() bool {
	for _, c := range a.clauses {
		if c.asks {
			return true
		}
	}
	return false
}

// comfortable tells whether a reply to a soreness nudge says how it feels.
func (a *analysis) comfortable() bool { return len(a.hits["comfort"]) > 0 || len(a.hits["sore"]) > 0 }
