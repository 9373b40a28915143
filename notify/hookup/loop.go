package hookup

import (
	"cmp"
	"fmt"
	"slices"

	"bandbell/scheduler/plan"
)

// loop is one band as it runs: from hook to hook and, with three or more, back
// to the first.
type loop struct {
	number  int    // from 1, in the order the bands were given
	corners []mark // each hook once, in the order the band comes to them
	legs    []leg
}

// leg is a straight piece of a band, before the teeth or behind them.
type leg struct {
	from, to point
	behind   bool
}

// runs works out the path of a band: along the upper hooks from left to right,
// then along the lower ones from right to left, so that it never crosses itself.
func runs(number int, b plan.Prescription, marks map[plan.Hook]mark) loop {
	l := loop{number: number}
	along := func(hooks []plan.Hook, sign int) {
		var row []mark
		for _, h := range hooks {
			row = append(row, marks[plainly(h)])
		}
		slices.SortStableFunc(row, func(a, b mark) int {
			return sign * cmp.Or(cmp.Compare(a.at.x, b.at.x), cmp.Compare(a.at.y, b.at.y))
		})
		l.corners = append(l.corners, row...)
	}
	along(b.Upper, 1)
	along(b.Lower, -1)
	n := len(l.corners)
	for i := range n {
		if i == n-1 && n < 3 {
			break
		}
		l.legs = append(l.legs, legsBetween(l.corners[i], l.corners[(i+1)%n])...)
	}
	return l
}

// legsBetween is the way from one hook to another: one leg on the same side of
// the teeth, two where it passes from one side to the other. It does so through
// the bite, halfway between the rows; between teeth of one row in the middle.
func legsBetween(a, b mark) []leg {
	behindA, behindB := a.hook.Surface == plan.Tongue, b.hook.Surface == plan.Tongue
	if behindA == behindB {
		return []leg{{a.at, b.at, behindA}}
	}
	through := between(a.at, b.at, 0.5)
	if a.hook.Tooth.Upper() != b.hook.Tooth.Upper() {
		low, high := 0.0, 1.0 // shares of the way; the line between the rows lies in between
		for range 40 {
			mid := (low + high) / 2
			p := between(a.at, b.at, mid)
			if (p.y < biteLine(p.x)) == a.hook.Tooth.Upper() {
				low = mid
			} else {
				high = mid
			}
		}
		through = between(a.at, b.at, low)
	}
	return []leg{{a.at, through, behindA}, {through, b.at, behindB}}
}

// Widths of a band, in units of the sheet.
const (
	bandWidth   = 5.5
	haloWidth   = 9.5 // the white on both sides that lifts it off the teeth
	behindWidth = 4.5
	behindDash  = 8.0
)

// draw paints the legs of the band that lie before the teeth, or those behind.
func (l loop) draw(behind bool) []shape {
	var halos, lines []shape
	part := fmt.Sprintf("band-%d", l.number)
	for _, g := range l.legs {
		if g.behind != behind {
			continue
		}
		p := polyline(false, g.from, g.to)
		if behind {
			lines = append(lines, shape{part: part + "-behind", path: p, fill: none, stroke: banding, width: behindWidth, dash: behindDash})
			continue
		}
		halos = append(halos, shape{part: part + "-halo", path: p, fill: none, stroke: white, width: haloWidth})
		lines = append(lines, shape{part: part, path: p, fill: none, stroke: banding, width: bandWidth})
	}
	return append(halos, lines...)
}
