package reply

import (
	"time"
)

// offSpan is a stretch without bands that the text states.
type offSpan struct {
	from, to time.Time // from is zero when only the end is known
	open     bool      // it runs on
	w        hit       // the words
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
		case role == "off" && !(c.how != "since" && a.has("changed", k) && !a.has("took-off", k)):
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

var mealConcepts = []string{"meal-PCM", "meal-PCD", "meal-PCV", "meal-HS", "meal-PC"}
