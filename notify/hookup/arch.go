package hookup

import (
	"cmp"
	"math"
	"slices"

	"bandbell/scheduler/plan"
)

// Measures of the rows of teeth, in units of the sheet.
const (
	middle    = sheet / 2
	halfRow   = 302.0 // room for the teeth of one side
	lift      = 30.0  // how much higher the last teeth stand than the front ones
	biteGap   = 54.0  // between the rows
	stretch   = 1.25  // crowns are drawn so much taller, for the hooks to have room
	gumDepth  = 15.0  // gum seen beyond the necks
	toothGap  = 0.35  // between neighbours, on each side
	neckShare = 0.8   // of the crown's height, where the gum begins behind it
)

// crown is a tooth where it stands.
type crown struct {
	tooth plan.Tooth
	foot  point   // the middle of its biting edge
	right point   // one unit along its biting edge
	up    point   // one unit from the biting edge to the gum
	half  float64 // half its width
	tall  float64
}

// at is a place on the crown: x from -1 to 1 across, y from 0 at the biting
// edge to 1 at the gum.
func (c crown) at(x, y float64) point {
	return c.foot.plus(c.right.times(x * c.half)).plus(c.up.times(y * c.tall))
}

// mouth is both rows, laid out around the middle of the sheet at height zero,
// which lies halfway between the rows at the midline.
type mouth struct {
	crowns []crown // quadrant by quadrant, each from the midline outwards
}

// standing lists the teeth of a permanent quadrant from the midline outwards:
// all eight, a hooked primary tooth in the place of its successor, or behind it
// where both bear hooks.
func standing(quadrant int, hooked []plan.Tooth) []plan.Tooth {
	var row []plan.Tooth
	for n := 1; n <= places; n++ {
		adult, baby := plan.Tooth(10*quadrant+n), plan.Tooth(10*(quadrant+4)+n)
		isHooked := slices.Contains(hooked, baby)
		if !isHooked || slices.Contains(hooked, adult) {
			row = append(row, adult)
		}
		if isHooked {
			row = append(row, baby)
		}
	}
	return row
}

// layOut places all teeth, with those hooked among them.
func layOut(hooked []plan.Tooth) mouth {
	rows := map[int][]plan.Tooth{}
	widest := 0.0
	for q := 1; q <= 4; q++ {
		rows[q] = standing(q, hooked)
		sum := 0.0
		for _, t := range rows[q] {
			sum += sizeOf(t).width
		}
		widest = max(widest, sum)
	}
	scale := halfRow / widest
	var m mouth
	for q := 1; q <= 4; q++ {
		x := 0.0
		for _, t := range rows[q] {
			s := sizeOf(t)
			m.crowns = append(m.crowns, stand(t, x+s.width*scale/2, s.width*scale, s.height*scale*stretch))
			x += s.width * scale
		}
	}
	return m
}

// stand places one tooth whose middle is a distance from the midline. In the
// mirror the patient's right is on the right.
func stand(t plan.Tooth, distance, width, height float64) crown {
	x := distance
	if !t.Right() {
		x = -distance
	}
	sin, cos := math.Sincos(math.Atan(-2 * lift * x / (halfRow * halfRow))) // the slope of the row there
	c := crown{tooth: t, foot: point{middle + x, biteLine(middle+x) + biteGap/2}, right: point{cos, sin}, up: point{-sin, cos}, half: width/2 - toothGap, tall: height}
	if t.Upper() {
		c.foot.y -= biteGap
		c.up = c.up.times(-1)
	}
	return c
}

// biteLine is the height halfway between the rows: the rows rise to the back
// as a smile does.
func biteLine(x float64) float64 {
	d := (x - middle) / halfRow
	return -lift * d * d
}

// of finds a tooth that stands in the mouth.
func (m mouth) of(t plan.Tooth) crown {
	i := slices.IndexFunc(m.crowns, func(c crown) bool { return c.tooth == t })
	return m.crowns[i]
}

// row is one arch from left to right.
func (m mouth) row(upper bool) []crown {
	var out []crown
	for _, c := range m.crowns {
		if c.tooth.Upper() == upper {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b crown) int { return cmp.Compare(a.foot.x, b.foot.x) })
	return out
}

// holds reports whether a disc lies in the mouth and clear of the numbers
// beyond the gums.
func (m mouth) holds(at point, radius float64, numbers []shape) bool {
	const deep = 62.0 // from the line between the rows; the necks lie at about that
	if at.x < 1.5*radius || at.x > sheet-1.5*radius || math.Abs(at.y-biteLine(at.x)) > deep {
		return false
	}
	own := box{point{at.x - radius - 2, at.y - radius - 2}, point{at.x + radius + 2, at.y + radius + 2}}
	return !slices.ContainsFunc(numbers, func(s shape) bool { return s.text != nil && own.meets(s.text.box()) })
}

// gumEdge is the far edge of the gum, from left to right.
func gumEdge(row []crown) []point {
	var edge []point
	ends := func(c crown, x float64) point { return c.at(x, 1).plus(c.up.times(gumDepth)) }
	edge = append(edge, ends(row[0], -1))
	for _, c := range row {
		edge = append(edge, ends(c, 0))
	}
	return append(edge, ends(row[len(row)-1], 1))
}

// draw paints gums and teeth.
func (m mouth) draw() []shape {
	var out []shape
	for _, upper := range []bool{true, false} {
		row := m.row(upper)
		name := "gum-lower"
		if upper {
			name = "gum-upper"
		}
		far := gumEdge(row)
		var near []point
		near = append(near, row[0].at(-1, neckShare))
		for _, c := range row {
			near = append(near, c.at(0, neckShare))
		}
		near = append(near, row[len(row)-1].at(1, neckShare))
		slices.Reverse(near)
		p := append(smooth(move, far), smooth(line, near)...)
		out = append(out, shape{part: name, path: append(p, step{how: shut}), fill: gum, stroke: none})
	}
	for _, c := range m.crowns {
		out = append(out, shape{part: "tooth-" + c.tooth.String(), path: c.path(), fill: white, stroke: outline, width: 2})
		if g := c.groove(); g != nil {
			out = append(out, shape{part: "groove-" + c.tooth.String(), path: g, fill: none, stroke: outline, width: 1.4})
		}
	}
	return out
}
