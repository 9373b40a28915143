package plan

import (
	"fmt"
	"slices"
)

// Check returns everything that is wrong with a plan, by path: dates in the
// wrong order, a meal code twice on a day, a band that cannot be worn as
// written. It is empty for a plan that can be acted on.
func (p *Plan) Check() Faults {
	var fs Faults
	fault := func(path, what, hint string) { fs = append(fs, Fault{Path: path, What: what, Hint: hint}) }

	start := p.Start()
	if !p.BandsEnd.IsZero() && p.BandsEnd.Before(start) {
		fault("bands_end", fmt.Sprintf("%s lies before the bands start on %s", p.BandsEnd, start), "")
	}
	if !p.BandsStart.IsZero() && !p.AlignerStart.IsZero() && p.BandsStart.Before(p.AlignerStart) {
		fault("bands_start", fmt.Sprintf("%s lies before the first aligner day, %s", p.BandsStart, p.AlignerStart),
			"leave it out for the first day of week three")
	}
	if !p.PlannedEnd.IsZero() && p.PlannedEnd.Before(start) {
		fault("planned_end", fmt.Sprintf("%s lies before the bands start on %s", p.PlannedEnd, start), "")
	}
	for i, e := range p.Pauses {
		if e.To.Before(e.From) {
			fault(fmt.Sprintf("pauses[%d].to", i), fmt.Sprintf("%s lies before its from, %s", e.To, e.From), "both ends are paused days")
		}
	}
	twice := func(list string, n int, from func(int) Date) {
		for i := range n {
			for j := range i {
				if from(i) == from(j) {
					fault(fmt.Sprintf("%s[%d].from", list, i), fmt.Sprintf("%s stands in two entries", from(i)), "keep one of the two")
				}
			}
		}
	}
	twice("wear", len(p.Wear), func(i int) Date { return p.Wear[i].From })
	twice("cadence", len(p.Cadence), func(i int) Date { return p.Cadence[i].From })
	for i, m := range p.Meals {
		for _, other := range p.Meals[:i] {
			if m.Code == other.Code && m.Days&other.Days != 0 {
				fault(fmt.Sprintf("meals[%d].code", i), fmt.Sprintf("%s stands twice on %s", m.Code, (m.Days & other.Days).names()[0]),
					"a meal code may stand once on each day of the week; PC is any other meal")
				break
			}
		}
	}
	for i, b := range p.Bands {
		for _, f := range b.Check() {
			f.Path = fmt.Sprintf("bands[%d].%s", i, f.Path)
			fs = append(fs, f)
		}
	}
	return fs
}

// CheckFor returns what is wrong with prescribing the plan to this patient: a
// latex band without "latex allergy: no" on record.
func (p *Plan) CheckFor(latexAllergy Answer) Faults {
	var fs Faults
	for i, b := range p.Bands {
		if b.Latex && latexAllergy != No {
			what, hint := "is a latex band, and latex allergy was not asked", "ask, record the answer with the patient, or prescribe a non-latex band"
			if latexAllergy == Yes {
				what, hint = "is a latex band, and the patient is allergic to latex", "prescribe a non-latex band"
			}
			fs = append(fs, Fault{Path: fmt.Sprintf("bands[%d].latex", i), What: what, Hint: hint})
		}
	}
	return fs
}

// Check returns what is wrong with one prescription: hooks on the wrong side or
// arch, and figures its pattern cannot make.
func (b *Prescription) Check() Faults {
	var fs Faults
	fault := func(path, what, hint string) { fs = append(fs, Fault{Path: path, What: what, Hint: hint}) }
	if !b.To.IsZero() && b.To.Before(b.From) {
		fault("to", fmt.Sprintf("%s lies before its from, %s", b.To, b.From), "it is the last day of wear")
	}
	b.checkHooks("upper", b.Upper, true, fault)
	b.checkHooks("lower", b.Lower, false, fault)
	if len(fs) == 0 {
		b.checkPattern(fault)
	}
	return fs
}

func (b *Prescription) checkHooks(list string, hooks []Hook, upper bool, fault func(path, what, hint string)) {
	if len(hooks) == 0 {
		fault(list, "names no tooth", "a band hangs on at least one tooth of each arch")
	}
	for i, h := range hooks {
		path := fmt.Sprintf("%s[%d]", list, i)
		switch {
		case !h.Tooth.Valid():
			fault(path, h.Tooth.String()+" is not a tooth", toothHint)
		case h.Tooth.Upper() != upper:
			fault(path, fmt.Sprintf("tooth %s stands in the other arch", h.Tooth), "upper teeth are quadrants 1 and 2, lower ones 3 and 4")
		case b.Side == Right && !h.Tooth.Right():
			fault(path, fmt.Sprintf("tooth %s stands on the left, the band on the right", h.Tooth), "a right band hooks quadrants 1 and 4")
		case b.Side == Left && h.Tooth.Right():
			fault(path, fmt.Sprintf("tooth %s stands on the right, the band on the left", h.Tooth), "a left band hooks quadrants 2 and 3")
		case slices.ContainsFunc(hooks[:i], func(o Hook) bool { return o.Tooth == h.Tooth && o.side() == h.side() }):
			fault(path, fmt.Sprintf("tooth %s stands twice", h.Tooth), "")
		}
	}
}

// frontmost tooth that counts as anterior: the canine, or the first premolar
// that stands in for it where the canine bears no hook. Common practice, no
// source.
const lastAnterior = 4

func (b *Prescription) checkPattern(fault func(path, what, hint string)) {
	upFront, upBack := reach(b.Upper)
	loFront, loBack := reach(b.Lower)
	up, lo := len(b.Upper), len(b.Lower)
	count := func(ok bool, hint string) {
		if !ok {
			fault("pattern", fmt.Sprintf("%s cannot be made of %d upper and %d lower hooks", b.Pattern, up, lo), hint)
		}
	}
	anterior := func() {
		if max(upBack, loBack) > lastAnterior {
			fault("pattern", fmt.Sprintf("%s reaches behind the first premolars", b.Pattern), "it is worn across the front teeth")
		}
		if b.Side != Front {
			fault("side", fmt.Sprintf("%s is worn in front", b.Pattern), `write "side": "front"`)
		}
	}
	switch b.Pattern {
	case ClassII:
		if b.Side == Front || upBack >= loFront {
			fault("pattern", "a Class II band runs from an upper tooth back to a lower one", "from the upper canine to the lower first molar, as 13 to 46")
		}
	case ClassIII:
		if b.Side == Front || loBack >= upFront {
			fault("pattern", "a Class III band runs from a lower tooth back to an upper one", "from the lower canine to the upper first molar, as 43 to 16")
		}
	case VerticalBox:
		count(up == 2 && lo == 2, "a box hangs on two upper and two lower teeth")
	case AnteriorBox, AnteriorTrapezoid:
		count(up == 2 && lo == 2, "it hangs on two upper and two lower teeth")
		anterior()
	case Triangle:
		count(up+lo == 3, "a triangle hangs on three teeth")
	case AnteriorDiagonal:
		count(up == 1 && lo == 1, "a diagonal runs from one upper to one lower tooth")
		anterior()
		if up == 1 && lo == 1 && b.Upper[0].Tooth.Right() == b.Lower[0].Tooth.Right() {
			fault("pattern", "a diagonal crosses the midline", "from an upper tooth to a lower one of the other side, as 13 to 33")
		}
	case Settling:
		count(up+lo >= 3, "a settling band runs over three teeth or more")
	case CrossBite:
		count(up == 1 && lo == 1, "a cross-bite band runs from one upper to one lower tooth")
		if b.Upper[0].Surface == "" || b.Lower[0].Surface == "" || b.Upper[0].Surface == b.Lower[0].Surface {
			fault("pattern", "a cross-bite band runs through the bite, from a tongue side to a cheek side",
				`write each hook as {"tooth":16,"surface":"tongue"}, one of them "cheek"`)
		}
	}
}

// reach is the position of the hook nearest to the midline and of the one
// furthest back.
func reach(hooks []Hook) (front, back int) {
	front = 9
	for _, h := range hooks {
		front, back = min(front, h.Tooth.Position()), max(back, h.Tooth.Position())
	}
	return front, back
}
