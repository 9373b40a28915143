package reply

import (
	"math"
	"time"
)

// offSpan is a stretch without bands that the text states.
type offSpan struct {
	from, to time.Time // from is zero when only the end is known
	open     bool      // it runs on
	w        hit       // the words
}

// duration is a length of time said in words.
type duration struct {
	hours float64
	w     hit
	ago   bool
	vague bool
}

// times is what a text says of hours.
type times struct {
	spans     []offSpan
	worn, off *float64
	wornHit   hit
	offHit    hit
	total     bool // the hours are a day's total
	yesterday bool
	// freshAt is a stated time of the change, with the words.
	freshAt time.Time
	ago     []duration
}

// readTimes gathers intervals and lengths. now is the message's instant in the
// patient's zone; zero when unknown.
func (a *analysis) readTimes(now time.Time) times {
	var t times
	ds := a.durations()
	a.lens = ds
	a.findTimes()
	paired := make([]bool, len(a.clock))
	// "from 3 to 5", "3-5": two times with a "to" or a dash between.
	for i := 0; i+1 < len(a.clock); i++ {
		if paired[i] {
			continue
		}
		f, e := a.clock[i], a.clock[i+1]
		between := e.from - f.to
		dash := between == 0 && isDash(a.ws[e.from].sep)
		if !(dash || between >= 1 && between <= 3 && (e.how == "to" || e.how == "at" && f.how != "" && a.inside("to", f.to)) && a.ws[f.to].brk < sentence) {
			continue
		}
		if a.ws[e.from].brk == sentence || a.unitFollows(e.to) || a.inside("not-time", e.from) {
			continue
		}
		if dash && !e.sure {
			e.sure = true
		}
		paired[i], paired[i+1] = true, true
		k := a.of[f.from]
		if a.supposed(hit{from: f.from}) || a.aheadOf(f.from) {
			continue
		}
		role := a.role(f.from, e.to, k)
		if role != "off" && !(role == "" && (a.asked.Meal == WholeDay || f.how == "from") && a.asked.kind() != Soreness && !a.has("later", k)) {
			if role == "on" && !now.IsZero() {
				if x, y, ok := interval(f, e, now); ok {
					h := round2(y.Sub(x).Hours())
					t.worn, t.wornHit = &h, hit{from: f.from, to: e.to}
				}
			}
			continue
		}
		n := now
		if n.IsZero() {
			n = time.Date(2000, 1, 1, 23, 59, 0, 0, time.UTC)
		}
		if x, y, ok := interval(f, e, n); ok {
			a.use(f.from, e.to)
			t.spans = append(t.spans, offSpan{from: x, to: y, w: hit{from: f.from, to: e.to}})
		}
	}
	if !now.IsZero() {
		a.running(&t, now, paired)
	}
	a.lengths(&t, ds, now)
	return t
}

func isDash(sep string) bool {
	for _, r := range sep {
		switch r {
		case '-', '–', '—', '~':
			return true
		case ' ':
		default:
			return false
		}
	}
	return false
}

// running reads single times: "off since 1pm", "took them out at 3 and put them
// back at 5", "changed at 1:15".
func (a *analysis) running(t *times, now time.Time, paired []bool) {
	open := -1 // index of the time at which bands came off
	for i, c := range a.clock {
		if paired[i] || !c.sure || c.how == "" && c.half == "" && !a.ws[c.from].clock && !a.starts("noon", c.from) {
			continue
		}
		k := a.of[c.from]
		if a.supposed(hit{from: c.from}) || a.clauses[k].asks || a.aheadOf(c.from) {
			continue
		}
		role := a.role(c.from, c.to, k)
		at := c.latest(now)
		if at.IsZero() {
			continue
		}
		switch {
		case role == "off" && (c.how == "to"):
			continue // "off until 5": the beginning is not known
		case role == "off" && c.how != "since" && !a.cameOff(k):
			continue // only a taking off has an hour of its own
		case role == "off" && !(c.how != "since" && a.dutyNear("changed", k) && !a.has("took-off", k)):
			open = len(t.spans)
			t.spans = append(t.spans, offSpan{from: at, to: now, open: true, w: hit{from: c.from, to: c.to}})
		case (role == "back" || role == "on" || role == "fresh") && open >= 0 && c.how != "since" && at.After(t.spans[open].from):
			s := &t.spans[open]
			s.to, s.open, s.w.to = at, false, c.to
			open = -1
			if role == "fresh" {
				t.freshAt = at
			}
		case role == "fresh" && c.how != "since" && c.how != "to":
			t.freshAt = at
		case role == "on" && c.how == "since":
			h := round2(now.Sub(at).Hours())
			t.worn, t.wornHit = &h, hit{from: c.from, to: c.to}
		}
	}
	// "since lunch", where the plan says when lunch is.
	for _, s := range a.hits["since"] {
		for _, name := range mealConcepts {
			h, ok := a.hitAt(name, s.to)
			if !ok {
				continue
			}
			k := a.of[s.from]
			if a.role(s.from, h.to, k) != "off" {
				continue
			}
			for _, m := range a.asked.Meals {
				if "meal-"+m.Code != name {
					continue
				}
				at := wall(now, 0, m.Hour*60+m.Minute)
				if at.After(now) {
					at = wall(now, -1, m.Hour*60+m.Minute)
				}
				t.spans = append(t.spans, offSpan{from: at, to: now, open: true, w: hit{from: s.from, to: h.to}})
			}
		}
	}
	if open >= 0 {
		// "took them off at 3, back in now"
		s := &t.spans[open]
		for _, name := range []string{"same", "wearing", "put-on", "changed"} {
			for _, h := range a.hits[name] {
				if h.from > s.w.to && !a.denied(h) && !a.aheadOf(h.from) && !a.supposed(h) && !a.inside("is-off", h.from) {
					s.open = false
				}
			}
		}
	}
}

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

// dutyNear tells whether a concept is in clause k.
func (a *analysis) dutyNear(concept string, k int) bool { return a.has(concept, k) }

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

// durations reads every length of time.
func (a *analysis) durations() []duration {
	var out []duration
	for i := 0; i < len(a.ws); i++ {
		d, ok := a.durationAt(i)
		if !ok {
			continue
		}
		a.use(d.w.from, d.w.to)
		i = d.w.to - 1
		out = append(out, d)
	}
	return out
}

func (a *analysis) durationAt(i int) (duration, bool) {
	d := duration{w: hit{from: i}}
	n := len(a.ws)
	at := i
	value, have := 0.0, false
	switch w := &a.ws[i]; {
	case a.starts("half", i):
		h, _ := a.hitAt("half", i)
		value, have, at = .5, true, h.to
		if at < n && a.starts("article", at) {
			at++
		}
	case a.starts("quarter", i):
		h, _ := a.hitAt("quarter", i)
		value, have, at = .25, true, h.to
	case w.isNum && !w.ofTen && !w.clock:
		value, have, at = w.num, true, i+1
		if at < n && a.ws[at].s == "or" || at < n && isDash(a.ws[at].sep) && a.ws[at].isNum && a.ws[at].sep != "" {
			// "2 or 3 hours", "2-3 hours": nobody can say which.
			k := at
			if a.ws[at].s == "or" {
				k++
			}
			if k < n && a.ws[k].isNum && (a.starts("hour", k+1) || a.starts("minute", k+1)) {
				d.vague = true
				value, at = a.ws[k].num, k+1
			}
		}
		if h, ok := a.hitAt("and-half", at); ok {
			value, at = value+.5, h.to
		}
		if at < n && a.starts("of-unit", at) {
			at++
		}
	case a.starts("article", i) && i+1 < n:
		if a.starts("hour", i+1) {
			value, have, at = 1, true, i+1
		} else if a.ws[i+1].isNum && a.ws[i+1].num == 2 && !a.ws[i+1].digits {
			value, have, at = 2, true, i+2
			if at < n && a.starts("of-unit", at) {
				at++
			}
		} else if a.ws[i+1].s == "half" {
			value, have, at = .5, true, i+2
		}
	case a.starts("hour", i) && len(w.s) > 2 && (a.starts("and-half", i+1)):
		value, have, at = 1, true, i
	}
	if !have || at >= n || a.ws[at].brk == sentence {
		return d, false
	}
	unit := 0.0
	if h, ok := a.hitAt("hour", at); ok {
		unit, at = 1, h.to
	} else if h, ok := a.hitAt("minute", at); ok {
		unit, at = 1.0/60, h.to
	} else {
		return d, false
	}
	d.hours = value * unit
	if unit == 1 {
		if h, ok := a.hitAt("and-half", at); ok && at < n && a.ws[at].brk == joined {
			d.hours, at = d.hours+.5, h.to
		} else if at < n && a.ws[at].brk < sentence {
			// "2 hours 30 minutes", "2 hours and 15 min", "2h30"
			k := at
			if a.ws[k].s == "and" || a.ws[k].s == "y" {
				k++
			}
			if k+1 < n && a.ws[k].isNum && a.starts("minute", k+1) {
				d.hours += a.ws[k].num / 60
				at = k + 2
			}
		}
	}
	d.w.to = at
	if h, ok := a.hitAt("ago", at); ok {
		d.ago, d.w.to = true, h.to
	}
	if i > 0 && a.starts("ago-before", i-1) {
		d.ago = true
		d.w.from = i - 1
	}
	if i > 0 && (a.starts("vague", i-1) && a.ws[i].brk == joined) || value > 0 && d.hours > 48 {
		d.vague = true
	}
	return d, true
}

// lengths settles what the stated lengths are lengths of.
func (a *analysis) lengths(t *times, ds []duration, now time.Time) {
	offSum, offN, totalOff := 0.0, 0, false
	for _, d := range ds {
		i := d.w.from
		k := a.of[i]
		if a.clauses[k].asks || a.supposed(d.w) || d.vague {
			continue
		}
		if d.ago {
			t.ago = append(t.ago, d)
			if !now.IsZero() {
				since := now.Add(-time.Duration(d.hours * float64(time.Hour)))
				switch a.role(i, d.w.to, k) {
				case "off":
					t.spans = append(t.spans, offSpan{from: since, to: now, open: true, w: d.w})
				case "fresh":
					t.freshAt = since
				}
			}
			continue
		}
		if a.aheadOf(i) || a.inside("not-time", i) || a.has("not-wear", k) {
			continue
		}
		total := a.near("whole-day", i) || a.asked.Meal == WholeDay
		role := a.role(i, d.w.to, k)
		if role == "" && a.asked.Meal == WholeDay && d.hours >= 12 {
			// So many hours can only be those worn.
			role = "on"
		}
		switch role {
		case "off":
			if totalOff && total {
				continue
			}
			if total && a.near("whole-day", i) && offN > 0 {
				offSum, offN, totalOff = 0, 0, true
			}
			offSum += d.hours
			offN++
			t.offHit = d.w
			t.total = t.total || total
		case "on":
			h := round2(d.hours)
			t.worn, t.wornHit = &h, d.w
			t.total = t.total || total || d.hours >= 10
		}
		t.yesterday = t.yesterday || a.near("yesterday", i)
	}
	spanSum, spanN := 0.0, 0
	for _, s := range t.spans {
		spanSum += s.to.Sub(s.from).Hours()
		spanN++
		if t.offHit.to == 0 {
			t.offHit = s.w
		}
	}
	switch {
	case offN > 0 && spanN > 0 && math.Abs(offSum-spanSum) < .26, offN > 0 && spanN > 0 && totalOff:
		h := round2(offSum)
		t.off = &h
	case offN > 0 || spanN > 0:
		h := round2(offSum + spanSum)
		t.off = &h
	}
	if t.off != nil && *t.off > 24 {
		t.off = nil
	}
	if t.worn != nil && *t.worn > 24 {
		t.worn = nil
	}
}

func round2(f float64) float64 { return math.Round(f*100) / 100 }

var mealConcepts = []string{"meal-PCM", "meal-PCD", "meal-PCV", "meal-HS", "meal-PC"}
