package chart

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
)

// fanCells is the width of the axis on a terminal.
const fanCells = 76

// text is the fan for a terminal: each row a line along the days, then words.
func (m *fan) text(title string) string {
	var b strings.Builder
	b.WriteString(page(title + "."))
	if !m.known {
		b.WriteString(page(m.why, m.endWords(), reported))
		return b.String()
	}
	b.WriteString("[==] 1 in 10 to 9 in 10 outcomes   O median   P median if worn as prescribed\n")
	b.WriteString(": today   E " + strings.ToLower(m.endName) + "   > later than three years\n")
	for _, r := range m.rows {
		b.WriteString(strings.TrimRight(fmt.Sprintf("%10s  %s", r.name, m.cells(r)), " ") + "\n")
	}
	ends := long(m.to)
	b.WriteString(fmt.Sprintf("%12s%-*s%s\n", "", fanCells-len(ends), long(m.from), ends))
	for _, r := range m.rows {
		b.WriteString(page(r.name + ": " + r.says() + "."))
	}
	b.WriteString(page(m.prescribedWords(), m.endWords(), "Lag: "+m.f.LagWords()+".", m.basisWords(), credited, reported))
	return b.String()
}

func (m *fan) cells(r fanRow) string {
	out := []byte(strings.Repeat(" ", fanCells))
	at := func(d plan.Date) int { return min(fanCells-1, int(m.share(d)*fanCells)) }
	if !r.Early.IsZero() {
		from, to, last := at(r.Early), fanCells-1, byte('>')
		if !r.Late.IsZero() {
			to, last = at(r.Late), ']'
		}
		for x := from; x <= to; x++ {
			out[x] = '='
		}
		out[from], out[to] = '[', last
	} else {
		out[fanCells-1] = '>'
	}
	put := func(d plan.Date, mark byte) {
		if !d.IsZero() {
			out[at(d)] = mark
		}
	}
	put(m.today, ':')
	put(m.end, 'E')
	put(r.prescribed, 'P')
	put(r.Median, 'O')
	return string(out)
}
