package compliance

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

func figuresOf(t *rapid.T, r *Record) *Figures {
	f, err := Compute(r)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func written(t *rapid.T, v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// minutely decides the ledger minute by minute and by the rules' own words,
// with no cleverness at all: a second way to the same answer.
func minutely(r *Record, from, to plan.Date) []State {
	type evidence struct {
		on       bool
		received time.Time
	}
	points := map[int64]evidence{}
	put := func(at time.Time, on bool, received time.Time) {
		k := at.Unix() / 60
		old, ok := points[k]
		if !ok || received.After(old.received) || received.Equal(old.received) && !on {
			points[k] = evidence{on, received}
		}
	}
	type pair struct{ a, b int64 }
	var offs []pair
	for _, e := range r.Reports {
		if e.At.After(r.AsOf) {
			continue
		}
		switch {
		case e.What == plan.ReportOn:
			put(e.At, true, e.At)
		case e.What == plan.ReportOff:
			put(e.At, false, e.At)
			if !e.Since.IsZero() {
				put(e.Since, true, e.At)
				offs = append(offs, pair{e.Since.Unix() / 60, e.At.Unix() / 60})
			}
		case e.What == plan.ReportOffSpan:
			put(e.From, true, e.At)
			put(e.To, true, e.At)
			offs = append(offs, pair{e.From.Unix() / 60, e.To.Unix() / 60})
		}
	}
	var times []int64
	for k := range points {
		times = append(times, k)
	}
	slices.Sort(times)
	eaten := map[int64]bool{}
	for d := from.AddDays(-1); !d.After(to); d = d.AddDays(1) {
		if d.Before(r.Plan.Start()) || r.Plan.Ended(d) || !plan.Exists(d, r.Zone) {
			continue
		}
		for _, m := range r.Plan.Meals {
			if m.Days.Has(d.Weekday()) {
				for i := range m.Minutes {
					eaten[plan.Instant(d, m.At, r.Zone).Unix()/60+int64(i)] = true
				}
			}
		}
	}
	var out []State
	for d := from; !d.After(to); d = d.AddDays(1) {
		for m := plan.DayStart(d, r.Zone).Unix() / 60; m < plan.DayEnd(d, r.Zone).Unix()/60; m++ {
			s := Unknown
			i, exact := slices.BinarySearch(times, m)
			if exact {
				i++
			}
			if i > 0 && i < len(times) && float64(times[i]-times[i-1]) <= r.Settings.CarryMin && points[times[i]].on == points[times[i-1]].on {
				s = Off
				if points[times[i]].on {
					s = On
				}
			}
			if slices.ContainsFunc(offs, func(p pair) bool { return m >= p.a && m < p.b }) {
				s = Off
			}
			if s == On && eaten[m] {
				s = Off
			}
			if s == Unknown && (d.Before(r.Plan.Start()) || r.Plan.Ended(d) || r.Plan.BandsPaused(d)) {
				s = Off
			}
			if m >= r.AsOf.Unix()/60 {
				s = Unknown
			}
			out = append(out, s)
		}
	}
	return out
}

func TestLedgerAgainstMinutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		want := minutely(r, r.Window.From, r.Window.To)
		list, err := Ledger(r, r.Window.From, r.Window.To)
		if err != nil {
			t.Fatal(err)
		}
		var got []State
		at := plan.DayStart(r.Window.From, r.Zone)
		for _, s := range list {
			// The spans tile the window: each begins where the last ended.
			if !s.From.Equal(at) || !s.To.After(s.From) {
				t.Fatalf("span from %v to %v does not follow %v", s.From, s.To, at)
			}
			at = s.To
			for range int(s.To.Sub(s.From).Minutes()) {
				got = append(got, s.State)
			}
		}
		if !at.Equal(plan.DayEnd(r.Window.To, r.Zone)) {
			t.Fatalf("the last span ends at %v", at)
		}
		if !slices.Equal(want, got) {
			for i := range want {
				if i >= len(got) || got[i] != want[i] {
					t.Fatalf("minute %d: got %v, want %v", i, got[min(i, len(got)-1)], want[i])
				}
			}
			t.Fatalf("got %d minutes, want %d", len(got), len(want))
		}
	})
}

// Working minutes the slow way: each run is gathered as a list of the days of
// its worn minutes, and all but the first of them, as long as the ramp, count.
func TestWorkAgainstMinutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		f := figuresOf(t, r)
		states := minutely(r, r.Window.From, r.Window.To)
		for _, bound := range []string{"low", "high"} {
			want := make([]int, len(f.Days))
			var run []int
			end := func() {
				for i, day := range run {
					if i >= int(r.Settings.RampMin) {
						want[day]++
					}
				}
				run = nil
			}
			off, next := 0, 0
			for day, d := range f.Days {
				for range int(d.Length) {
					s := states[next]
					next++
					switch {
					case d.Stated:
						end()
						off = 0
					case s == On || s == Unknown && bound == "high":
						off = 0
						run = append(run, day)
					default:
						if off++; off > int(r.Settings.GraceMin) {
							end()
						}
					}
				}
			}
			end()
			for i, d := range f.Days {
				got := d.Working.Low
				if bound == "high" {
					got = d.Working.High
				}
				if !d.Stated && int(got) != want[i] {
					t.Fatalf("%s of %v: got %v, want %d", bound, d.Date, got, want[i])
				}
			}
		}
	})
}

func TestBoundsAreOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := figuresOf(t, randomRecord(t))
		for _, d := range f.Days {
			for _, b := range []Bounds{d.Worn, d.Working} {
				if !(0 <= b.Low && b.Low <= b.Point && b.Point <= b.High && b.High <= d.Length) {
					t.Fatalf("%v: %v of %v", d.Date, b, d.Length)
				}
			}
			if d.Working.Low > d.Worn.Low || d.Working.High > d.Worn.High {
				t.Fatalf("%v: works %v, worn %v", d.Date, d.Working, d.Worn)
			}
			if d.On+d.Off+d.Unknown != d.Length {
				t.Fatalf("%v: %v + %v + %v is not %v", d.Date, d.On, d.Off, d.Unknown, d.Length)
			}
		}
		if !(f.WearP >= 0 && f.WearP <= 1 && f.Silence.Chance >= 0 && f.Silence.Chance <= 1) {
			t.Fatalf("p %v, chance %v", f.WearP, f.Silence.Chance)
		}
		if len(f.Why) == 0 {
			t.Fatal("a standing without a reason")
		}
		for _, s := range []*Interval{f.Counts.AnsweredShare, f.Counts.ConfirmedShare} {
			if s != nil && !(0 <= s.Low && s.Low <= s.Value && s.Value <= s.High && s.High <= 1) {
				t.Fatalf("interval %v", s)
			}
		}
	})
}

// More wear never lowers low: one more "on", or an "on" for an "off". It can
// lower high, where a meal once unknown is now known off.
func TestMoreWearNeverLowersLow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		before := figuresOf(t, r)
		more := *r
		more.Reports = slices.Clone(r.Reports)
		if i := slices.IndexFunc(r.Reports, func(e plan.Report) bool { return e.What == plan.ReportOff && e.Since.IsZero() }); i >= 0 && rapid.Bool().Draw(t, "turn an off") {
			more.Reports[i].What = plan.ReportOn
		} else {
			at := r.AsOf.Add(-time.Duration(rapid.IntRange(0, 10*1440).Draw(t, "ago")) * time.Minute)
			more.Reports = append(more.Reports, plan.Report{At: at, What: plan.ReportOn})
		}
		after := figuresOf(t, &more)
		for i := range before.Days {
			b, a := before.Days[i], after.Days[i]
			if a.Worn.Low < b.Worn.Low || a.Working.Low < b.Working.Low {
				t.Fatalf("%v: low fell from %v, %v to %v, %v", b.Date, b.Worn, b.Working, a.Worn, a.Working)
			}
		}
	})
}

func shuffled(t *rapid.T, r *Record) *Record {
	c := *r
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 1))
	c.Reports, c.Nudges, c.Flags, c.Visits = slices.Clone(r.Reports), slices.Clone(r.Nudges), slices.Clone(r.Flags), slices.Clone(r.Visits)
	rng.Shuffle(len(c.Reports), func(i, j int) { c.Reports[i], c.Reports[j] = c.Reports[j], c.Reports[i] })
	rng.Shuffle(len(c.Nudges), func(i, j int) { c.Nudges[i], c.Nudges[j] = c.Nudges[j], c.Nudges[i] })
	rng.Shuffle(len(c.Flags), func(i, j int) { c.Flags[i], c.Flags[j] = c.Flags[j], c.Flags[i] })
	rng.Shuffle(len(c.Visits), func(i, j int) { c.Visits[i], c.Visits[j] = c.Visits[j], c.Visits[i] })
	return &c
}

// The order in which a record lists things changes nothing, and figures are
// the same when computed twice.
func TestOrderChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		want := written(t, figuresOf(t, r))
		if got := written(t, figuresOf(t, r)); got != want {
			t.Fatalf("computed twice\n%s\n%s", want, got)
		}
		if got := written(t, figuresOf(t, shuffled(t, r))); got != want {
			t.Fatalf("shuffled\n%s\n%s", want, got)
		}
	})
}

// Folding all at once, day by day, or in another order gives equal records.
func TestFoldsAreEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		want := Fold(r, r.Window.From, r.Window.To)
		if diff := cmp.Diff(want, Fold(shuffled(t, r), r.Window.From, r.Window.To), cmpopts.EquateEmpty()); diff != "" {
			t.Fatalf("shuffled: %s", diff)
		}
		var single []DayRecord
		for d := r.Window.From; !d.After(r.Window.To); d = d.AddDays(1) {
			single = append(single, Fold(r, d, d)...)
		}
		if diff := cmp.Diff(want, single, cmpopts.EquateEmpty()); diff != "" {
			t.Fatalf("day by day: %s", diff)
		}
		// And they are the ledger's minutes of the figures.
		days := figuresOf(t, r).Days
		if len(days) != len(want) {
			t.Fatalf("%d days, %d records", len(days), len(want))
		}
		for i, d := range days {
			w := want[i]
			if w.Day != d.Date || w.Length != d.Length || w.On != d.On || w.Off != d.Off || w.Unknown != d.Unknown ||
				(w.Stated != nil) != d.Stated || w.Stated != nil && *w.Stated != d.Worn.Low {
				t.Fatalf("record %+v, figures %+v", w, d)
			}
		}
	})
}

// Whatever day record a report changes, its day is among those touched.
func TestTouchedHoldsWhatChanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		if len(r.Reports) == 0 {
			return
		}
		i := rapid.IntRange(0, len(r.Reports)-1).Draw(t, "which")
		less := *r
		less.Reports = slices.Delete(slices.Clone(r.Reports), i, i+1)
		from, to := r.Window.From.AddDays(-4), r.Window.To.AddDays(4)
		with, without := Fold(r, from, to), Fold(&less, from, to)
		first, last := Touched(r, r.Reports[i])
		for n := range with {
			d := with[n].Day
			if diff := cmp.Diff(without[n], with[n]); diff != "" && (d.Before(first) || d.After(last)) {
				t.Fatalf("%+v changes %v, touches %v to %v\n%s", r.Reports[i], d, first, last, diff)
			}
		}
	})
}

func TestTouchedByFlagHoldsWhatChanges(t *testing.T) {
	r := fortnight(t).nudge(t, "2026-06-03", OutcomeAccepted)
	f := plan.Flag{At: r.instant(t, "2026-06-09 09:00"), Slot: "2026-06-03/PCM", What: plan.FlagQuestion}
	from, to, ok := TouchedByFlag(r, f)
	if want := date(t, "2026-06-03"); !ok || from != want || to != want {
		t.Errorf("got %v to %v, %v", from, to, ok)
	}
	r.Flags = append(r.Flags, f)
	if got := Fold(r, from, to)[0]; got.Delivered != 1 || got.Answered != 1 || got.Confirmed != 0 {
		t.Errorf("got %+v", got)
	}
	if _, _, ok := TouchedByFlag(r, plan.Flag{What: plan.FlagQuestion}); ok {
		t.Error("a flag without a slot touches a day")
	}
}

// shift moves everything in a record by whole weeks.
func shift(r *Record, weeks int) *Record {
	n := 7 * weeks
	hours := time.Duration(n) * 24 * time.Hour
	day := func(d plan.Date) plan.Date {
		if d.IsZero() {
			return d
		}
		return d.AddDays(n)
	}
	at := func(t time.Time) time.Time {
		if t.IsZero() {
			return t
		}
		return t.Add(hours)
	}
	slot := func(s string) string {
		if len(s) < 10 {
			return s
		}
		d, err := plan.ParseDate(s[:10])
		if err != nil {
			return s
		}
		return day(d).String() + s[10:]
	}
	c := *r
	c.AsOf, c.Window = at(r.AsOf), Window{day(r.Window.From), day(r.Window.To)}
	p := &c.Plan
	p.AlignerStart, p.PlannedEnd, p.BandsStart, p.BandsEnd = day(p.AlignerStart), day(p.PlannedEnd), day(p.BandsStart), day(p.BandsEnd)
	p.Wear, p.Pauses, p.Bands, p.Bags, p.Restarts = slices.Clone(p.Wear), slices.Clone(p.Pauses), slices.Clone(p.Bands), slices.Clone(p.Bags), slices.Clone(p.Restarts)
	for i := range p.Wear {
		p.Wear[i].From = day(p.Wear[i].From)
	}
	for i := range p.Pauses {
		p.Pauses[i].From, p.Pauses[i].To = day(p.Pauses[i].From), day(p.Pauses[i].To)
	}
	for i := range p.Bands {
		p.Bands[i].From, p.Bands[i].To = day(p.Bands[i].From), day(p.Bands[i].To)
	}
	for i := range p.Bags {
		p.Bags[i].Date = day(p.Bags[i].Date)
	}
	for i := range p.Restarts {
		p.Restarts[i] = day(p.Restarts[i])
	}
	c.Flags, c.Nudges, c.Reports, c.Visits = slices.Clone(r.Flags), slices.Clone(r.Nudges), slices.Clone(r.Reports), slices.Clone(r.Visits)
	for i := range c.Flags {
		f := &c.Flags[i]
		f.At, f.Closed, f.Slot = at(f.At), at(f.Closed), slot(f.Slot)
	}
	for i := range c.Nudges {
		e := &c.Nudges[i]
		e.Due, e.Until, e.Slot = at(e.Due), at(e.Until), slot(e.Slot)
	}
	for i := range c.Reports {
		e := &c.Reports[i]
		e.At, e.Since, e.From, e.To, e.Day, e.Slot = at(e.At), at(e.Since), at(e.From), at(e.To), day(e.Day), slot(e.Slot)
	}
	for i := range c.Visits {
		c.Visits[i].Date = day(c.Visits[i].Date)
	}
	return &c
}

// A week's shift of everything shifts every answer by a week.
func TestShiftOfAWeek(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t, fixed...)
		weeks := rapid.IntRange(-60, 60).Draw(t, "weeks")
		want, got := figuresOf(t, r), figuresOf(t, shift(r, weeks))
		day := func(d *plan.Date) {
			if !d.IsZero() {
				*d = d.AddDays(7 * weeks)
			}
		}
		for i := range want.Days {
			day(&want.Days[i].Date)
		}
		for _, m := range []*Measure{want.Forecast.Measures.Overjet, want.Forecast.Measures.Left, want.Forecast.Measures.Right} {
			if m != nil {
				day(&m.Median)
				day(&m.Early)
				day(&m.Late)
			}
		}
		for _, d := range []*plan.Date{&want.Forecast.Finish.Median, &want.Forecast.Finish.Early, &want.Forecast.Finish.Late,
			&want.Forecast.AlignerEnd, &want.Forecast.AsPrescribed.Median, &want.Supply.EmptyOn} {
			day(d)
		}
		for i := range want.Restarts {
			day(&want.Restarts[i])
		}
		want.Why, got.Why = nil, nil // words name dates
		if a, b := written(t, want), written(t, got); a != b {
			t.Fatalf("by %d weeks\n%s\n%s", weeks, a, b)
		}
	})
}

// What is written is read again as the same record, with the same figures.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		again, err := ReadRecord("again", []byte(written(t, r)))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(*r, *again, same); diff != "" {
			t.Fatalf("-first +again\n%s", diff)
		}
		if a, b := written(t, figuresOf(t, r)), written(t, figuresOf(t, again)); a != b {
			t.Fatalf("figures\n%s\n%s", a, b)
		}
	})
}

// The posterior of the regression never lies further from the prior mean than
// the readings do: two exact readings fix the line through them.
func TestExactReadingsFixTheLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r0 := rapid.Float64Range(-5, 10).Draw(t, "r0")
		b := rapid.Float64Range(-1, 2).Draw(t, "b")
		h := rapid.Float64Range(10, 5000).Draw(t, "h")
		g := regression{unknowns: 2}
		g.add([2]float64{1, 0}, 3, priorFirstSD)
		g.add([2]float64{0, 1}, 0.0523, 0.03)
		g.add([2]float64{1, 0}, r0, 1e-7)
		g.add([2]float64{1, -h / 100}, r0-b*h/100, 1e-7)
		if m := g.mean(); math.Abs(m[0]-r0) > 1e-4 || math.Abs(m[1]-b) > 1e-4 {
			t.Fatalf("got %v, want %v and %v", m, r0, b)
		}
	})
}
