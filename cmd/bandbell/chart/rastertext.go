package chart

import (
	"fmt"
	"strings"

	"bandbell/store/compliance"
)

// cells across a row of the terminal, and how long one is.
const (
	cellsAcross       = 72
	cellMicros  int64 = microDay / cellsAcross
)

var cellMarks = map[compliance.State]byte{compliance.On: '#', compliance.Off: '_', compliance.Unknown: '.'}

// text is the raster for a terminal. A cell shows the state that took most of
// its 20 minutes, of two alike the one that says less.
func (m *raster) text(r *compliance.Record, title string) string {
	var b strings.Builder
	b.WriteString(page(title + "."))
	b.WriteString("# worn   _ not worn   . not reported   blank: no such time\n")
	b.WriteString(page(fmt.Sprintf("Times of %s. One mark is 20 minutes. At the right: hours worn, at least and at most; = stated by the patient.", r.Zone)))
	scale := make([]byte, 11+cellsAcross+2)
	for i := range scale {
		scale[i] = ' '
	}
	for h := 0; h <= 24; h += 3 {
		copy(scale[11+3*h:], fmt.Sprint(h))
	}
	if len(m.days) > 0 {
		b.WriteString(strings.TrimRight(string(scale), " ") + "\n")
	}
	for i := range m.days {
		d := &m.days[i]
		if i > 0 && d.Day.Year != m.days[i-1].Day.Year {
			b.WriteString(fmt.Sprintf("%10d\n", d.Day.Year))
		}
		for n, lane := range d.lanes {
			line := fmt.Sprintf("%10s %s", short(d.Day), cellsOf(lane))
			if n > 0 {
				line = fmt.Sprintf("%10s %s", "again", cellsOf(lane))
			} else if d.Stated != nil {
				line += " =" + d.bounds("")
			} else if !d.ahead(r) {
				line += " " + d.bounds("-")
			}
			if odd := d.odd(); odd != "" && n == 0 {
				line += " " + odd
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
	}
	for _, d := range m.absent {
		b.WriteString(page(long(d) + " did not exist there."))
	}
	b.WriteString(page(strings.TrimSpace(m.toCome(r)), reported))
	return b.String()
}

func cellsOf(lane []piece) string {
	out := make([]byte, cellsAcross)
	next := 0
	for i := range out {
		from, to := int64(i)*cellMicros, int64(i+1)*cellMicros
		for next < len(lane) && lane[next].to <= from {
			next++
		}
		var share [3]int64
		for _, p := range lane[next:] {
			if p.from >= to {
				break
			}
			share[p.state] += min(to, p.to) - max(from, p.from)
		}
		out[i] = ' '
		var most int64
		for _, s := range []compliance.State{compliance.Unknown, compliance.Off, compliance.On} {
			if share[s] > most {
				out[i], most = cellMarks[s], share[s]
			}
		}
	}
	return string(out)
}
