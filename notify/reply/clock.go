package reply

import (
	"sort"
	"strings"
	"time"
)

// timeMention is a time of day said in words [from, to).
type timeMention struct {
	from, to int
	h, m     int
	// half is "a" or "p" when said, "24" when the hour can only be one, ""
	// when the morning and the afternoon are both possible.
	half string
	// how is the word before it: since, from, to, at, or "" for none.
	how string
	// yesterday is true when the sentence says so.
	yesterday bool
	// sure is false of a bare number that only its neighbours make a time.
	sure bool
}

// findTimes reads the times of day of the text.
func (a *analysis) findTimes() {
	for i := 0; i < len(a.ws); i++ {
		if t, ok := a.timeAt(i); ok {
			a.clock = append(a.clock, t)
			if t.sure {
				a.use(t.from, t.to)
			}
			i = t.to - 1
		}
	}
}

// use marks words as told, so that no other reading takes them.
func (a *analysis) use(from, to int) {
	for k := from; k < to; k++ {
		a.used[k] = true
	}
}

// lead returns what the words right before i say of a time that begins there.
func (a *analysis) lead(i int) string {
	for _, name := range []string{"since", "from", "at", "to"} {
		hs := a.hits[name]
		k := sort.Search(len(hs), func(k int) bool { return hs[k].from >= i-5 })
		for ; k < len(hs) && hs[k].from < i; k++ {
			h := hs[k]
			if h.to <= i && a.ws[i].brk < sentence && (h.to == i || a.onlyApprox(h.to, i)) && a.unbroken(h.from, i) {
				return name
			}
		}
	}
	return ""
}

// unbroken tells whether no sentence ends between words from and to.
func (a *analysis) unbroken(from, to int) bool {
	for i := from + 1; i <= to; i++ {
		if a.ws[i].brk == sentence {
			return false
		}
	}
	return true
}

func (a *analysis) onlyApprox(from, to int) bool {
	if from >= to || to-from > 2 {
		return from == to
	}
	for i := from; i < to; i++ {
		if !a.starts("approx", i) && !a.starts("at", i) {
			return false
		}
	}
	return true
}

func (a *analysis) timeAt(i int) (timeMention, bool) {
	w := &a.ws[i]
	t := timeMention{from: i, to: i + 1, how: a.lead(i), sure: true, yesterday: a.near("yesterday", i)}
	if a.inside("not-time", i) && !w.clock && w.half == "" {
		return t, false
	}
	if h, ok := a.hitAt("noon", i); ok {
		t.to, t.h, t.half = h.to, 12, "24"
		return t, true
	}
	if h, ok := a.hitAt("midnight", i); ok {
		t.to, t.h, t.half = h.to, 0, "24"
		return t, true
	}
	// "half past three"
	if h, ok := a.hitAt("past", i); ok && h.to < len(a.ws) && a.ws[h.to].isNum && a.ws[h.to].num >= 1 && a.ws[h.to].num <= 12 {
		add := atoi(h.value)
		t.h, t.m = int(a.ws[h.to].num), add
		if add < 0 {
			t.h, t.m = t.h-1, 60+add
			if t.h == 0 {
				t.h = 12
			}
		}
		t.to = h.to + 1
		t.half = a.dayHalf(h.to)
		return t, true
	}
	switch {
	case w.clock:
		if a.inside("not-time", i) {
			return t, false
		}
		t.h, t.m = w.hh, w.mm
	case w.isNum && !w.ofTen && (w.num == float64(int(w.num)) || w.hh > 0 || w.mm > 0) && w.num >= 0 && w.num <= 24:
		if w.emoji || w.s == "half" {
			return t, false
		}
		t.h, t.m = int(w.num), 0
		if w.digits && (w.hh > 0 || w.mm > 0) {
			if w.mm >= 60 {
				return t, false
			}
			t.m = w.mm
			t.h = w.hh
		}
		if t.m == 0 && w.num != float64(int(w.num)) {
			return t, false
		}
		named := false
		if i+1 < len(a.ws) && a.ws[i+1].brk == joined {
			switch a.ws[i+1].s {
			case "oclock", "uhr", "heures":
				t.to, named = i+2, true
			case "o":
				if i+2 < len(a.ws) && a.ws[i+2].s == "clock" {
					t.to, named = i+3, true
				}
			}
			// "las tres y media"
			if h, ok := a.hitAt("till", i+1); ok {
				t.m, t.to, named = atoi(h.value), h.to, true
				if t.m < 0 {
					t.h, t.m = t.h-1, 60+t.m
				}
			}
		}
		if w.half == "" && !named && a.asked.kind() == Soreness && t.how != "since" && a.dayHalf(t.to-1) == "" && t.m == 0 {
			t.sure = false
		}
		if t.how == "to" && i > 0 && a.ws[i-1].s == "a" && w.half == "" && !named {
			t.sure = false
		}
		if w.half == "" && !named && t.how == "" && a.dayHalf(t.to-1) == "" {
			// A bare number is a time only next to another ("3-5", "3 to 5").
			t.sure = false
		}
		if t.how == "at" && w.half == "" && !named && a.dayHalf(t.to-1) == "" && (t.h == 0 || t.h > 12) {
			t.sure = t.m > 0
		}
		if a.unitFollows(t.to) && !named && w.half == "" {
			return t, false
		}
	default:
		return t, false
	}
	if t.h == 24 {
		t.h = 0
	}
	if w.half != "" {
		t.half = w.half
	} else {
		t.half = a.dayHalf(t.to - 1)
	}
	if t.half == "" && (t.h > 12 || t.h == 0) {
		t.half = "24"
	}
	if t.h > 12 {
		t.half = "24"
	}
	return t, true
}

// unitFollows tells whether word i begins a unit of hours, minutes or days.
func (a *analysis) unitFollows(i int) bool {
	return i < len(a.ws) && a.ws[i].brk == joined && (a.starts("hour", i) || a.starts("minute", i) || a.starts("and-half", i))
}

// dayHalf tells whether "in the morning" or the like stands behind word i.
func (a *analysis) dayHalf(i int) string {
	for j := i + 1; j <= i+2 && j < len(a.ws) && a.ws[j].brk < sentence; j++ {
		if h, ok := a.hitAt("am", j); ok && (h.to-h.from > 1 || a.ws[j].s != "a" && a.ws[j].s != "am") {
			return "a"
		}
		if h, ok := a.hitAt("pm", j); ok && (h.to-h.from > 1 || len(a.ws[j].s) > 2) {
			return "p"
		}
	}
	return ""
}

func atoi(s string) int {
	n, neg := 0, strings.HasPrefix(s, "-")
	for _, r := range strings.TrimPrefix(s, "-") {
		if r >= '0' && r <= '9' {
			n = n*10 + int(r-'0')
		}
	}
	if neg {
		return -n
	}
	return n
}

// minutesOf returns the one or two minutes of the day that a time can mean.
func (t timeMention) minutesOf() []int {
	h := t.h
	switch t.half {
	case "a":
		return []int{h%12*60 + t.m}
	case "p":
		return []int{(h%12+12)*60 + t.m}
	case "24":
		return []int{h*60 + t.m}
	}
	return []int{h%12*60 + t.m, (h%12+12)*60 + t.m}
}

// latest returns the latest instant not after now that the time can mean, the
// day's wall clock read in now's zone.
func (t timeMention) latest(now time.Time) time.Time {
	best := time.Time{}
	for _, m := range t.minutesOf() {
		for back := 0; back <= 1; back++ {
			if t.yesterday && back == 0 {
				continue
			}
			at := wall(now, -back, m)
			if !at.After(now.Add(2*time.Minute)) && at.After(best) {
				best = at
			}
		}
	}
	return best
}

// interval returns the latest from and to that two times can mean, the end not
// after now; the length is under 24 hours.
func interval(from, to timeMention, now time.Time) (time.Time, time.Time, bool) {
	if from.half == "" && to.half != "" && to.half != "24" {
		// "3-5pm" are both of the afternoon, "11-1pm" are not.
		if from.h%12 < to.h%12 || from.h%12 == to.h%12 && from.m < to.m {
			from.half = to.half
		}
	} else if to.half == "" && from.half == "p" && to.h%12 > from.h%12 {
		to.half = "p"
	}
	var bestF, bestT time.Time
	for back := 0; back <= 1; back++ {
		if (from.yesterday || to.yesterday) && back == 0 {
			continue
		}
		for _, tm := range to.minutesOf() {
			end := wall(now, -back, tm)
			if end.After(now.Add(5 * time.Minute)) {
				continue
			}
			for _, fm := range from.minutesOf() {
				start := wall(now, -back, fm)
				if !start.Before(end) {
					start = wall(now, -back-1, fm)
				}
				length := end.Sub(start)
				if length <= 0 || length >= 24*time.Hour {
					continue
				}
				// Of two readings the later end, then the shorter stretch.
				if end.After(bestT) || end.Equal(bestT) && start.After(bestF) {
					bestF, bestT = start, end
				}
			}
		}
	}
	return bestF, bestT, !bestT.IsZero()
}

// wall returns the instant at a minute of the day, days from now's date. In a
// gap it is the first instant after the gap, in an overlap the first of two.
func wall(now time.Time, days, minute int) time.Time {
	y, mo, d := now.Date()
	t := time.Date(y, mo, d+days, minute/60, minute%60, 0, 0, now.Location())
	if t.Hour()*60+t.Minute() != minute%1440 {
		// The wall time does not exist: step to the end of the gap.
		_, after := t.Add(-3 * time.Hour).Zone()
		_, before := t.Add(3 * time.Hour).Zone()
		gap := time.Duration(before-after) * time.Second
		if gap > 0 {
			base := time.Date(y, mo, d+days, minute/60, minute%60, 0, 0, time.FixedZone("", after))
			start, end := base.Add(-gap), base
			for end.Sub(start) > time.Minute {
				mid := start.Add(end.Sub(start) / 2)
				if _, o := mid.In(now.Location()).Zone(); o == after {
					start = mid
				} else {
					end = mid
				}
			}
			return end.In(now.Location()).Truncate(time.Minute)
		}
		return t
	}
	// In an overlap take the first of the two.
	for _, back := range []time.Duration{time.Hour, 30 * time.Minute} {
		if e := t.Add(-back); e.Hour()*60+e.Minute() == minute && e.Day() == t.Day() {
			return e
		}
	}
	return t
}
