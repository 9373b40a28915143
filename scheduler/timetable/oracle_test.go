package timetable

import (
	"sort"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// oracle reckons a timetable the slow way: it writes down every minute of real
// time with the reading of the wall clock beside it, marks those that are
// quiet, and walks along them. It asks neither plan.Instant nor the zone's
// bounds.
type oracle struct {
	p       *plan.Plan
	loc     *time.Location
	first   time.Time
	reached []int64 // by minute: the furthest reading, in minutes, that the wall clock has shown so far
	quiet   []bool
}

func newOracle(s scene) *oracle {
	o := &oracle{p: s.p, loc: s.loc, first: time.Date(s.anchor.Year, s.anchor.Month, s.anchor.Day-20, 0, 0, 0, 0, time.UTC)}
	furthest := int64(-1 << 62)
	for m := range 42 * 1440 {
		l := o.first.Add(time.Duration(m) * time.Minute).In(s.loc)
		_, offset := l.Zone()
		furthest = max(furthest, (l.Unix()+int64(offset))/60)
		o.reached = append(o.reached, furthest)
	}
	o.quiet = make([]bool, len(o.reached))
	if q := s.p.Quiet; q.From != q.To {
		for d := -19; d < 20; d++ {
			from, to := s.anchor.AddDays(d), s.anchor.AddDays(d)
			if q.From > q.To {
				to = s.anchor.AddDays(d + 1)
			}
			for m := o.minute(from, q.From); m < o.minute(to, q.To); m++ {
				o.quiet[m] = true
			}
		}
	}
	return o
}

// minute is the first minute at which the wall clock has reached a reading.
func (o *oracle) minute(d plan.Date, c plan.Clock) int {
	reading := time.Date(d.Year, d.Month, d.Day, 0, int(c), 0, 0, time.UTC).Unix() / 60
	return sort.Search(len(o.reached), func(m int) bool { return o.reached[m] >= reading })
}

func (o *oracle) time(m int) time.Time { return o.first.Add(time.Duration(m) * time.Minute) }

// wish is a nudge before any rule: which, and its minutes.
type wish struct {
	kind       plan.Kind
	slot       string
	due, until int
	whole      bool
	why        map[string]bool // the reasons of its own kind that hold
}

func (o *oracle) wishes(d plan.Date) []wish {
	var out []wish
	p, n := o.p, d.DaysSince(o.p.BandsStart)

	notice := o.minute(d, p.NoticeAt)
	slots := map[string]bool{}
	if n == -3 {
		slots["d-3"] = true
	}
	if n == -1 {
		slots["d-1"] = true
	}
	if n == 0 {
		slots["d0"] = true
	}
	for _, b := range p.Bands {
		if n > 0 && (b.From == d || !b.To.IsZero() && b.To.AddDays(1) == d) {
			slots["b/"+d.String()] = true
		}
	}
	for slot := range slots {
		out = append(out, wish{kind: "wear-start", slot: slot, due: notice, until: o.minute(d.AddDays(1), 0)})
	}

	// Every start of wear and its days; a restart outweighs the first start of
	// the same date.
	type begin struct {
		weight int
		prefix string
		k      int
	}
	begins := map[string]begin{}
	if n >= 0 && n < 7 {
		begins["first"] = begin{2 * -n, "", n + 1}
	}
	for _, r := range p.Restarts {
		if k := d.DaysSince(r); k >= 0 && k < 3 {
			begins[r.String()] = begin{2*-k + 1, r.String() + "/", k + 1}
		}
	}
	heaviest := -1 << 30
	for _, b := range begins {
		heaviest = max(heaviest, b.weight)
	}
	for _, b := range begins {
		due := o.minute(d, p.EveningAt)
		out = append(out, wish{kind: "soreness", slot: b.prefix + "s" + string(rune('0'+b.k)), due: due, until: due + 180,
			why: map[string]bool{"restarted": b.weight < heaviest}})
	}

	if n < 0 || !p.BandsEnd.IsZero() && d.After(p.BandsEnd) {
		return out
	}
	level, nights := 3, false
	latest := plan.Date{}
	for _, c := range p.Cadence {
		if !c.From.After(d) && !c.From.Before(latest) {
			level, latest = c.Level, c.From
		}
	}
	latest = plan.Date{}
	for _, w := range p.Wear {
		if !w.From.After(d) && !w.From.Before(latest) {
			nights, latest = w.Nights, w.From
		}
	}
	var today []plan.Meal
	for _, m := range p.Meals {
		if m.Days&(1<<d.Weekday()) != 0 {
			today = append(today, m)
		}
	}
	sort.Slice(today, func(i, j int) bool {
		return today[i].At < today[j].At || today[i].At == today[j].At && today[i].Code < today[j].Code
	})
	var counted []plan.MealCode // what the level counts
	for _, m := range today {
		if !nights || m.Code == "HS" {
			counted = append(counted, m.Code)
		}
	}
	for i, m := range today {
		w := wish{kind: "band-change", slot: d.String() + "/" + string(m.Code), whole: level == 1, why: map[string]bool{}}
		w.due = o.minute(d, m.At) + m.Minutes
		w.until = w.due + p.UsefulMin
		if i < len(today)-1 {
			w.until = min(w.until, o.minute(d, today[i+1].At))
		}
		w.why["before wear-start"] = n == 0 && w.due <= notice
		w.why["nights only"] = nights && m.Code != "HS"
		if len(counted) > 0 {
			first, last := m.Code == counted[0], m.Code == counted[len(counted)-1]
			w.why["eased"] = level == 2 && !first && !last || level == 1 && !last
		}
		out = append(out, w)
	}
	return out
}

func (o *oracle) nudges(from, to plan.Date) (map[string]plan.Nudge, map[string]string) {
	nudges, dropped := map[string]plan.Nudge{}, map[string]string{}
	for d := from; !d.After(to); d = d.AddDays(1) {
		if o.minute(d, 0) == o.minute(d.AddDays(1), 0) {
			continue
		}
		paused := false
		for _, x := range o.p.Pauses {
			for e := x.From; !e.After(x.To); e = e.AddDays(1) {
				paused = paused || e == d
			}
		}
		for _, w := range o.wishes(d) {
			key := string(w.kind) + " " + w.slot + " " + d.String()
			due, until, moved := w.due, w.until, ""
			swallowed := false
			if o.quiet[due] {
				for o.quiet[due] {
					due++
				}
				moved, swallowed = "quiet hours", due >= until
			}
			for m := due; m < until; m++ {
				if o.quiet[m] {
					until = m
				}
			}
			reason := ""
			for _, r := range []struct {
				name  string
				holds bool
			}{
				{"no time left", until <= due}, {"quiet hours", swallowed}, {"eased", w.why["eased"]}, {"nights only", w.why["nights only"]},
				{"restarted", w.why["restarted"]}, {"before wear-start", w.why["before wear-start"]},
				{"ended", !o.p.BandsEnd.IsZero() && d.After(o.p.BandsEnd)}, {"paused", paused},
			} { // the last to be asked is the first in rank
				if r.holds {
					reason = r.name
				}
			}
			if reason != "" {
				dropped[key] = reason
				continue
			}
			nudges[key] = plan.Nudge{Kind: w.kind, Slot: w.slot, Day: d, Due: o.time(due), Until: o.time(until), Moved: moved, Whole: w.whole}
		}
	}
	return nudges, dropped
}

func TestMinuteByMinute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := scenes().Draw(t, "scene")
		from, to := s.around()
		wantNudges, wantDropped := newOracle(s).nudges(from, to)

		nudges, dropped := Nudges(s.p, s.loc, from, to)
		gotNudges, gotDropped := map[string]plan.Nudge{}, map[string]string{}
		for _, n := range nudges {
			gotNudges[string(n.Kind)+" "+n.Slot+" "+n.Day.String()] = n
		}
		for _, x := range dropped {
			gotDropped[string(x.Kind)+" "+x.Slot+" "+x.Day.String()] = x.Reason
		}
		if diff := cmp.Diff(wantNudges, gotNudges); diff != "" {
			t.Errorf("nudges, -minute by minute +got\n%s", diff)
		}
		if diff := cmp.Diff(wantDropped, gotDropped); diff != "" {
			t.Errorf("dropped, -minute by minute +got\n%s", diff)
		}
	})
}
