package hookup

import (
	"fmt"
	"slices"
	"strings"

	"bandbell/scheduler/plan"
)

// margin is kept free at the sides of the sheet.
const margin = 16.0

// keyItem is a sign and what it means.
type keyItem struct {
	sign func(at point) []shape // drawn around a place; 40 units wide at the most
	says string
}

// key lists the signs that stand in the picture: each kind of hook on each
// surface, and the two ways a line is drawn where both occur.
func (s *speech) key(marks []mark, loops []loop) []keyItem {
	var items []keyItem
	seen := map[plan.Hook]bool{}
	tongue := slices.ContainsFunc(marks, func(m mark) bool { return m.hook.Surface == plan.Tongue })
	for _, surface := range []plan.Surface{plan.Cheek, plan.Tongue} {
		for _, kind := range kinds {
			h := plan.Hook{Surface: surface, Kind: kind}
			if seen[h] || !slices.ContainsFunc(marks, func(m mark) bool { return m.hook.Surface == surface && m.hook.Kind == kind }) {
				continue
			}
			seen[h] = true
			says := s.kinds[kind]
			if tongue {
				says += ", " + s.surfaces[surface]
			}
			items = append(items, keyItem{func(at point) []shape { return mark{h, at}.draw("key", -1) }, says})
		}
	}
	for _, behind := range []bool{false, true} {
		has := slices.ContainsFunc(loops, func(l loop) bool {
			return slices.ContainsFunc(l.legs, func(g leg) bool { return g.behind == behind })
		})
		if !tongue || !has {
			continue
		}
		says := s.before
		if behind {
			says = s.behind
		}
		items = append(items, keyItem{func(at point) []shape {
			l := loop{legs: []leg{{at.plus(point{-20, 0}), at.plus(point{20, 0}), behind}}}
			shapes := l.draw(behind)
			for i := range shapes {
				shapes[i].part = "key"
			}
			return shapes
		}, says})
	}
	return items
}

// drawKey sets the key in lines from a height down; it returns where it ends.
func drawKey(items []keyItem, y float64) ([]shape, float64) {
	const sign, gap = 52.0, 26.0
	var out []shape
	x := margin
	for i, item := range items {
		w := writing{size: wordSize, s: item.says, ink: black}
		if i > 0 && x+sign+w.width() > sheet-margin {
			x, y = margin, y+wordLine+4
		}
		out = append(out, item.sign(point{x + 20, y + wordLine/2})...)
		w.at = point{x + sign, y + wordLine/2 + 0.35*wordSize}
		out = append(out, write("key-words", w))
		x += sign + w.width() + gap
	}
	return out, y + wordLine + 4
}

// drawSentences sets the sentences from a height down, each behind its band's
// disc where there are several.
func drawSentences(sentences []string, y float64) ([]shape, float64) {
	var out []shape
	for i, s := range sentences {
		x := margin
		if len(sentences) > 1 {
			at := point{margin + discReach, y + wordLine/2}
			out = append(out, disc{i + 1, at, at}.draw("legend")...)
			x += 2*discReach + 12
		}
		for _, l := range wrap(s, sheet-margin-x, wordSize) {
			out = append(out, write(fmt.Sprintf("words-%d", i+1), writing{at: point{x, y + wordLine/2 + 0.35*wordSize}, size: wordSize, s: l, ink: black}))
			y += wordLine
		}
		y += 7
	}
	return out, y
}

// wrap breaks a sentence at blanks into lines no wider than width; a word that
// is wider than a line is broken within.
func wrap(s string, width, size float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		joined := strings.TrimPrefix(line+" "+word, " ")
		if measure(joined, size, false) <= width {
			line = joined
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		for _, r := range word {
			if line != "" && measure(line+string(r), size, false) > width {
				lines = append(lines, line)
				line = ""
			}
			line += string(r)
		}
	}
	return append(lines, line)
}
