package reply

import (
	"sort"
	"strings"
	"time"
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

// firstOf returns the first hit of a concept that is neither denied nor
// supposed.
func (a *analysis) firstOf(concept string) (hit, bool) {
	for _, h := range a.hits[concept] {
		if a.inside("idiom", h.from) && (concept == "medical" || concept == "person") || a.overlaps("fixed", h) && concept == "medical" {
			continue
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
		answers := a.starts("yes", i+1) || a.starts("no", i+1)
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

// comfortable tells whether a reply to a soreness nudge says how it feels.
func (a *analysis) comfortable() bool { return len(a.hits["comfort"]) > 0 || len(a.hits["sore"]) > 0 }

// dayTotal turns hours into a day's total where they are one: by the words, or
// because the nudge asked about the whole day.
func (a *analysis) dayTotal(r *Reading, t *times, v verdict) {
	whole := a.asked.Meal == WholeDay
	for _, s := range t.spans {
		if s.open {
			whole = false
		}
	}
	day := r.At
	if whole && !a.asked.Sent.IsZero() {
		day = a.asked.Sent
		if a.asked.Zone != nil {
			day = day.In(a.asked.Zone)
		}
	}
	if t.yesterday && !day.IsZero() {
		day = day.AddDate(0, 0, -1)
	}
	label := ""
	if !day.IsZero() {
		label = day.Format(time.DateOnly)
	}
	switch {
	case t.worn != nil && (whole || t.total):
		r.Reports = append(r.Reports, Report{What: WornTotal, Hours: *t.worn, Day: label, Span: a.span(t.wornHit.from, t.wornHit.to), Certainty: .85, At: r.At})
	case t.off != nil && whole && len(t.spans) == 0:
		worn := round2(24 - *t.off)
		r.HoursWorn = &worn
		r.Reports = append(r.Reports, Report{What: WornTotal, Hours: worn, Day: label, Span: a.span(t.offHit.from, t.offHit.to), Certainty: .8, At: r.At})
	}
}

// wear turns the answer into reports of wear.
func (a *analysis) wear(r *Reading, v verdict, t times) {
	at := r.At
	kind := a.asked.kind()
	open := false
	for _, s := range t.spans {
		rep := Report{What: OffSpan, From: s.from, To: s.to, Span: a.span(s.w.from, s.w.to), Certainty: .85, At: at}
		if s.open {
			open = true
			rep.What, rep.Since, rep.From, rep.To = Off, s.from, time.Time{}, time.Time{}
		}
		r.Reports = append(r.Reports, rep)
	}
	span := a.span(v.w.from, v.w.to)
	switch {
	case v.is == Yes && a.asked.Meal == WholeDay && v.plain && kind == BandChange && len(a.asked.Meals) > 0 && !a.asked.Sent.IsZero():
		day := a.asked.Sent
		if a.asked.Zone != nil {
			day = day.In(a.asked.Zone)
		}
		for _, m := range a.asked.Meals {
			r.Reports = append(r.Reports, Report{What: On, Fresh: true, At: wall(day, 0, m.Hour*60+m.Minute), Meal: m.Code, Span: span, Certainty: .8})
		}
	case v.is == Yes:
		if !t.freshAt.IsZero() {
			at = t.freshAt
		}
		r.Reports = append(r.Reports, Report{What: On, Fresh: true, At: at, Span: span, Certainty: v.certainty})
	case v.wears && !open:
		r.Reports = append(r.Reports, Report{What: On, At: at, Span: span, Certainty: .8})
	case v.is == No && !open && !(kind == Soreness):
		r.Reports = append(r.Reports, Report{What: Off, At: at, Span: span, Certainty: v.certainty})
	}
}
