package plan

import (
	"fmt"
	"strings"
	"testing"
)

func hooks(teeth ...Tooth) []Hook {
	var out []Hook
	for _, t := range teeth {
		out = append(out, Hook{Tooth: t})
	}
	return out
}

// The usual hookings are those of the trade: Class II from the upper canine to
// the lower first molar, 13 to 46 (Universal 6 to 30), and so on. Which figures
// a pattern takes beyond them is common practice, no source.
func TestHookings(t *testing.T) {
	tests := []struct {
		pattern      Pattern
		side         Side
		upper, lower []Hook
		fault        string // "path: part of what"; empty: accepted
	}{
		{ClassII, Right, hooks(13), hooks(46), ""},
		{ClassII, Left, hooks(23), hooks(36), ""},
		{ClassII, Right, hooks(13), hooks(47), ""},
		{ClassII, Right, hooks(13), hooks(45), ""},
		{ClassII, Right, hooks(14), hooks(46), ""},
		{ClassII, Right, hooks(13), hooks(44), ""}, // one position back
		{ClassII, Right, hooks(13), hooks(43), "pattern: a Class II band runs"},
		{ClassII, Right, hooks(16), hooks(43), "pattern: a Class II band runs"}, // from a lower canine: Class III
		{ClassII, Right, hooks(16), hooks(46), "pattern: a Class II band runs"},
		{ClassII, Right, hooks(43), hooks(16), "upper[0]: tooth 43 stands in the other arch"},
		{ClassII, Right, hooks(43), hooks(46), "upper[0]: tooth 43 stands in the other arch"},
		{ClassII, Right, hooks(13, 14), hooks(46), ""},
		{ClassII, Right, hooks(13, 16), hooks(46), "pattern: a Class II band runs"},
		{ClassII, Right, hooks(53), hooks(85), ""}, // primary canine to second primary molar
		{ClassII, Front, hooks(13), hooks(46), "pattern: a Class II band runs"},
		{ClassII, Left, hooks(13), hooks(46), "upper[0]: tooth 13 stands on the right, the band on the left"},
		{ClassII, Right, hooks(23), hooks(46), "upper[0]: tooth 23 stands on the left, the band on the right"},
		{ClassII, Right, hooks(13), hooks(36), "lower[0]: tooth 36 stands on the left, the band on the right"},
		{ClassII, Left, hooks(23), hooks(85), "lower[0]: tooth 85 stands on the right, the band on the left"},

		{ClassIII, Right, hooks(16), hooks(43), ""},
		{ClassIII, Left, hooks(26), hooks(33), ""},
		{ClassIII, Right, hooks(14), hooks(43), ""},
		{ClassIII, Right, hooks(13), hooks(43), "pattern: a Class III band runs"},
		{ClassIII, Right, hooks(13), hooks(46), "pattern: a Class III band runs"},
		{ClassIII, Front, hooks(16), hooks(43), "pattern: a Class III band runs"},

		{VerticalBox, Right, hooks(13, 14), hooks(43, 44), ""},
		{VerticalBox, Left, hooks(25, 26), hooks(35, 36), ""},
		{VerticalBox, Right, hooks(13), hooks(43, 44), "pattern: vertical-box cannot be made of 1 upper and 2 lower"},
		{VerticalBox, Right, hooks(13, 14), hooks(43), "pattern: vertical-box cannot be made of 2 upper and 1 lower"},
		{VerticalBox, Right, hooks(13, 14, 15), hooks(43, 44), "pattern: vertical-box cannot be made of 3 upper and 2 lower"},

		{Triangle, Right, hooks(13), hooks(43, 44), ""},
		{Triangle, Left, hooks(23, 24), hooks(33), ""},
		{Triangle, Right, hooks(13), hooks(44), "pattern: triangle cannot be made of 1 upper and 1 lower"},
		{Triangle, Right, hooks(13, 14), hooks(43, 44), "pattern: triangle cannot be made of 2 upper and 2 lower"},
		{Triangle, Right, hooks(13, 14, 15), nil, "lower: names no tooth"},

		{AnteriorBox, Front, hooks(12, 22), hooks(42, 32), ""},
		{AnteriorBox, Front, hooks(13, 23), hooks(43, 33), ""},
		{AnteriorBox, Front, hooks(14, 24), hooks(43, 33), ""},
		{AnteriorBox, Front, hooks(15, 24), hooks(43, 33), "pattern: anterior-box reaches behind the first premolars"},
		{AnteriorBox, Front, hooks(14, 24), hooks(45, 33), "pattern: anterior-box reaches behind the first premolars"},
		{AnteriorBox, Right, hooks(12, 13), hooks(42, 43), `side: anterior-box is worn in front`},
		{AnteriorBox, Front, hooks(12), hooks(42, 32), "pattern: anterior-box cannot be made of 1 upper and 2 lower"},
		{AnteriorTrapezoid, Front, hooks(13, 23), hooks(42, 32), ""},
		{AnteriorTrapezoid, Front, hooks(13, 23), hooks(32), "pattern: anterior-trapezoid cannot be made of 2 upper and 1 lower"},
		{AnteriorTrapezoid, Left, hooks(22, 23), hooks(32, 33), "side: anterior-trapezoid is worn in front"},

		{AnteriorDiagonal, Front, hooks(13), hooks(33), ""},
		{AnteriorDiagonal, Front, hooks(22), hooks(43), ""},
		{AnteriorDiagonal, Front, hooks(13), hooks(43), "pattern: a diagonal crosses the midline"},
		{AnteriorDiagonal, Front, hooks(14), hooks(34), ""},
		{AnteriorDiagonal, Front, hooks(15), hooks(33), "pattern: anterior-diagonal reaches behind the first premolars"},
		{AnteriorDiagonal, Front, hooks(13), hooks(33, 32), "pattern: anterior-diagonal cannot be made of 1 upper and 2 lower"},

		{Settling, Right, hooks(13, 14, 15), hooks(43, 44, 45), ""},
		{Settling, Front, hooks(13, 23), hooks(42, 41, 31, 32), ""},
		{Settling, Right, hooks(13), hooks(43, 44), ""},
		{Settling, Right, hooks(13), hooks(43), "pattern: settling cannot be made of 1 upper and 1 lower"},

		{CrossBite, Right, []Hook{{16, Tongue, Button}}, []Hook{{46, Cheek, Button}}, ""},
		{CrossBite, Left, []Hook{{26, Cheek, ""}}, []Hook{{36, Tongue, ""}}, ""},
		{CrossBite, Right, []Hook{{16, Tongue, ""}}, []Hook{{46, Tongue, ""}}, "pattern: a cross-bite band runs through the bite"},
		{CrossBite, Right, []Hook{{16, Cheek, ""}}, []Hook{{46, Cheek, ""}}, "pattern: a cross-bite band runs through the bite"},
		{CrossBite, Right, []Hook{{16, Tongue, ""}}, hooks(46), "pattern: a cross-bite band runs through the bite"},
		{CrossBite, Right, hooks(16), []Hook{{46, Cheek, ""}}, "pattern: a cross-bite band runs through the bite"},
		{CrossBite, Right, []Hook{{16, Tongue, ""}}, []Hook{{46, Cheek, ""}, {47, Cheek, ""}}, "pattern: cross-bite cannot be made of 1 upper and 2 lower"},

		{VerticalBox, Right, hooks(13, 13), hooks(43, 44), "upper[1]: tooth 13 stands twice"},
		{VerticalBox, Right, []Hook{{13, Cheek, ""}, {13, "", Button}}, hooks(43, 44), "upper[1]: tooth 13 stands twice"}, // not said is the cheek side
		{VerticalBox, Right, []Hook{{13, Cheek, ""}, {13, Tongue, ""}}, hooks(43, 44), ""},
		{ClassII, Right, nil, hooks(46), "upper: names no tooth"},
		{ClassII, Right, hooks(19), hooks(46), "upper[0]: 19 is not a tooth"},
		{ClassII, Right, hooks(13), hooks(0), "lower[0]: 0 is not a tooth"},
		{ClassII, Left, hooks(23), hooks(39), "lower[0]: 39 is not a tooth"},
	}
	for _, tt := range tests {
		b := Prescription{From: Date{2026, 6, 1}, Side: tt.side, Pattern: tt.pattern, Upper: tt.upper, Lower: tt.lower, Lumen: 6.35, Force: 4.5}
		name := fmt.Sprintf("%s %s %v to %v", tt.pattern, tt.side, tt.upper, tt.lower)
		found := b.Check()
		if tt.fault == "" {
			if len(found) > 0 {
				t.Errorf("%s: refused: %v", name, found)
			}
			continue
		}
		if len(found) == 0 {
			t.Errorf("%s: accepted", name)
			continue
		}
		if got := found[0].Path + ": " + found[0].What; !strings.HasPrefix(got, tt.fault) {
			t.Errorf("%s: got %q, want %q", name, got, tt.fault)
		}
	}
}

func TestPrescriptionTellsAllItsFaults(t *testing.T) {
	b := Prescription{From: Date{2026, 6, 2}, To: Date{2026, 6, 1}, Side: Right, Pattern: ClassII, Upper: hooks(23, 46), Lower: hooks(36)}
	if found := b.Check(); len(found) != 4 {
		t.Errorf("want the end, both upper hooks and the lower one: %v", found)
	}
	b = Prescription{From: Date{2026, 6, 1}, To: Date{2026, 6, 1}, Side: Right, Pattern: ClassII, Upper: hooks(13), Lower: hooks(46)}
	if found := b.Check(); len(found) != 0 {
		t.Errorf("worn for one day: %v", found)
	}
}

func TestLatexNeedsANo(t *testing.T) {
	p := Plan{Bands: []Prescription{{Latex: false}, {Latex: true}, {Latex: true}}}
	for allergy, what := range map[Answer]string{
		No: "", Yes: "is allergic to latex", NotAsked: "was not asked", "": "was not asked", "NO": "was not asked", "unknown": "was not asked",
	} {
		found := p.CheckFor(allergy)
		if what == "" {
			if len(found) != 0 {
				t.Errorf("%q: %v", allergy, found)
			}
			continue
		}
		if len(found) != 2 || found[0].Path != "bands[1].latex" || found[1].Path != "bands[2].latex" {
			t.Errorf("%q: %v", allergy, found)
			continue
		}
		for _, f := range found {
			if !strings.Contains(f.What, what) || f.Hint == "" {
				t.Errorf("%q: %v", allergy, f)
			}
		}
	}
	p.Bands = p.Bands[:1]
	if found := p.CheckFor(Yes); len(found) != 0 {
		t.Errorf("a band without latex for one allergic to it: %v", found)
	}
}

func TestMealTwiceOnADay(t *testing.T) {
	const mon, tue, sat = 1 << 1, 1 << 2, 1 << 6
	tests := []struct {
		meals []Meal
		fault string
	}{
		{[]Meal{{AfterBreakfast, 450, 30, mon | tue}, {AfterBreakfast, 540, 30, sat}}, ""},
		{[]Meal{{AfterBreakfast, 450, 30, mon | tue}, {AfterBreakfast, 540, 30, tue | sat}}, "meals[1].code: PCM stands twice on tue"},
		{[]Meal{{AfterMeal, 600, 30, AllDays}, {AfterLunch, 750, 30, AllDays}, {AfterMeal, 960, 30, AllDays}}, "meals[2].code: PC stands twice on mon"},
		{[]Meal{{AfterBreakfast, 450, 30, AllDays}, {AfterLunch, 450, 30, AllDays}}, ""}, // two codes at one time
		{[]Meal{{Bedtime, 1320, 0, sat}, {Bedtime, 1320, 0, sat}, {Bedtime, 1320, 0, sat}}, "meals[1].code: HS stands twice on sat; meals[2].code: HS stands twice on sat"},
		{[]Meal{{AfterMeal, 600, 30, 1 << 0}, {AfterMeal, 700, 30, 1 << 0}}, "meals[1].code: PC stands twice on sun"},
	}
	for _, tt := range tests {
		p := Plan{Meals: tt.meals}
		var got []string
		for _, f := range p.Check() {
			got = append(got, f.Path+": "+f.What)
		}
		if strings.Join(got, "; ") != tt.fault {
			t.Errorf("%v: got %q, want %q", tt.meals, got, tt.fault)
		}
	}
}

func TestDaysInOrder(t *testing.T) {
	day := func(n int) Date { return Date{2026, 6, 1}.AddDays(n) }
	tests := []struct {
		plan  Plan
		fault string
	}{
		{Plan{BandsStart: day(0), BandsEnd: day(0)}, ""},
		{Plan{BandsStart: day(0), BandsEnd: day(-1)}, "bands_end"},
		{Plan{AlignerStart: day(0), BandsEnd: day(14)}, ""}, // day 15, the first of week three
		{Plan{AlignerStart: day(0), BandsEnd: day(13)}, "bands_end"},
		{Plan{AlignerStart: day(0), BandsStart: day(0)}, ""},
		{Plan{AlignerStart: day(0), BandsStart: day(-1)}, "bands_start"},
		{Plan{BandsStart: day(0), PlannedEnd: day(0)}, ""},
		{Plan{BandsStart: day(0), PlannedEnd: day(-1)}, "planned_end"},
		{Plan{BandsStart: day(0), PlannedEnd: day(-1), BandsEnd: day(-2)}, "bands_end planned_end"},
		{Plan{Pauses: []Pause{{day(3), day(3), PauseMail}, {day(1), day(9), PauseBands}}}, ""},
		{Plan{Pauses: []Pause{{day(3), day(4), PauseMail}, {day(3), day(2), PauseBands}}}, "pauses[1].to"},
		{Plan{Wear: []Wear{{day(1), 22, 4, false}, {day(0), 10, 1, true}}}, ""},
		{Plan{Wear: []Wear{{day(1), 22, 4, false}, {day(0), 10, 1, true}, {day(1), 10, 1, true}}}, "wear[2].from"},
		{Plan{Cadence: []Cadence{{day(1), 3}, {day(2), 1}}}, ""},
		{Plan{Cadence: []Cadence{{day(1), 3}, {day(1), 3}}}, "cadence[1].from"},
		{Plan{Bands: []Prescription{{From: day(0), Side: Right, Pattern: ClassII, Upper: hooks(13), Lower: hooks(46)},
			{From: day(0), Side: Left, Pattern: Triangle, Upper: hooks(23), Lower: hooks(33, 34)}}}, ""}, // right and left different
		{Plan{Bands: []Prescription{{From: day(0), Side: Right, Pattern: ClassII, Upper: hooks(13), Lower: hooks(46)},
			{From: day(0), Side: Left, Pattern: ClassIII, Upper: hooks(26), Lower: hooks(33)}}}, ""}, // to bring a midline over
		{Plan{Bands: []Prescription{{From: day(0), To: day(-1), Side: Right, Pattern: ClassII, Upper: hooks(13), Lower: hooks(46)},
			{From: day(0), Side: Left, Pattern: ClassII, Upper: hooks(26), Lower: hooks(33)}}}, "bands[0].to bands[1].pattern"},
	}
	for _, tt := range tests {
		var got []string
		for _, f := range tt.plan.Check() {
			got = append(got, f.Path)
		}
		if strings.Join(got, " ") != tt.fault {
			t.Errorf("%+v: got %q, want %q", tt.plan, got, tt.fault)
		}
	}
}
