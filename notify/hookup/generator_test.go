package hookup

import (
	"slices"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// drawHook makes a hook on a tooth, now and then on the primary one.
func drawHook(t *rapid.T, tooth plan.Tooth) plan.Hook {
	h := plan.Hook{Tooth: tooth,
		Surface: rapid.SampledFrom([]plan.Surface{"", "", plan.Cheek, plan.Tongue}).Draw(t, "surface"),
		Kind:    rapid.SampledFrom(kinds).Draw(t, "kind")}
	if tooth.Position() <= 5 && rapid.IntRange(0, 3).Draw(t, "primary") == 0 {
		h.Tooth += 40
	}
	return h
}

// drawBand makes a prescription that can be worn.
func drawBand(t *rapid.T) plan.Prescription {
	b := plan.Prescription{
		Side:    rapid.SampledFrom([]plan.Side{plan.Right, plan.Left}).Draw(t, "side"),
		Pattern: rapid.SampledFrom([]plan.Pattern{plan.ClassII, plan.ClassIII, plan.VerticalBox, plan.Triangle, plan.AnteriorBox, plan.AnteriorTrapezoid, plan.AnteriorDiagonal, plan.Settling, plan.CrossBite}).Draw(t, "pattern"),
		Lumen:   6.35, Force: 4.5,
		Bag: rapid.SampledFrom([]string{"", "", "Otter", "<&>\""}).Draw(t, "bag"),
	}
	up, lo := plan.Tooth(10), plan.Tooth(40)
	if b.Side == plan.Left {
		up, lo = 20, 30
	}
	pick := func(quadrant plan.Tooth, positions ...int) []plan.Hook {
		var out []plan.Hook
		for _, n := range positions {
			out = append(out, drawHook(t, quadrant+plan.Tooth(n)))
		}
		return out
	}
	some := func(quadrant plan.Tooth, least int) []plan.Hook {
		positions := rapid.SliceOfNDistinct(rapid.IntRange(1, 8), least, 5, rapid.ID[int]).Draw(t, "positions")
		return pick(quadrant, positions...)
	}
	n := rapid.IntRange(1, 7).Draw(t, "front")
	a := rapid.IntRange(1, 4).Draw(t, "anterior")
	switch b.Pattern {
	case plan.ClassII:
		b.Upper, b.Lower = pick(up, n), pick(lo, rapid.IntRange(n+1, 8).Draw(t, "back"))
	case plan.ClassIII:
		b.Lower, b.Upper = pick(lo, n), pick(up, rapid.IntRange(n+1, 8).Draw(t, "back"))
	case plan.VerticalBox:
		b.Upper, b.Lower = pick(up, n, n+1), pick(lo, n+1, n)
	case plan.Triangle:
		b.Upper, b.Lower = pick(up, n), pick(lo, n, n+1)
	case plan.Settling:
		b.Upper, b.Lower = some(up, 2), some(lo, 1)
	case plan.CrossBite:
		b.Upper, b.Lower = pick(up, n), pick(lo, n)
		b.Upper[0].Surface, b.Lower[0].Surface = plan.Tongue, plan.Cheek
		if rapid.Bool().Draw(t, "turned") {
			b.Upper[0].Surface, b.Lower[0].Surface = plan.Cheek, plan.Tongue
		}
	case plan.AnteriorBox, plan.AnteriorTrapezoid:
		b.Side = plan.Front
		b.Upper = append(pick(20, a), pick(10, a)...)
		b.Lower = append(pick(40, a), pick(30, a)...)
	case plan.AnteriorDiagonal:
		b.Side = plan.Front
		b.Upper, b.Lower = pick(20, a), pick(40, a)
	}
	return b
}

// drawBands makes what one patient may wear at once, and more.
func drawBands(t *rapid.T) []plan.Prescription {
	return rapid.SliceOfN(rapid.Custom(drawBand), 1, 5).Draw(t, "bands")
}

func drawOptions(t *rapid.T) Options {
	return Options{
		Lang:     rapid.SampledFrom([]string{"en", "es", "es-419", "pt"}).Draw(t, "lang"),
		Notation: rapid.SampledFrom([]plan.Notation{"", plan.ISO, plan.Universal, plan.Palmer}).Draw(t, "notation"),
	}
}

// hooksOf are the hooks of a band with their surfaces filled in.
func hooksOf(b plan.Prescription) []plan.Hook {
	var out []plan.Hook
	for _, h := range slices.Concat(b.Upper, b.Lower) {
		if h.Surface == "" {
			h.Surface = plan.Cheek
		}
		out = append(out, h)
	}
	return out
}
