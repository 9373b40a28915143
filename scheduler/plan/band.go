package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Side is the side of the mouth a band is worn on.
type Side string

// The sides. Front is worn across the incisors and takes hooks of any quadrant.
const (
	Right Side = "right"
	Left  Side = "left"
	Front Side = "front"
)

// Pattern is the figure a band makes between the arches.
type Pattern string

// The patterns, in the trade's terms.
const (
	ClassII           Pattern = "class-2"
	ClassIII          Pattern = "class-3"
	VerticalBox       Pattern = "vertical-box"
	Triangle          Pattern = "triangle"
	AnteriorBox       Pattern = "anterior-box"
	AnteriorTrapezoid Pattern = "anterior-trapezoid"
	AnteriorDiagonal  Pattern = "anterior-diagonal"
	Settling          Pattern = "settling"
	CrossBite         Pattern = "cross-bite"
)

// Surface is the side of a tooth a hook stands on.
type Surface string

// The surfaces; the empty one means "not said", which is the cheek side.
const (
	Cheek  Surface = "cheek"
	Tongue Surface = "tongue"
)

// HookKind is what the band is hooked to.
type HookKind string

// The kinds of hook; the empty one means "not said".
const (
	AlignerCut HookKind = "aligner-cut"
	Button     HookKind = "button"
	Bracket    HookKind = "bracket"
	Wire       HookKind = "wire"
	MiniScrew  HookKind = "mini-screw"
)

// Hook is one point a band hangs on.
type Hook struct {
	Tooth   Tooth
	Surface Surface  // empty: not said
	Kind    HookKind // empty: not said
}

// side is the surface, the cheek side where none was said.
func (h Hook) side() Surface {
	if h.Surface == "" {
		return Cheek
	}
	return h.Surface
}

// MarshalJSON writes the bare tooth number where nothing else was said, else
// an object with tooth, surface and kind.
func (h Hook) MarshalJSON() ([]byte, error) {
	if h.Surface == "" && h.Kind == "" {
		return []byte(strconv.Itoa(int(h.Tooth))), nil
	}
	s := fmt.Sprintf(`{"tooth":%d`, h.Tooth)
	if h.Surface != "" {
		s += fmt.Sprintf(`,"surface":%q`, h.Surface)
	}
	if h.Kind != "" {
		s += fmt.Sprintf(`,"kind":%q`, h.Kind)
	}
	return []byte(s + "}"), nil
}

// Lumen is the inner diameter of a band at rest, in millimetres. 6.35 is 1/4 in.
type Lumen float64

// Force is a band's rated force in ounces (avoirdupois), nominal at three lumen
// diameters.
type Force float64

// Exact by definition: the international inch and the avoirdupois ounce
// (NIST Handbook 44, appendix C), and standard gravity (CGPM 1901).
const (
	MillimetresPerInch = 25.4
	GramsPerOunce      = 28.349523125
	StandardGravity    = 9.80665 // m/s^2
)

// Grams returns the force in grams-force.
func (f Force) Grams() float64 { return float64(f) * GramsPerOunce }

// Newtons returns the force in newtons.
func (f Force) Newtons() float64 { return f.Grams() / 1000 * StandardGravity }

// Inches returns the lumen in inches.
func (l Lumen) Inches() float64 { return float64(l) / MillimetresPerInch }

// tradeLumens and tradeForces are the sizes bands are sold in; packs print them
// rounded. Common practice, no source.
var (
	tradeLumens = []struct {
		name string
		mm   Lumen // a constant expression, so the nearest float64 to the exact size
	}{
		{"1/8", MillimetresPerInch * 1 / 8}, {"3/16", MillimetresPerInch * 3 / 16},
		{"1/4", MillimetresPerInch * 1 / 4}, {"5/16", MillimetresPerInch * 5 / 16},
		{"3/8", MillimetresPerInch * 3 / 8}, {"1/2", MillimetresPerInch * 1 / 2},
		{"5/8", MillimetresPerInch * 5 / 8}, {"3/4", MillimetresPerInch * 3 / 4},
	}
	tradeForces = []Force{2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 6.5, 8}
)

// The figures between which a lumen (mm) and a force (oz) are believed: no band
// is made near them, so what lies outside is a slip of the unit.
const (
	minLumen, maxLumen = 0.5, 50
	minForce, maxForce = 0.1, 35
)

// Tolerances within which a printed, rounded figure is taken for the exact one.
const (
	lumenTolerance = 0.05 // mm: 4.8 is 3/16 in, 6.4 is 1/4 in
	forceTolerance = 1.0  // g: 128 is 4.5 oz, 100 is 3.5 oz
)

// String names the lumen as the trade does, in inches and millimetres.
func (l Lumen) String() string {
	for _, size := range tradeLumens {
		if size.mm == l {
			return fmt.Sprintf("%s in (%s mm)", size.name, trim(float64(l)))
		}
	}
	return trim(float64(l)) + " mm"
}

// String names the force in ounces and grams.
func (f Force) String() string { return fmt.Sprintf("%s oz (%.0f g)", trim(float64(f)), f.Grams()) }

func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// ParseLumen reads "1/4 in", "3/16\"", "6.35 mm" or a bare number of
// millimetres; a figure within 0.05 mm of a size of the trade is that size.
func ParseLumen(s string) (Lumen, error) {
	text := strings.TrimSpace(strings.ToLower(s))
	inch := false
	for _, unit := range []string{"inches", "inch", "in", `"`, "″"} {
		if t, ok := strings.CutSuffix(text, unit); ok {
			text, inch = strings.TrimSpace(t), true
			break
		}
	}
	if !inch {
		text = strings.TrimSpace(strings.TrimSuffix(text, "mm"))
	}
	v, err := fraction(text)
	if inch {
		v *= MillimetresPerInch
	}
	if err != nil || !(v >= minLumen && v <= maxLumen) {
		return 0, fmt.Errorf("%q is not a lumen; write it as 1/4 in or 6.35 mm", s)
	}
	return exactLumen(v), nil
}

// exactLumen takes a rounded figure in millimetres for the size of the trade
// within the tolerance of it.
func exactLumen(mm float64) Lumen {
	for _, size := range tradeLumens {
		// 6.4 - 6.35 is a hair over 0.05 in binary; the printed figure is not.
		if math.Abs(mm-float64(size.mm)) <= lumenTolerance+1e-9 {
			return size.mm
		}
	}
	return Lumen(mm)
}

// ParseForce reads "4.5 oz" or "128 g", a bare number being ounces; grams
// within 1 g of a force of the trade are that force.
func ParseForce(s string) (Force, error) {
	text := strings.TrimSpace(strings.ToLower(s))
	bad := fmt.Errorf("%q is not a force; write it as 4.5 oz or 128 g", s)
	if t, ok := strings.CutSuffix(text, "g"); ok {
		g, err := decimal(strings.TrimSpace(t))
		if err != nil || !(g >= minForce*GramsPerOunce && g <= maxForce*GramsPerOunce) {
			return 0, bad
		}
		for _, f := range tradeForces {
			if d := f.Grams() - g; d <= forceTolerance && d >= -forceTolerance {
				return f, nil
			}
		}
		return Force(g / GramsPerOunce), nil
	}
	oz, err := decimal(strings.TrimSpace(strings.TrimSuffix(text, "oz")))
	if err != nil || !(oz >= minForce && oz <= maxForce) {
		return 0, bad
	}
	return Force(oz), nil
}

func fraction(s string) (float64, error) {
	if num, den, ok := strings.Cut(s, "/"); ok {
		n, err1 := strconv.Atoi(strings.TrimSpace(num))
		d, err2 := strconv.Atoi(strings.TrimSpace(den))
		if err1 != nil || err2 != nil || d <= 0 {
			return 0, fmt.Errorf("%q is not a fraction", s)
		}
		return float64(n) / float64(d), nil
	}
	return decimal(s)
}

// decimal reads digits with at most one point. strconv alone would take the
// hexadecimal and exponent forms of Go, which nobody prints on a bag.
func decimal(s string) (float64, error) {
	if strings.Trim(s, "0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a decimal number", s)
	}
	return strconv.ParseFloat(s, 64)
}
