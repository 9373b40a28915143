package chart

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// Fan draws when the bite will be corrected beside when the aligners will be
// done: from the day by which a tenth of the outcomes are finished to that of
// nine tenths, with the median between, for each measure and for the whole.
// Where there is nothing to go by, the picture says so in words. r and f are a
// record and its figures.
func Fan(r *compliance.Record, f *compliance.Figures) Picture {
	m := newFan(r, f)
	p := Picture{
		Title: "When the bite will be corrected, reckoned on " + long(m.today),
		Head:  []string{"What", "Early (1 in 10 by)", "Median (half by)", "Late (9 in 10 by)", "Remark"},
		Desc:  m.words(),
	}
	for _, row := range m.rows {
		p.Rows = append(p.Rows, row.cells(f.Forecast.Basis))
	}
	if m.known {
		remark := "at the prescribed hours from tomorrow"
		if f.Forecast.Basis == compliance.Assumption {
			remark += ", assumption"
		}
		p.Rows = append(p.Rows, []string{"Finish if worn as prescribed", "", orNever(f.Forecast.AsPrescribed.Median), "", remark})
		p.Rows = append(p.Rows, []string{"Lag", "", "", "", f.LagWords()})
	} else {
		p.Rows = append(p.Rows, []string{"Finish", "", "", "", m.why})
	}
	if !m.end.IsZero() {
		p.Rows = append(p.Rows, []string{m.endName, "", long(m.end), "", "by the plan"})
	}
	p.Text = m.text(p.Title)
	p.SVG = m.svg(p)
	return p
}

// fan is what is drawn along the days to come.
type fan struct {
	f       *compliance.Figures
	today   plan.Date
	end     plan.Date // end of the aligners, or the planned end of braces
	endName string
	rows    []fanRow // the measures that were read, then the finish
	known   bool     // there is a forecast
	why     string   // why there is none
	from    plan.Date
	to      plan.Date // first and last day of the axis
}

// fanRow is one span of days. A zero day is never, within the three years
// that the forecast looks ahead.
type fanRow struct {
	name string
	compliance.Points
	prescribed plan.Date // median if worn as prescribed; the finish alone has one
	whole      bool      // it is the finish
	wrongWay   bool
}

// ahead is how far the forecast looks, in days; later is never.
const ahead = 1095

const never = "never within three years"

func orNever(d plan.Date) string {
	if d.IsZero() {
		return never
	}
	return long(d)
}

func newFan(r *compliance.Record, f *compliance.Figures) *fan {
	c := f.Forecast
	m := &fan{f: f, today: plan.DateOf(r.AsOf, r.Zone), end: c.AlignerEnd, endName: "Aligners end"}
	if r.Plan.Appliance == plan.Braces {
		m.endName = "Planned end"
	}
	usable, read := 0, 0
	for _, d := range f.Days {
		if d.Usable {
			usable++
		}
	}
	for _, e := range []struct {
		name string
		*compliance.Measure
	}{{"Overjet", c.Measures.Overjet}, {"Left side", c.Measures.Left}, {"Right side", c.Measures.Right}} {
		if e.Measure != nil {
			read++
			m.rows = append(m.rows, fanRow{name: e.name, Points: e.Points, wrongWay: e.WrongWay})
		}
	}
	switch {
	case read == 0 && usable < 2:
		m.why = "There is no forecast: nothing was measured at a visit in this time, and fewer than two days can be judged."
	case read == 0:
		m.why = "There is no forecast: nothing was measured at a visit in this time."
	case usable < 2:
		m.why = "There is no forecast: fewer than two days can be judged."
	default:
		m.known = true
	}
	if !m.known {
		m.rows = nil
	} else {
		m.rows = append(m.rows, fanRow{name: "Finish", Points: c.Finish, prescribed: c.AsPrescribed.Median, whole: true})
	}
	m.stretch()
	return m
}

// stretch lays the axis about every day there is to show, and to the end of
// what the forecast looks at where something is never done.
func (m *fan) stretch() {
	m.from, m.to = m.today, m.today
	reach := func(d plan.Date) {
		switch {
		case d.IsZero():
		case d.Before(m.from):
			m.from = d
		case d.After(m.to):
			m.to = d
		}
	}
	reach(m.end)
	for _, row := range m.rows {
		for _, d := range []plan.Date{row.Early, row.Median, row.Late} {
			if d.IsZero() {
				d = m.today.AddDays(ahead)
			}
			reach(d)
		}
		reach(row.prescribed)
	}
	pad := max(7, m.to.DaysSince(m.from)/20)
	m.from, m.to = m.from.AddDays(-pad/3), m.to.AddDays(pad)
}

// share is how far along the axis a day lies, 0-1.
func (m *fan) share(d plan.Date) float64 {
	return float64(d.DaysSince(m.from)) / float64(m.to.DaysSince(m.from))
}

// says is a row in words.
func (r fanRow) says() string {
	s := ""
	switch {
	case r.Early.IsZero():
		s = never + " in more than 9 of 10 outcomes"
	case r.Median.IsZero():
		s = never + " in more than half of the outcomes, in 1 of 10 by " + long(r.Early)
	case r.Late.IsZero():
		s = fmt.Sprintf("%s (from %s to %s)", long(r.Median), long(r.Early), never)
	default:
		s = fmt.Sprintf("%s (%s to %s)", long(r.Median), long(r.Early), long(r.Late))
	}
	if r.wrongWay {
		s += "; the readings go the wrong way"
	}
	return s
}

func (r fanRow) cells(basis compliance.Basis) []string {
	remark := ""
	if r.wrongWay {
		remark = "the readings go the wrong way"
	}
	if basis == compliance.Assumption {
		remark = strings.TrimPrefix(remark+", assumption", ", ")
	}
	return []string{r.name, orNever(r.Early), orNever(r.Median), orNever(r.Late), remark}
}

func (m *fan) prescribedWords() string {
	return "Worn as prescribed from tomorrow: " + orNever(m.f.Forecast.AsPrescribed.Median) + "."
}

// basisWords say what the forecast rests on.
func (m *fan) basisWords() string {
	if m.f.Forecast.Basis == compliance.Readings {
		return "The forecast rests on readings at the chair."
	}
	return "Assumption: no measure was read twice, so this rests on a usual rate and not on this patient."
}

func (m *fan) endWords() string {
	if m.end.IsZero() {
		return "No end is planned."
	}
	return m.endName + ": " + long(m.end) + "."
}

func (m *fan) words() string {
	if !m.known {
		return m.why + " " + m.endWords() + " " + reported
	}
	s := "Along the days to come, for each measure and for the whole finish, a bar from the day by which 1 of 10 outcomes is done to that of 9 of 10, with a mark at the median."
	for _, r := range m.rows {
		s += " " + r.name + ": " + r.says() + "."
	}
	return strings.Join([]string{s, m.prescribedWords(), m.endWords(), "Lag: " + m.f.LagWords() + ".", m.basisWords(), credited, reported}, " ")
}
