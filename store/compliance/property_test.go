package compliance

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
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
