package hookup

import (
	"cmp"
	"slices"

	"bandbell/scheduler/plan"
)

// markReach is how far a mark reaches from its middle, in units of the sheet.
// Two of them go into the narrowest permanent crown's width less its edge.
const markReach = 9.5

// kinds are the kinds of hook in the order they are told in; the empty one is
// a hook of which nothing was said.
var kinds = []plan.HookKind{"", plan.AlignerCut, plan.Button, plan.Bracket, plan.Wire, plan.MiniScrew}

// mark is a hook where it stands on its tooth.
type mark struct {
	hook plan.Hook // its surface is never empty
	at   point
}

// plainly fills in the surface that was not said: the cheek side.
func plainly(h plan.Hook) plan.Hook {
	if h.Surface == "" {
		h.Surface = plan.Cheek
	}
	return h
}

// name is the mark's part name, without its first word.
func name(h plan.Hook) string {
	s := h.Tooth.String() + "-" + string(h.Surface)
	if h.Kind != "" {
		s += "-" + string(h.Kind)
	}
	return s
}

// markAll places each hook of the bands once, however many bands share it.
func markAll(m mouth, bands []plan.Prescription) map[plan.Hook]mark {
	onTooth := map[plan.Tooth][]plan.Hook{}
	for _, b := range bands {
		for _, h := range slices.Concat(b.Upper, b.Lower) {
			if h = plainly(h); !slices.Contains(onTooth[h.Tooth], h) {
				onTooth[h.Tooth] = append(onTooth[h.Tooth], h)
			}
		}
	}
	marks := map[plan.Hook]mark{}
	for t, hooks := range onTooth {
		slices.SortFunc(hooks, func(a, b plan.Hook) int {
			return cmp.Or(cmp.Compare(a.Surface, b.Surface), cmp.Compare(slices.Index(kinds, a.Kind), slices.Index(kinds, b.Kind)))
		})
		c := m.of(t)
		for i, h := range hooks {
			x, y := spot(i, len(hooks))
			marks[h] = mark{h, c.at(x, y)}
		}
	}
	return marks
}

// spot is where the i-th of n hooks of one tooth stands on the crown: one in
// the middle, two one above the other, more in two columns.
func spot(i, n int) (x, y float64) {
	const low, high, side = 0.34, 0.76, 0.4
	switch {
	case n == 1:
		return 0, 0.56
	case n == 2:
		return 0, high - float64(i)*(high-low)
	}
	rows := (n + 1) / 2
	return side * float64(2*(i%2)-1), high - float64(i/2)*(high-low)/float64(rows-1)
}

// inOrder lists marks by tooth, surface and kind.
func inOrder(marks map[plan.Hook]mark) []mark {
	var out []mark
	for _, m := range marks {
		out = append(out, m)
	}
	slices.SortFunc(out, func(a, b mark) int {
		return cmp.Or(cmp.Compare(a.hook.Tooth, b.hook.Tooth), cmp.Compare(a.hook.Surface, b.hook.Surface),
			cmp.Compare(slices.Index(kinds, a.hook.Kind), slices.Index(kinds, b.hook.Kind)))
	})
	return out
}

// draw paints the mark: filled on the cheek side, hollow with a broken edge on
// the tongue side, a figure of its own for each kind. up is -1 where the gum
// lies above it, else 1.
func (m mark) draw(part string, up float64) []shape {
	body := shape{part: part, fill: black, stroke: white, width: 2}
	detail := white
	if m.hook.Surface == plan.Tongue {
		body.fill, body.stroke, body.width, body.dash = white, black, 2, 4.5
		detail = black
	}
	at := func(x, y float64) point { return point{m.at.x + x, m.at.y + up*y} }
	mine := func(p path, w float64) shape {
		return shape{part: part + "-detail", path: p, fill: none, stroke: detail, width: w}
	}
	const r = markReach
	switch m.hook.Kind {
	case plan.AlignerCut: // a notch that narrows towards the gum
		body.path = polyline(true, at(-r, -r+2), at(r, -r+2), at(0, r))
		return []shape{body}
	case plan.Button: // a disc with a dot
		body.path = circle(m.at, r)
		return []shape{body, {part: part + "-detail", path: circle(m.at, r/3), fill: detail, stroke: none}}
	case plan.Bracket: // a square with its slot
		body.path = polyline(true, at(-r+1, -r+1), at(r-1, -r+1), at(r-1, r-1), at(-r+1, r-1))
		return []shape{body, mine(polyline(false, at(-r+1, 0), at(r-1, 0)), 3)}
	case plan.Wire: // a post on a bar
		body.path = polyline(true, at(-r, -r+2), at(r, -r+2), at(r, -r+8), at(3.5, -r+8), at(3.5, r), at(-3.5, r), at(-3.5, -r+8), at(-r, -r+8))
		return []shape{body}
	case plan.MiniScrew: // a head with a slanting slot
		body.path = circle(m.at, r)
		d := r * 0.55
		return []shape{body, mine(polyline(false, at(-d, -d), at(d, d)), 2.8)}
	}
	body.path = circle(m.at, 6.5)
	return []shape{body}
}
