package hookup

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// hookPart is the name of a hook's mark in the picture, spelled out anew.
func hookPart(h plan.Hook) string {
	s := fmt.Sprintf("hook-%d-%s", h.Tooth, h.Surface)
	if h.Kind != "" {
		s += "-" + string(h.Kind)
	}
	return s
}

// Every hook stands on its own tooth, the patient's right on the right half of
// the picture, the upper teeth above the lower ones.
func TestHooksStandOnTheirTeeth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bands := drawBands(t)
		p, err := Draw(bands, drawOptions(t))
		if err != nil {
			t.Fatal(err)
		}
		drawn := parts(readSVG(t, p.SVG()))
		for _, b := range bands {
			var upper, lower []float64
			for _, h := range hooksOf(b) {
				mark, tooth := drawn[hookPart(h)], drawn["tooth-"+h.Tooth.String()]
				if len(mark) != 1 || len(tooth) != 1 {
					t.Fatalf("%s is drawn %d times, its tooth %d times", hookPart(h), len(mark), len(tooth))
				}
				at := centre(extent(corners(t, mark[0].attrs["d"])))
				if !inside(at, corners(t, tooth[0].attrs["d"])) {
					t.Errorf("%s at %v is off its tooth", hookPart(h), at)
				}
				// Quadrants 1, 4, 5, 8 are the patient's right (ISO 3950).
				if right := strings.ContainsRune("1458", rune(h.Tooth.String()[0])); right != (at.x > sheet/2) {
					t.Errorf("%s stands at %v", hookPart(h), at)
				}
				if h.Tooth.Upper() {
					upper = append(upper, at.y)
				} else {
					lower = append(lower, at.y)
				}
			}
			if slices.Max(upper) >= slices.Min(lower) {
				t.Errorf("an upper hook lies below a lower one: %v, %v", upper, lower)
			}
		}
	})
}

// The path of a band goes to each of its hooks and to nothing else: a chain for
// two hooks, a ring for more. Where it goes from one side of the teeth to the
// other it turns from solid to broken on the way.
func TestBandVisitsItsHooks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bands := drawBands(t)
		p, err := Draw(bands, drawOptions(t))
		if err != nil {
			t.Fatal(err)
		}
		drawn := parts(readSVG(t, p.SVG()))
		for i, b := range bands {
			var at []point
			for _, h := range hooksOf(b) {
				at = append(at, centre(extent(corners(t, drawn[hookPart(h)][0].attrs["d"]))))
			}
			visits := make([]int, len(at))
			through := map[point][2]int{} // solid and broken ends that are at no hook
			for kind, part := range []string{fmt.Sprintf("band-%d", i+1), fmt.Sprintf("band-%d-behind", i+1)} {
				for _, e := range drawn[part] {
					if (e.attrs["stroke-dasharray"] != "") != (kind == 1) {
						t.Errorf("%s has dashes %q", part, e.attrs["stroke-dasharray"])
					}
					for _, end := range corners(t, e.attrs["d"]) {
						near := slices.IndexFunc(at, func(h point) bool { return h.minus(end).length() < 2.1 })
						if near < 0 {
							n := through[end]
							n[kind]++
							through[end] = n
							continue
						}
						visits[near]++
						if tongue := hooksOf(b)[near].Surface == plan.Tongue; tongue != (kind == 1) {
							t.Errorf("%s comes to %s", part, hookPart(hooksOf(b)[near]))
						}
					}
				}
			}
			want := 2
			if len(at) == 2 {
				want = 1
			}
			for j, n := range visits {
				if n != want {
					t.Errorf("band %d (%s) has %d ends at %s, not %d", i+1, b.Pattern, n, hookPart(hooksOf(b)[j]), want)
				}
			}
			for where, n := range through {
				if n != [2]int{1, 1} {
					t.Errorf("band %d goes to %v, where no hook is: %v", i+1, where, n)
				}
			}
			if len(through) > 0 && len(through) > len(at) {
				t.Errorf("band %d changes sides %d times", i+1, len(through))
			}
		}
	})
}

// No two writings lie on each other, none leaves the sheet, and no band's disc
// covers a tooth's number.
func TestWritingIsApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Draw(drawBands(t), drawOptions(t))
		if err != nil {
			t.Fatal(err)
		}
		type spot struct {
			part string
			box  box
			disc bool
		}
		var spots []spot
		for _, s := range p.shapes {
			switch {
			case s.text != nil && !strings.HasSuffix(s.part, "-number"):
				spots = append(spots, spot{s.part + " " + s.text.s, s.text.box(), false})
			case s.text == nil && (strings.HasPrefix(s.part, "disc-") || strings.HasPrefix(s.part, "legend-")) && !strings.HasSuffix(s.part, "-line"):
				spots = append(spots, spot{s.part, extent(corners(t, s.path.String())), true})
			}
		}
		for i, a := range spots {
			if a.box.min.x < 0 || a.box.min.y < 0 || a.box.max.x > sheet || a.box.max.y > p.height {
				t.Errorf("%s leaves the sheet: %v", a.part, a.box)
			}
			for _, b := range spots[:i] {
				if a.disc && b.disc && centre(a.box).minus(centre(b.box)).length() > a.box.max.x-a.box.min.x {
					continue // round
				}
				if a.box.meets(b.box) {
					t.Errorf("%q %v lies on %q %v", a.part, a.box, b.part, b.box)
				}
			}
		}
	})
}

// All 32 permanent teeth in the order of ISO 3950:2016, quadrants 1 to 4 from
// the upper right to the lower right, positions counted from the midline; in a
// mirror the patient's left is on the left.
func TestRowsOfTeeth(t *testing.T) {
	p := mustDraw(t, scenes[0].bands, Options{})
	type seen struct {
		name string
		x, y float64
		w    float64
	}
	var teeth []seen
	for part, es := range parts(readSVG(t, p.SVG())) {
		if name, ok := strings.CutPrefix(part, "tooth-"); ok {
			b := extent(corners(t, es[0].attrs["d"]))
			teeth = append(teeth, seen{name, centre(b).x, centre(b).y, b.max.x - b.min.x})
		}
	}
	slices.SortFunc(teeth, func(a, b seen) int { return cmp.Compare(a.y, b.y) })
	row := func(some []seen) string {
		slices.SortFunc(some, func(a, b seen) int { return cmp.Compare(a.x, b.x) })
		var names []string
		for _, s := range some {
			names = append(names, s.name)
		}
		return strings.Join(names, " ")
	}
	got := []string{row(teeth[:16]), row(teeth[16:])}
	want := []string{"28 27 26 25 24 23 22 21 11 12 13 14 15 16 17 18", "38 37 36 35 34 33 32 31 41 42 43 44 45 46 47 48"}
	if diff := gocmp.Diff(want, got); diff != "" {
		t.Errorf("rows (-want +got):\n%s", diff)
	}
	width := map[string]float64{}
	for _, s := range teeth {
		width[s.name] = s.w
	}
	// Wheeler's mean widths in mm; the upper incisors and canine as reprinted,
	// the lower molar and incisor from memory.
	for _, pair := range []struct {
		a, b string
		want float64
	}{{"11", "12", 8.5 / 6.5}, {"11", "13", 8.5 / 7.5}, {"46", "41", 11.0 / 5.0}, {"21", "31", 8.5 / 5.0}} {
		if got := width[pair.a] / width[pair.b]; math.Abs(got/pair.want-1) > 0.08 {
			t.Errorf("tooth %s is %.2f times as wide as %s, not %.2f", pair.a, got, pair.b, pair.want)
		}
	}
	for _, n := range []string{"11", "16", "33", "48"} {
		mirrored := map[byte]string{'1': "2", '3': "4", '4': "3"}[n[0]] + n[1:]
		if math.Abs(width[n]-width[mirrored]) > 0.05 {
			t.Errorf("tooth %s is %.2f wide and %s %.2f", n, width[n], mirrored, width[mirrored])
		}
	}
}

// A hooked primary tooth stands where its successor would (55 for 15), and with
// it where both bear hooks.
func TestPrimaryTeeth(t *testing.T) {
	b := band(plan.Right, plan.Settling, hooks(55, 13), hooks(83))
	drawn := parts(readSVG(t, mustDraw(t, []plan.Prescription{b}, Options{}).SVG()))
	for part, want := range map[string]int{"tooth-55": 1, "tooth-15": 0, "tooth-83": 1, "tooth-43": 0, "tooth-13": 1, "tooth-53": 0, "tooth-65": 0, "tooth-25": 1} {
		if got := len(drawn[part]); got != want {
			t.Errorf("%s is drawn %d times, not %d", part, got, want)
		}
	}
	x := func(part string) float64 { return centre(extent(corners(t, drawn[part][0].attrs["d"]))).x }
	if !(x("tooth-14") < x("tooth-55") && x("tooth-55") < x("tooth-16")) {
		t.Error("55 does not stand between 14 and 16")
	}
	both := band(plan.Right, plan.Settling, hooks(53, 13), hooks(43))
	drawn = parts(readSVG(t, mustDraw(t, []plan.Prescription{both}, Options{}).SVG()))
	if len(drawn["tooth-13"]) != 1 || len(drawn["tooth-53"]) != 1 || !(x("tooth-13") < x("tooth-53") && x("tooth-53") < x("tooth-14")) {
		t.Error("13 and 53 do not stand side by side")
	}
}
