package compliance

import "bandbell/scheduler/plan"

// Supply is how long the bands last.
type Supply struct {
	PerDay  int       `json:"bands_per_day"` // needed on the As-of's day
	EmptyOn plan.Date `json:"empty_on"`      // first day they do not suffice; zero: not known, or never
}

// supply counts one band a prescription: changes times prescriptions in force
// is a day's need. The need runs from the later of the first day of bands and
// the prescription's own to the last day of bands, but not on days on which
// the doctor paused them. A bag counts from its date. Without bags or without
// prescriptions the day they run out is not known, which is not "out".
func (v *view) supply() Supply {
	p := &v.Plan
	s := Supply{PerDay: v.changes(v.today) * len(p.BandsOn(v.today))}
	if len(p.Bags) == 0 || len(p.Bands) == 0 {
		return s
	}
	d, last := p.Start(), p.Start() // last: nothing changes after it
	for _, e := range p.Bands {
		last = latest(last, e.From, e.To)
	}
	for _, e := range p.Wear {
		last = latest(last, e.From)
	}
	for _, e := range p.Pauses {
		last = latest(last, e.To)
	}
	got := map[plan.Date]int{}
	left := 0
	for _, e := range p.Bags {
		last = latest(last, e.Date)
		if e.Date.Before(d) {
			left += e.Count
		} else {
			got[e.Date] += e.Count
		}
	}
	for ; !d.After(last) && !p.Ended(d); d = d.AddDays(1) {
		left += got[d]
		if left -= v.need(d); left < 0 {
			s.EmptyOn = d
			return s
		}
	}
	rate := v.need(d)
	if rate == 0 || !p.BandsEnd.IsZero() && d.AddDays(left/rate).After(p.BandsEnd) {
		return s
	}
	s.EmptyOn = d.AddDays(left / rate)
	return s
}

// need is how many bands day d takes.
func (v *view) need(d plan.Date) int {
	if !v.Plan.Worn(d) || v.Plan.BandsPaused(d) || !plan.Exists(d, v.Zone) {
		return 0
	}
	return v.changes(d) * len(v.Plan.BandsOn(d))
}

func latest(a plan.Date, others ...plan.Date) plan.Date {
	for _, b := range others {
		if b.After(a) {
			a = b
		}
	}
	return a
}
