package plan

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// anyPlan draws plans that Check has nothing against. What it draws is not
// measured by Check: every hooking is made to fit its pattern from the start.
func anyPlan() *rapid.Generator[Plan] {
	return rapid.Custom(func(t *rapid.T) Plan {
		p := Plan{
			Appliance:   rapid.SampledFrom([]Appliance{Aligners, Braces}).Draw(t, "appliance"),
			HoursPerDay: drawHours(t), ChangesPerDay: rapid.IntRange(1, 24).Draw(t, "changes"),
			NoticeAt: drawClock(t), EveningAt: drawClock(t), UsefulMin: rapid.IntRange(1, 1440).Draw(t, "useful"),
		}
		begin := Date{2026, time.January, 1}.AddDays(rapid.IntRange(0, 800).Draw(t, "begin"))
		after := func(d Date, least, most int) Date { return d.AddDays(rapid.IntRange(least, most).Draw(t, "days on")) }
		maybe := func(what string) bool { return rapid.Bool().Draw(t, what) }
		if p.Appliance == Aligners {
			p.AlignerStart, p.DaysPerTray, p.Trays = begin, rapid.IntRange(1, 366).Draw(t, "days per tray"), rapid.IntRange(1, 1000).Draw(t, "trays")
		}
		if p.Appliance == Braces || maybe("bands start") {
			p.BandsStart = after(begin, 0, 60)
		}
		if p.Appliance == Braces || maybe("planned end") {
			p.PlannedEnd = after(p.Start(), 0, 700)
		}
		if maybe("bands end") {
			p.BandsEnd = after(p.Start(), 0, 700)
		}
		if maybe("quiet") {
			p.Quiet = Quiet{drawClock(t), drawClock(t)}
		}
		next := begin // lists whose days must differ are stepped, then read in any order
		for range rapid.IntRange(0, 3).Draw(t, "wear") {
			next = after(next, 1, 90)
			p.Wear = append(p.Wear, Wear{next, drawHours(t), rapid.IntRange(1, 24).Draw(t, "changes"), maybe("nights")})
		}
		for range rapid.IntRange(0, 3).Draw(t, "cadence") {
			next = after(next, 1, 90)
			p.Cadence = append(p.Cadence, Cadence{next, rapid.IntRange(1, 3).Draw(t, "level")})
		}
		for range rapid.IntRange(0, 3).Draw(t, "restarts") {
			next = after(next, 1, 90)
			p.Restarts = append(p.Restarts, next)
		}
		for range rapid.IntRange(0, 3).Draw(t, "pauses") {
			from := after(begin, 0, 300)
			p.Pauses = append(p.Pauses, Pause{from, after(from, 0, 20), rapid.SampledFrom([]PauseOf{PauseMail, PauseBands}).Draw(t, "of")})
		}
		for _, code := range []MealCode{AfterBreakfast, AfterLunch, AfterDinner, AfterMeal, Bedtime} {
			// The seven days are dealt out to at most two meals of one code.
			first := Weekdays(rapid.IntRange(0, 127).Draw(t, "days"))
			for _, days := range []Weekdays{first, AllDays &^ first} {
				if days != 0 && maybe("meal") {
					p.Meals = append(p.Meals, Meal{code, drawClock(t), rapid.IntRange(0, 720).Draw(t, "minutes"), days})
				}
			}
		}
		for range rapid.IntRange(0, 4).Draw(t, "bands") {
			p.Bands = append(p.Bands, drawBand(t, begin))
		}
		for range rapid.IntRange(0, 2).Draw(t, "bags") {
			p.Bags = append(p.Bags, Bag{after(begin, 0, 300), rapid.IntRange(1, 100000).Draw(t, "count")})
		}
		return p
	})
}

func drawClock(t *rapid.T) Clock { return Clock(rapid.IntRange(0, 1439).Draw(t, "clock")) }

func drawHours(t *rapid.T) float64 {
	if rapid.Bool().Draw(t, "whole") {
		return float64(rapid.IntRange(1, 24).Draw(t, "hours"))
	}
	return rapid.Float64Range(0.001, 24).Draw(t, "hours")
}

// drawBand draws a band of any pattern on hooks that make it.
func drawBand(t *rapid.T, begin Date) Prescription {
	b := Prescription{
		From:    begin.AddDays(rapid.IntRange(0, 300).Draw(t, "from")),
		Side:    rapid.SampledFrom([]Side{Right, Left}).Draw(t, "side"),
		Pattern: rapid.SampledFrom([]Pattern{ClassII, ClassIII, VerticalBox, Triangle, AnteriorBox, AnteriorTrapezoid, AnteriorDiagonal, Settling, CrossBite}).Draw(t, "pattern"),
		Lumen:   rapid.SampledFrom([]Lumen{3.175, 4.7625, 6.35, 7.9375, 9.525, 5, 6.5}).Draw(t, "lumen"),
		Force:   Force(rapid.Float64Range(0.1, 35).Draw(t, "force")),
		Latex:   rapid.Bool().Draw(t, "latex"),
		Bag:     rapid.StringMatching(`[\p{L} "<&]{0,8}`).Draw(t, "bag"),
	}
	if rapid.Bool().Draw(t, "to") {
		b.To = b.From.AddDays(rapid.IntRange(0, 200).Draw(t, "to"))
	}
	up, lo := Tooth(10), Tooth(40) // quadrants of the right side, primary ones 40 more
	if b.Side == Left {
		up, lo = 20, 30
	}
	pick := func(quadrant Tooth, positions ...int) []Hook {
		var out []Hook
		for _, n := range positions {
			h := Hook{Tooth: quadrant + Tooth(n),
				Surface: rapid.SampledFrom([]Surface{"", Cheek, Tongue}).Draw(t, "surface"),
				Kind:    rapid.SampledFrom([]HookKind{"", AlignerCut, Button, Bracket, Wire, MiniScrew}).Draw(t, "kind")}
			if n <= 5 && rapid.Bool().Draw(t, "primary") {
				h.Tooth += 40
			}
			out = append(out, h)
		}
		return out
	}
	n := rapid.IntRange(1, 7).Draw(t, "front")
	switch b.Pattern {
	case ClassII:
		b.Upper, b.Lower = pick(up, n), pick(lo, rapid.IntRange(n+1, 8).Draw(t, "back"))
	case ClassIII:
		b.Lower, b.Upper = pick(lo, n), pick(up, rapid.IntRange(n+1, 8).Draw(t, "back"))
	case VerticalBox:
		b.Upper, b.Lower = pick(up, n, n+1), pick(lo, n, n+1)
	case Triangle:
		b.Upper, b.Lower = pick(up, n), pick(lo, n, n+1)
	case Settling:
		b.Upper, b.Lower = pick(up, n, n+1), pick(lo, n, n+1)
	case CrossBite:
		b.Upper, b.Lower = pick(up, n), pick(lo, n)
		b.Upper[0].Surface, b.Lower[0].Surface = Tongue, Cheek
	case AnteriorBox, AnteriorTrapezoid:
		b.Side = Front
		b.Upper = append(pick(10, 1+n%4), pick(20, 1+n%4)...)
		b.Lower = append(pick(40, 1+n%3), pick(30, 1+n%3)...)
	case AnteriorDiagonal:
		b.Side = Front
		b.Upper, b.Lower = pick(10, 1+n%4), pick(30, 1+n%3)
	}
	return b
}

// The generator draws plans with bands and without, on every pattern: a
// property that never met a cross-bite would prove nothing of it.
func TestGeneratorMeetsEveryPattern(t *testing.T) {
	met := map[Pattern]bool{}
	braces, aligners := false, false
	plans := anyPlan()
	for seed := range 400 {
		p := plans.Example(seed)
		braces, aligners = braces || p.Appliance == Braces, aligners || p.Appliance == Aligners
		for _, band := range p.Bands {
			met[band.Pattern] = true
		}
	}
	if len(met) != 9 || !braces || !aligners {
		t.Errorf("met %v, braces %v, aligners %v", met, braces, aligners)
	}
}
