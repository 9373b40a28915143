package chart

import (
	"fmt"
	"strings"

	"bandbell/store/compliance"
)

// Hours draws the hours worn day by day: the bounds, the point between them
// and the hours prescribed. A day that cannot be judged is a gap; its numbers
// stand in the table all the same. r and f are a record and its figures.
func Hours(r *compliance.Record, f *compliance.Figures) Picture {
	p := Picture{
		Title: "Hours worn a day, " + stretchOf(r.Window.From, r.Window.To),
		Head:  []string{"Day", "At least", "About", "At most", "Prescribed", "Kind"},
	}
	m := newRun(r, f.Days)
	for i, d := range m.days {
		target := ""
		if m.prescribed(i) {
			target = about(d.Target)
		}
		p.Rows = append(p.Rows, []string{long(d.Date), hours(d.Worn.Low), hours(d.Worn.Point), hours(d.Worn.High), target, kindOf(d)})
	}
	p.Desc = m.words()
	p.Text = m.text(p.Title)
	p.SVG = m.svg(p)
	return p
}

// run is the days and what is prescribed for them.
type run struct {
	r    *compliance.Record
	days []compliance.Day
	last int // index of the last day that can be judged; -1: none
	full int // hours of the axis: 24, or as many as the longest day has
}

func newRun(r *compliance.Record, days []compliance.Day) *run {
	m := &run{r: r, days: days, last: -1, full: 24}
	for i, d := range days {
		if d.Usable {
			m.last = i
		}
		for float64(m.full) < d.Length.Hours() {
			m.full++
		}
	}
	return m
}

// prescribed reports whether bands were to be worn on a day.
func (m *run) prescribed(i int) bool {
	d := m.days[i].Date
	return m.r.Plan.Worn(d) && !m.r.Plan.BandsPaused(d)
}

func kindOf(d compliance.Day) string {
	switch {
	case !d.Usable && d.Stated:
		return "not judged, total stated"
	case !d.Usable:
		return "not judged"
	case d.Stated:
		return "total stated"
	}
	return "from answers"
}

// lastWords name the last value, as it stands beside the picture.
func (m *run) lastWords() string {
	if m.last < 0 {
		return "No day of these can be judged yet."
	}
	d := m.days[m.last]
	s := fmt.Sprintf("Last day that can be judged: %s, about %s h (%s to %s)", long(d.Date), hours(d.Worn.Point), hours(d.Worn.Low), hours(d.Worn.High))
	if d.Stated {
		s = fmt.Sprintf("Last day that can be judged: %s, %s h stated", long(d.Date), hours(d.Worn.Point))
	}
	return s + fmt.Sprintf(", of %s h prescribed.", about(d.Target))
}

// targetWords say what is prescribed and when that changes.
func (m *run) targetWords() string {
	var parts []string
	var last compliance.Minutes
	for i, d := range m.days {
		if !m.prescribed(i) || d.Target == last {
			continue
		}
		if last = d.Target; len(parts) == 0 {
			parts = append(parts, "Prescribed: "+about(d.Target)+" h a day")
		} else {
			parts = append(parts, about(d.Target)+" h from "+long(d.Date))
		}
	}
	if len(parts) == 0 {
		return "No bands are prescribed for these days."
	}
	return strings.Join(parts, ", ") + "."
}

func (m *run) words() string {
	usable := 0
	for _, d := range m.days {
		if d.Usable {
			usable++
		}
	}
	return fmt.Sprintf("For each day a bar from the fewest to the most hours, with a mark at the likeliest; a diamond where the patient stated a total. %d of %s can be judged, the others are gaps. %s %s %s %s",
		usable, plural(len(m.days), "day"), m.targetWords(), m.lastWords(), ifTrue, reported)
}

// text is the run for a terminal: a line a day, a mark for half an hour.
func (m *run) text(title string) string {
	var b strings.Builder
	b.WriteString(page(title + "."))
	b.WriteString("[==] at least to at most   o about   * total stated   | prescribed   blank: cannot be judged\n")
	b.WriteString(page("One mark is half an hour. At the right: about (at least - at most)."))
	if len(m.days) > 0 {
		scale := []byte(strings.Repeat(" ", 12+2*m.full+3))
		for h := 0; h <= 24; h += 6 {
			copy(scale[11+2*h:], fmt.Sprint(h))
		}
		b.WriteString(strings.TrimRight(string(scale), " ") + "\n")
	}
	for i, d := range m.days {
		if i > 0 && d.Date.Year != m.days[i-1].Date.Year {
			b.WriteString(fmt.Sprintf("%10d\n", d.Date.Year))
		}
		b.WriteString(strings.TrimRight(fmt.Sprintf("%10s %s %s", short(d.Date), m.cells(i), m.beside(d)), " ") + "\n")
	}
	b.WriteString(page(m.targetWords(), m.lastWords(), ifTrue, reported))
	return b.String()
}

func (m *run) beside(d compliance.Day) string {
	switch {
	case !d.Usable:
		return ""
	case d.Stated:
		return hours(d.Worn.Point) + " stated"
	}
	return fmt.Sprintf("%s (%s-%s)", hours(d.Worn.Point), hours(d.Worn.Low), hours(d.Worn.High))
}

// cells are a day's line, from 0 to the full hours.
func (m *run) cells(i int) string {
	d := m.days[i]
	out := []byte(strings.Repeat(" ", 2*m.full+1))
	at := func(v compliance.Minutes) int { return max(0, min(len(out)-1, int(v.Hours()*2+.5))) }
	if m.prescribed(i) {
		out[at(d.Target)] = '|'
	}
	if !d.Usable {
		return string(out)
	}
	if d.Stated {
		out[at(d.Worn.Point)] = '*'
		return string(out)
	}
	low, high := at(d.Worn.Low), at(d.Worn.High)
	for x := low; x <= high; x++ {
		if out[x] == ' ' {
			out[x] = '='
		}
	}
	out[low], out[high] = '[', ']'
	out[at(d.Worn.Point)] = 'o'
	return string(out)
}
