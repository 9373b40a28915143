package compliance

import (
	"slices"

	"bandbell/scheduler/plan"
)

// MeasureName is what is read at a visit.
type MeasureName string

// The measures.
const (
	Overjet MeasureName = "overjet"
	Left    MeasureName = "left"  // canine or molar relation on the left
	Right   MeasureName = "right" // and on the right
)

var measures = []MeasureName{Overjet, Left, Right}

// reading is one reading of one measure: millimetres still to correct, with
// its standard deviation.
type reading struct {
	date   plan.Date
	mm, sd float64
}

// readings lists what was read of a measure at the visits of the window, in
// order of date. Of the visits before the window the last that read it counts
// as taken on the window's first day, unless it was read that day.
func (v *view) readings(m MeasureName) []reading {
	var out []reading
	var before *reading
	for _, e := range v.visits {
		mm := e.reading(m)
		if mm == nil || e.Date.After(v.Window.To) {
			continue
		}
		r := reading{e.Date, *mm, v.Settings.MeasureSD}
		if e.SD != nil {
			r.sd = *e.SD
		}
		switch {
		case !e.Date.Before(v.Window.From):
			out = append(out, r)
		case before == nil || !r.date.Before(before.date):
			before = &r
		}
	}
	slices.SortStableFunc(out, func(a, b reading) int { return a.date.Compare(b.date) })
	if before != nil && (len(out) == 0 || out[0].date != v.Window.From) {
		before.date = v.Window.From
		out = slices.Insert(out, 0, *before)
	}
	return out
}
