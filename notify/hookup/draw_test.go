package hookup

import (
	"bytes"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

func TestDrawRefuses(t *testing.T) {
	good := band(plan.Right, plan.ClassII, hooks(13), hooks(46))
	with := func(change func(*plan.Prescription)) []plan.Prescription {
		b := band(plan.Right, plan.ClassII, hooks(13), hooks(46))
		change(&b)
		return []plan.Prescription{good, b}
	}
	many := func(n int) []plan.Prescription {
		var out []plan.Prescription
		for range n {
			out = append(out, good)
		}
		return out
	}
	for _, tt := range []struct {
		name  string
		bands []plan.Prescription
		o     Options
		want  []string // nil: drawn
	}{
		{"good", many(1), Options{}, nil},
		{"no band", nil, Options{}, []string{"no band"}},
		{"six", many(MaxBands), Options{}, nil},
		{"seven", many(MaxBands + 1), Options{}, []string{"7 bands"}},
		{"too narrow", many(1), Options{Width: 159}, []string{"159 px"}},
		{"narrowest", many(1), Options{Width: 160}, nil},
		{"widest", many(1), Options{Width: 2560}, nil},
		{"too wide", many(1), Options{Width: 2561}, []string{"2561 px"}},
		{"negative", many(1), Options{Width: -1}, []string{"-1 px"}},
		{"notation", many(1), Options{Notation: "roman"}, []string{`"roman" is no notation`}},
		{"no such tooth", with(func(b *plan.Prescription) { b.Upper = hooks(19) }), Options{}, []string{"band 2: upper[0]", "19 is not a tooth"}},
		{"no hook", with(func(b *plan.Prescription) { b.Lower = nil }), Options{}, []string{"band 2: lower", "names no tooth"}},
		{"wrong side", with(func(b *plan.Prescription) { b.Upper = hooks(23) }), Options{}, []string{"band 2: upper[0]", "stands on the left"}},
		{"side", with(func(b *plan.Prescription) { b.Side = "up" }), Options{}, []string{`band 2: side: "up"`}},
		{"pattern", with(func(b *plan.Prescription) { b.Pattern = "class-4" }), Options{}, []string{`band 2: pattern: "class-4"`}},
		{"surface", with(func(b *plan.Prescription) { b.Upper[0].Surface = "lip" }), Options{}, []string{`band 2: upper[0]: "lip"`}},
		{"kind", with(func(b *plan.Prescription) { b.Lower[0].Kind = "nail" }), Options{}, []string{`band 2: lower[0]: "nail"`}},
		{"all at once", with(func(b *plan.Prescription) { b.Upper[0].Tooth = 10; b.Lower[0].Kind = "nail" }), Options{Width: 1, Notation: "x"},
			[]string{"1 px", `"x" is no notation`, "10 is not a tooth", `"nail"`}},
	} {
		_, err := Draw(tt.bands, tt.o)
		if (err == nil) != (tt.want == nil) {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		for _, want := range tt.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %q does not say %q", tt.name, err, want)
			}
		}
	}
}

// The same prescription makes the same bytes, whoever draws beside it, and the
// prescription is left as it was.
func TestDrawIsDeterministic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bands, o := drawBands(t), drawOptions(t)
		p, err := Draw(bands, o)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Draw(bands, o)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(p.SVG(), again.SVG()) {
			t.Error("two drawings of one prescription differ")
		}
	})
	first := mustDraw(t, scenes[3].bands, scenes[3].o)
	want, err := first.PNG()
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			p, err := Draw(scenes[3].bands, scenes[3].o)
			if err != nil {
				t.Error(err)
				return
			}
			got, err := p.PNG()
			if err != nil || !bytes.Equal(got, want) || !bytes.Equal(p.SVG(), first.SVG()) {
				t.Errorf("drawn at the same time it differs, %v", err)
			}
		})
	}
	wg.Wait()
}

// The ids of two pictures on one page differ.
func TestIDsDiffer(t *testing.T) {
	seen := map[string]string{}
	for _, s := range scenes {
		for _, e := range readSVG(t, mustDraw(t, s.bands, s.o).SVG()) {
			if id := e.attrs["id"]; id != "" {
				if other := seen[id]; other != "" {
					t.Errorf("%s and %s share the id %s", s.name, other, id)
				}
				seen[id] = s.name
			}
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	for b.Loop() {
		p, err := Draw(scenes[3].bands, scenes[3].o)
		if err != nil || len(p.SVG()) == 0 {
			b.Fatal(err)
		}
	}
}

func BenchmarkDrawPNG(b *testing.B) {
	for b.Loop() {
		p, err := Draw(scenes[3].bands, scenes[3].o)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := p.PNG(); err != nil {
			b.Fatal(err)
		}
	}
}
