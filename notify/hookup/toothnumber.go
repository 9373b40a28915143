package hookup

import (
	"slices"

	"bandbell/scheduler/plan"
)

// Measures of the numbers beyond the gums, in units of the sheet.
const (
	numberGap  = 5.0  // from the gum to the nearest numbers, and from one to its neighbour
	numberTier = 26.0 // from one height to the next
)

// numberTeeth writes the number of each hooked tooth beyond the gum, above the
// upper teeth and below the lower ones: only of those, for a patient has to
// find these and no others. Where two would touch, one stands further out with
// a line to its tooth.
func numberTeeth(m mouth, hooked []plan.Tooth, n plan.Notation) []shape {
	var placed []box
	var out []shape
	for _, upper := range []bool{true, false} {
		for _, c := range m.row(upper) {
			if !slices.Contains(hooked, c.tooth) {
				continue
			}
			foot := c.at(0, 1).plus(c.up.times(gumDepth))
			w := writing{size: toothSize, bold: true, mid: true, s: c.tooth.In(n), ink: black}
			w.at = point{foot.x, foot.y - numberGap - descent*toothSize/2}
			step := -numberTier
			if !upper {
				w.at.y = foot.y + numberGap + 0.8*toothSize
				step = numberTier
			}
			tier := 0
			for ; slices.ContainsFunc(placed, roomy(w).meets); tier++ {
				w.at.y += step
			}
			placed = append(placed, w.box())
			if tier > 0 {
				end := w.at.y + 4
				if !upper {
					end = w.at.y - 0.8*toothSize
				}
				out = append(out, shape{part: "line-" + c.tooth.String(), path: polyline(false, point{foot.x, end}, foot), fill: none, stroke: outline, width: 1.4})
			}
			out = append(out, write("number-"+c.tooth.String(), w))
		}
	}
	return out
}

// roomy is the box of a writing with some room at its sides.
func roomy(w writing) box {
	b := w.box()
	b.min.x -= numberGap
	b.max.x += numberGap
	return b
}
