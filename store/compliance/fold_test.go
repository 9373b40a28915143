package compliance

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

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
