package hookup

import "bandbell/scheduler/plan"

// The outlines are of our own drawing, in the frame of a crown: x from -1 to 1
// across it, y from 0 at the edge that bites to 1 at the gum. Each is its right
// half, from the middle of the biting edge to the middle of the neck, as a
// start and cubic curves of three points each; the left half is its mirror.
var (
	incisorHalf = []point{
		{0, 0}, {.25, 0}, {.5, 0}, {.7, 0}, {.83, 0}, {.93, .03}, {.94, .12},
		{.97, .45}, {.85, .74}, {.68, .91}, {.5, 1.02}, {.2, 1}, {0, 1},
	}
	canineHalf = []point{
		{0, 0}, {.06, 0}, {.12, .02}, {.2, .06}, {.45, .17}, {.68, .26}, {.84, .33}, {1, .4}, {.96, .52}, {.9, .62},
		{.84, .8}, {.74, .88}, {.62, .94}, {.44, 1.02}, {.2, 1}, {0, 1},
	}
	premolarHalf = []point{
		{0, 0}, {.16, 0}, {.28, .02}, {.42, .08}, {.58, .13}, {.7, .17}, {.8, .21}, {.99, .28}, {.97, .44}, {.92, .56},
		{.86, .78}, {.74, .9}, {.6, .95}, {.44, 1.01}, {.2, 1}, {0, 1},
	}
	molarHalf = []point{
		{0, .2}, {.08, .18}, {.16, .04}, {.4, .02}, {.62, 0}, {.8, .06}, {.89, .2}, {1, .38}, {.96, .72}, {.82, .92},
		{.66, 1.02}, {.4, .99}, {.26, .98}, {.16, .97}, {.1, .9}, {0, .9},
	}
	molarGroove = []point{{0, .2}, {0, .3}, {0, .4}, {0, .5}}
)

// halfOf is the outline for the class of a tooth.
func halfOf(t plan.Tooth) []point {
	switch {
	case t.Incisor():
		return incisorHalf
	case t.Canine():
		return canineHalf
	case t.Molar():
		return molarHalf
	}
	return premolarHalf
}

// crownPath is the closed outline of a tooth where it stands.
func (c crown) path() path {
	half := halfOf(c.tooth)
	p := path{{move, [3]point{c.at(half[0].x, half[0].y)}}}
	for i := 1; i+2 < len(half); i += 3 {
		p = append(p, step{curve, [3]point{c.at(half[i].x, half[i].y), c.at(half[i+1].x, half[i+1].y), c.at(half[i+2].x, half[i+2].y)}})
	}
	for i := len(half) - 2; i-2 >= 0; i -= 3 {
		p = append(p, step{curve, [3]point{c.at(-half[i].x, half[i].y), c.at(-half[i-1].x, half[i-1].y), c.at(-half[i-2].x, half[i-2].y)}})
	}
	return append(p, step{how: shut})
}

// groove is the line between the cusps of a molar; nil for other teeth.
func (c crown) groove() path {
	if !c.tooth.Molar() {
		return nil
	}
	g := molarGroove
	return path{{move, [3]point{c.at(g[0].x, g[0].y)}}, {curve, [3]point{c.at(g[1].x, g[1].y), c.at(g[2].x, g[2].y), c.at(g[3].x, g[3].y)}}}
}
