package compliance

import (
	"cmp"
	"fmt"
	"slices"

	"bandbell/scheduler/plan"
)

// Safety is how much a patient's safety asks for a call.
type Safety int

// The degrees of safety, the greater the more urgent.
const (
	NoDanger  Safety = iota
	Harm             // an open sign of harm: yellow allergy, swelling, ulcer, fever, jaw, or alarming soreness
	Emergency        // an open red sign of allergy
)

// Row is one line of the morning list.
type Row struct {
	Patient    string // the clinic's reference
	Standing   Standing
	Why        []string // in words, with the evidence; never empty
	Safety     Safety
	LagPerWeek float64 // weeks of lag that each week of waiting adds, 0-1
	Waiting    int     // whole days since the cause came up
}

// NewRow makes the line of one patient from the record and its figures.
//
// A week at w working hours a day where h are prescribed leaves 1 - w/h of a
// week's work to be done later, so it adds that many weeks of lag; w is the
// pace the forecast counts on. Where there are no bands to wear, or none can
// be worn, it is a whole week. With fewer than two usable days it is not known
// and taken as none.
func NewRow(patient string, r *Record, f *Figures) (Row, error) {
	if err := r.check(); err != nil {
		return Row{}, fmt.Errorf("make row of the morning list: %w", err)
	}
	v := newView(r)
	row := Row{Patient: patient, Standing: f.Standing, Why: f.Why}

	var hours []float64
	for _, d := range f.Days {
		if d.Usable {
			hours = append(hours, d.Working.Point.Hours())
		}
	}
	if len(hours) >= 2 {
		w, _ := pace(hours)
		row.LagPerWeek = max(0, min(1, 1-w/v.Plan.WearOn(v.today).HoursPerDay))
	}
	since := v.today
	earliest := func(d plan.Date) {
		if d.Before(since) {
			since = d
		}
	}
	out := !f.Supply.EmptyOn.IsZero() && !f.Supply.EmptyOn.After(v.today)
	if out {
		row.LagPerWeek = 1
	}
	switch f.Standing {
	case Call:
		for _, e := range v.open() {
			if !callsFor(e, v.AsOf) {
				continue
			}
			earliest(v.day(e.At))
			row.Safety = max(row.Safety, danger(e))
			if e.What == plan.FlagBroken || e.What == plan.FlagOutOfBands {
				row.LagPerWeek = 1
			}
		}
		if out {
			earliest(f.Supply.EmptyOn)
		}
		start := v.cycle(f.Restarts)
		if len(v.alarming(start, f.Soreness)) > 0 {
			row.Safety = max(row.Safety, Harm)
			earliest(v.soreSince(start, f.Soreness))
		}
		earliest(v.slipSince(f.Days))
	case Quiet:
		last, delivered := v.lastAnswer(), v.delivered()
		answers := v.answers(delivered)
		for _, n := range delivered {
			if n.Due.After(last) && !answers[n.Slot].answered {
				earliest(v.day(n.Due))
			}
		}
	case Slipping:
		earliest(v.slipSince(f.Days))
	}
	row.Waiting = v.today.DaysSince(since)
	return row, nil
}

// danger is the degree of one open flag.
func danger(f plan.Flag) Safety {
	switch f.What {
	case plan.FlagAllergy:
		if f.Level == plan.Red {
			return Emergency
		}
		return Harm
	case plan.FlagSwelling, plan.FlagUlcer, plan.FlagFever, plan.FlagJaw:
		return Harm
	}
	return NoDanger
}

// soreSince is the first day by which the soreness was alarming.
func (v *view) soreSince(start plan.Date, course []SoreDay) plan.Date {
	for n := range course {
		if len(v.alarming(start, course[:n+1])) > 0 {
			return start.AddDays(course[n].Day - 1)
		}
	}
	return v.today
}

// slipSince is the first day at the end of which, and of every usable day
// since, the patient was slipping; today where that is none.
func (v *view) slipSince(days []Day) plan.Date {
	usable := filter(days, func(d Day) bool { return d.Usable })
	if n := slipDays(usable); n > 0 {
		return usable[len(usable)-n].Date
	}
	return v.today
}

// Order sorts the morning list by what waiting costs: safety first, then the
// lag gained per week, then days waiting, the greater of each before the less;
// what is then alike stands by reference, so that the list is always the same.
func Order(rows []Row) {
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(
			cmp.Compare(b.Safety, a.Safety),
			cmp.Compare(b.LagPerWeek, a.LagPerWeek),
			cmp.Compare(b.Waiting, a.Waiting),
			cmp.Compare(a.Patient, b.Patient),
		)
	})
}
