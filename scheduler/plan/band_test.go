package plan

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The inch is 25.4 mm and the avoirdupois pound 453.592 37 g by definition (the
// international yard and pound agreement of 1959; NIST Handbook 44, appendix
// C); an ounce is a sixteenth of it.
func TestUnitsAreExact(t *testing.T) {
	if GramsPerOunce*16 != 453.59237 {
		t.Errorf("16 oz are %v g", GramsPerOunce*16)
	}
	lumens := []struct {
		trade string
		mm    Lumen
	}{{"1/8", 3.175}, {"3/16", 4.7625}, {"1/4", 6.35}, {"5/16", 7.9375}, {"3/8", 9.525}, {"1/2", 12.7}, {"5/8", 15.875}, {"3/4", 19.05}}
	for _, tt := range lumens {
		got, err := ParseLumen(tt.trade + " in")
		if err != nil || got != tt.mm {
			t.Errorf("%s in = %v mm (%v), want exactly %v", tt.trade, float64(got), err, float64(tt.mm))
		}
		if want := tt.trade + " in (" + trim(float64(tt.mm)) + " mm)"; got.String() != want {
			t.Errorf("%s in is shown as %q, want %q", tt.trade, got, want)
		}
	}
	forces := []struct {
		oz            Force
		grams, newton float64
	}{{3.5, 99.2233309375, 0.97305}, {4.5, 127.5728540625, 1.25106}, {6, 170.09713875, 1.66808}}
	for _, tt := range forces {
		if got := tt.oz.Grams(); math.Abs(got-tt.grams) > 1e-12*tt.grams {
			t.Errorf("%v oz = %v g, want %v", float64(tt.oz), got, tt.grams)
		}
		if got := tt.oz.Newtons(); math.Abs(got-tt.newton) > 1e-5 {
			t.Errorf("%v oz = %v N, want %v", float64(tt.oz), got, tt.newton)
		}
	}
	if got := Lumen(6.35).Inches(); got != 0.25 {
		t.Errorf("6.35 mm = %v in", got)
	}
	if got := Force(4.5).String(); got != "4.5 oz (128 g)" {
		t.Errorf("4.5 oz is shown as %q", got)
	}
	if got := Lumen(6).String(); got != "6 mm" {
		t.Errorf("a lumen of no size of the trade is shown as %q", got)
	}
}

// What packs print, rounded, and the figures on both sides of the tolerance.
// That packs round so is common practice, no source.
func TestParseLumen(t *testing.T) {
	tests := []struct {
		text string
		want Lumen // 0: refused
	}{
		{"1/4 in", 6.35}, {"1/4in", 6.35}, {`1/4"`, 6.35}, {"1/4 ″", 6.35}, {"1/4 Inch", 6.35}, {" 1/4 inches ", 6.35}, {"0.25 in", 6.35},
		{"1 / 4 in", 6.35}, {"6.35 mm", 6.35}, {"6.35mm", 6.35}, {"6.35", 6.35}, {"6.4 mm", 6.35}, {"6.3 mm", 6.35},
		{"6.29 mm", 6.29}, {"6.41 mm", 6.41},
		{"4.8 mm", 4.7625}, {"4.76 mm", 4.7625}, {"4.81 mm", 4.7625}, {"4.8125 mm", 4.7625}, {"4.813 mm", 4.813},
		{"4.7125 mm", 4.7625}, {"4.712 mm", 4.712},
		{"3.2 mm", 3.175}, {"7.9 mm", 7.9375}, {"9.5 mm", 9.525}, {"12.7 mm", 12.7},
		{"0.5 mm", 0.5}, {"0.49 mm", 0}, {"50 mm", 50}, {"50.1 mm", 0},
		{"1.9 in", 48.26}, {"2 in", 0}, // 50.8 mm: a slip of the unit
		{"6.35 in", 0}, {"6.35 mm in", 0}, {"1/4 in mm", 0}, {"99 in", 0},
		{"", 0}, {"in", 0}, {"mm", 0}, {"/", 0}, {"1/", 0}, {"/4 in", 0}, {"1/0 in", 0}, {"1/-4 in", 0}, {"-1/4 in", 0}, {"0", 0}, {"-6.35", 0},
		{"NaN", 0}, {"inf", 0}, {"1e1 mm", 0}, {"0x1p3 mm", 0}, {"6_3 mm", 0}, {"6,35 mm", 0}, {"6.3.5 mm", 0}, {"quarter inch", 0}, {"1/4 in, 4.5 oz", 0},
	}
	for _, tt := range tests {
		got, err := ParseLumen(tt.text)
		switch {
		case tt.want == 0 && err == nil:
			t.Errorf("ParseLumen(%q) = %v, want it refused", tt.text, float64(got))
		case tt.want == 0 && !strings.Contains(err.Error(), "1/4 in or 6.35 mm"):
			t.Errorf("ParseLumen(%q): no example in %q", tt.text, err)
		case tt.want != 0 && (err != nil || math.Abs(float64(got-tt.want)) > 1e-12):
			t.Errorf("ParseLumen(%q) = %v, %v; want %v", tt.text, float64(got), err, float64(tt.want))
		}
	}
}

func TestParseForce(t *testing.T) {
	tests := []struct {
		text string
		want Force // 0: refused
	}{
		{"4.5 oz", 4.5}, {"4.5oz", 4.5}, {"4.5", 4.5}, {" 4.5 OZ ", 4.5}, {"4.4 oz", 4.4},
		{"128 g", 4.5}, {"128g", 4.5}, {"127 g", 4.5}, {"127.57 g", 4.5},
		{"126.58 g", 4.5}, {"128.57 g", 4.5}, // 127.573 g less and more 1
		{"126.57 g", 126.57 / 28.349523125}, {"128.58 g", 128.58 / 28.349523125},
		{"100 g", 3.5}, {"99 g", 3.5}, {"170 g", 6}, {"57 g", 2}, {"71 g", 2.5}, {"85 g", 3}, {"184 g", 6.5}, {"227 g", 8},
		{"0.1 oz", 0.1}, {"0.09 oz", 0}, {"35 oz", 35}, {"35.1 oz", 0}, {"992 g", 992 / 28.349523125}, {"993 g", 0}, {"2.8 g", 0},
		{"128", 0}, // grams without their unit would be 128 ounces
		{"", 0}, {"oz", 0}, {"g", 0}, {"0 oz", 0}, {"-4.5 oz", 0}, {"NaN", 0}, {"inf g", 0}, {"1e2 g", 0}, {"0x10 oz", 0},
		{"128 mg", 0}, {"0.1 kg", 0}, {"4,5 oz", 0}, {"4.5 oz g", 0}, {"medium", 0},
	}
	for _, tt := range tests {
		got, err := ParseForce(tt.text)
		switch {
		case tt.want == 0 && err == nil:
			t.Errorf("ParseForce(%q) = %v, want it refused", tt.text, float64(got))
		case tt.want == 0 && !strings.Contains(err.Error(), "4.5 oz or 128 g"):
			t.Errorf("ParseForce(%q): no example in %q", tt.text, err)
		case tt.want != 0 && (err != nil || math.Abs(float64(got-tt.want)) > 1e-12):
			t.Errorf("ParseForce(%q) = %v, %v; want %v", tt.text, float64(got), err, float64(tt.want))
		}
	}
}

func TestParsingASizeTwiceChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := rapid.Float64Range(minLumen, maxLumen).Draw(t, "mm")
		once := exactLumen(mm)
		if math.Abs(float64(once)-mm) > lumenTolerance+1e-6 {
			t.Fatalf("%v mm was taken for %v", mm, float64(once))
		}
		twice, err := ParseLumen(trim(float64(once)) + " mm")
		if err != nil || twice != once {
			t.Fatalf("%v mm reads back as %v, %v", float64(once), float64(twice), err)
		}
	})
}

func TestHookInJSON(t *testing.T) {
	tests := []struct {
		hook Hook
		want string
	}{
		{Hook{Tooth: 13}, `13`},
		{Hook{Tooth: 13, Surface: Cheek}, `{"tooth":13,"surface":"cheek"}`},
		{Hook{Tooth: 46, Kind: MiniScrew}, `{"tooth":46,"kind":"mini-screw"}`},
		{Hook{Tooth: 55, Surface: Tongue, Kind: Button}, `{"tooth":55,"surface":"tongue","kind":"button"}`},
	}
	for _, tt := range tests {
		if got, err := json.Marshal(tt.hook); err != nil || string(got) != tt.want {
			t.Errorf("%+v: got %s, %v; want %s", tt.hook, got, err, tt.want)
		}
	}
}

// FuzzParseLumen holds that whatever is accepted is a size a band can have and
// is read back the same from the way it is shown.
func FuzzParseLumen(f *testing.F) {
	for _, s := range []string{"1/4 in", `3/16"`, "6.35 mm", "4.8", "5/16 ″", "1/0 in", "NaN", "-1", "0x1p3", "9999999999999999999/1 in", "1/4 in in", "\xff in", "İn"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLumen(s)
		if err != nil {
			if l != 0 {
				t.Fatalf("%q: an error and %v", s, float64(l))
			}
			return
		}
		if !(l >= minLumen-lumenTolerance && l <= maxLumen+lumenTolerance) {
			t.Fatalf("%q is %v mm", s, float64(l))
		}
		if again, err := ParseLumen(trim(float64(l)) + " mm"); err != nil || again != l {
			t.Fatalf("%q is %v mm, which reads as %v, %v", s, float64(l), float64(again), err)
		}
	})
}
