package hookup

import (
	"math"
	"slices"

	"bandbell/scheduler/plan"
)

// Measures of the numbers beyond the gums, in units of the sheet.
const (
	numberGap  = 5.0 // from the gum to the nearest numbers, and from one to its neighbour
	numberStep = 3.0 // by which one that would touch another goes further out
	lineFrom   = 9.0 // how far out a number needs a line to its tooth
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
			w := writing{size: toothSize, bold: true, mid: true, caps: true, s: c.tooth.In(n), ink: black}
			w.at = point{foot.x, foot.y - numberGap - capDepth*toothSize}
			step := -numberStep
			if !upper {
				w.at.y = foot.y + numberGap + capHeight*toothSize
				step = numberStep
			}
			near := w.at.y
			for slices.ContainsFunc(placed, roomy(w).meets) {
				w.at.y += step
			}
			placed = append(placed, w.box())
			if math.Abs(w.at.y-near) > lineFrom {
				end := w.at.y + 3
				if !upper {
					end = w.at.y - capHeight*toothSize - 3
				}
				out = append(out, shape{part: "line-" + c.tooth.String(), path: polyline(false, point{foot.x, end}, foot), fill: none, stroke: outline, width: 1.4})
			}
			out = append(out, write("number-"+c.tooth.String(), w))
		}
	}
	return out
}

// roomy is the box of a writing with some room around it.
func roomy(w writing) box {
	b := w.box()
	b.min.x -= numberGap
	b.max.x += numberGap
	b.min.y -= 3
	b.max.y += 3
	return b
}
