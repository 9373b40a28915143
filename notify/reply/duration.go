package reply

import (
	"math"
	"time"
)

// duration is a length of time said in words.
type duration struct {
	hours float64
	w     hit
	ago   bool
	vague bool
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
