package chart

import (
	"cmp"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

const (
	microMinute int64 = 60e6
	microDay          = 1440 * microMinute
)

// wall is a stretch of one local day over which the clock runs evenly: from an
// instant on, so long, shown by the clock from such a time of day on. Lane 0
// is the day as it is read on a clock; what the clock shows a second time lies
// in the lane below.
type wall struct {
	at   int64 // instant, microseconds since 1970
	wall int64 // microseconds since midnight on the clock
	n    int64 // length in microseconds
	lane int
}

// interval is a stretch [from, to) of the clock, in microseconds since midnight.
type interval struct{ from, to int64 }

// layout places the pieces of one day.
type layout struct {
	walls []wall
	taken [][]interval // by lane, in order
}

// dayOnWall lays one local day out on the clock. Every microsecond of the day
// has one place, and no two have the same. A day that does not exist in the
// zone has none.
func dayOnWall(day plan.Date, loc *time.Location) layout {
	var l layout
	t, end := plan.DayStart(day, loc), plan.DayEnd(day, loc)
	midnight := time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, time.UTC).UnixMicro()
	for t.Before(end) {
		_, offset := t.Zone()
		stop := end
		if _, change := t.ZoneBounds(); !change.IsZero() && change.Before(end) {
			stop = change
		}
		at, n := t.UnixMicro(), stop.Sub(t).Microseconds()
		l.turn(at, at+int64(offset)*1e6-midnight, n)
		t = stop.In(loc)
	}
	return l
}

// turn places a piece whose clock may still show the day before or already the
// day after, as where clocks go back just past midnight: such a time is a
// second one by nature.
func (l *layout) turn(at, w, n int64) {
	for n > 0 {
		lane, day := 0, int64(0)
		switch {
		case w < 0:
			lane, day = 1, -microDay
		case w >= microDay:
			lane, day = 1, microDay
		}
		part := min(n, day+microDay-w)
		l.place(at, w-day, part, lane)
		at, w, n = at+part, w+part, n-part
	}
}

// place puts a piece into the first lane in which the clock has not shown
// those times yet.
func (l *layout) place(at, w, n int64, lane int) {
	for len(l.taken) <= lane {
		l.taken = append(l.taken, nil)
	}
	for n > 0 {
		free, held := n, int64(0)
		for _, k := range l.taken[lane] {
			if k.to <= w {
				continue
			}
			if free = min(n, max(0, k.from-w)); free == 0 {
				held = min(n, k.to-w)
			}
			break
		}
		if free > 0 {
			l.walls = append(l.walls, wall{at, w, free, lane})
			l.take(lane, interval{w, w + free})
		} else {
			l.place(at, w, held, lane+1)
		}
		at, w, n = at+free+held, w+free+held, n-free-held
	}
}

// take notes that a lane holds a stretch, joined to the ones it touches.
func (l *layout) take(lane int, k interval) {
	list := append(l.taken[lane], k)
	slices.SortFunc(list, func(a, b interval) int { return cmp.Compare(a.from, b.from) })
	out := list[:1]
	for _, k := range list[1:] {
		if last := &out[len(out)-1]; k.from <= last.to {
			last.to = max(last.to, k.to)
			continue
		}
		out = append(out, k)
	}
	l.taken[lane] = out
}

// missing lists the times of day that the clock never showed.
func (l *layout) missing() []interval {
	var out []interval
	at := int64(0)
	for _, lane := range l.taken[:min(1, len(l.taken))] {
		for _, k := range lane {
			if k.from > at {
				out = append(out, interval{at, k.from})
			}
			at = k.to
		}
	}
	if at < microDay {
		out = append(out, interval{at, microDay})
	}
	return out
}
