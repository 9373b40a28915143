package compliance

import (
	"math"
	"math/rand/v2"

	"bandbell/scheduler/plan"
)

// Constants of the forecast. Common practice, no source.
const (
	draws        = 20000 // draws of the Monte Carlo
	horizonDays  = 1095  // three years; later is never
	priorFirstSD = 10    // mm, spread of the prior of the first value: nearly none
	hoursLambda  = 0.2   // weight of the newest day in the EWMA of working hours
	hoursSDPart  = 0.5   // part of the days' s.d. taken for the spread of the mean to come
	leastHours   = 0.1   // working hours a day below which a draw does not go
	earlyShare   = 0.1   // of the draws are finished by the early day
	lateShare    = 0.9   // and by the late one
)

// The seed of the draws: any two numbers; fixed, so that a figure can be
// computed again.
const seedHigh, seedLow = 0x62616e64, 0x62656c6c

// Basis is what a forecast rests on.
type Basis string

// A forecast rests on the configured rate alone until some measure has been
// read twice. An assumption is labelled so wherever it is shown and never
// causes a call.
const (
	Assumption Basis = "assumption"
	Readings   Basis = "readings"
)

// Forecast is when the bite will be corrected, beside when the aligners end.
// The change is credited to the bands, though aligners and growth share it. A
// zero date means never, or that too little is known.
type Forecast struct {
	Measures     Measures   `json:"measures"`
	Finish       Points     `json:"finish"`      // the latest of the measures, draw by draw
	AlignerEnd   plan.Date  `json:"aligner_end"` // the planned end, or the day after the last tray
	Basis        Basis      `json:"basis"`
	LagWeeks     *Share     `json:"lag_weeks"`   // finish median less aligner end; nil: never or not known
	ExtraTrays   *int       `json:"extra_trays"` // trays the lag takes; nil for braces too
	AsPrescribed Prescribed `json:"as_prescribed"`

	known bool // there were a reading and two usable days
}

// Measures holds the forecast of each measure that was read; nil: not read.
type Measures struct {
	Overjet *Measure `json:"overjet,omitempty"`
	Left    *Measure `json:"left,omitempty"`
	Right   *Measure `json:"right,omitempty"`
}

// Points are the days by which half, a tenth and nine tenths of the draws are
// finished.
type Points struct {
	Median plan.Date `json:"median"`
	Early  plan.Date `json:"early"`
	Late   plan.Date `json:"late"`
}

// Measure is the forecast of one measure.
type Measure struct {
	Points
	WrongWay bool `json:"wrong_way"` // the last reading exceeds the first by more than a reading's s.d.
}

// Prescribed is the forecast if every day from tomorrow worked as many hours
// as are prescribed today.
type Prescribed struct {
	Median     plan.Date `json:"median"`
	LagWeeks   *Share    `json:"lag_weeks"`
	ExtraTrays *int      `json:"extra_trays"`
}

// forecast fits to each measure r = r0 - b h / 100 + error, h being the point
// working hours since it was first read, with the priors r0 ~ N(first reading,
// 10 mm) and b ~ N(rate, its spread), and draws from the posterior the day on
// which r reaches the tolerance.
func (v *view) forecast(days []Day) Forecast {
	f := Forecast{AlignerEnd: v.Plan.TreatmentEnd(), Basis: Assumption}
	var hours []float64 // working hours of the usable days
	for _, d := range days {
		if d.Usable {
			hours = append(hours, d.Working.Point.Hours())
		}
	}
	read := map[MeasureName][]reading{}
	for _, m := range measures {
		list := v.readings(m)
		if len(list) == 0 {
			continue
		}
		read[m] = list
		if len(list) > 1 {
			f.Basis = Readings
		}
		change := list[len(list)-1].mm - list[0].mm
		*f.Measures.of(m) = &Measure{WrongWay: change > v.Settings.MeasureSD}
	}
	if len(read) == 0 || len(hours) < 2 {
		return f
	}
	f.known = true

	rng := rand.New(rand.NewPCG(seedHigh, seedLow))
	mean, sd := pace(hours)
	perDay := make([]float64, draws)
	for i := range perDay {
		perDay[i] = math.Max(leastHours, mean+sd*rng.NormFloat64())
	}
	prescribed := v.Plan.WearOn(v.today).HoursPerDay
	latestDay, latestPrescribed := make([]int, draws), make([]int, draws)
	for _, m := range measures {
		list, ok := read[m]
		if !ok {
			continue
		}
		g, done := v.fit(list, days), workedBetween(days, list[0].date, v.today)
		var own spread
		for i := range draws {
			need := v.needed(g.draw([2]float64{rng.NormFloat64(), rng.NormFloat64()}), done)
			day := daysFor(need, perDay[i])
			own.add(day)
			latestDay[i] = max(latestDay[i], day)
			latestPrescribed[i] = max(latestPrescribed[i], daysFor(need, prescribed))
		}
		(*f.Measures.of(m)).Points = own.points(v.today)
	}
	var finish, asPrescribed spread
	for i := range draws {
		finish.add(latestDay[i])
		asPrescribed.add(latestPrescribed[i])
	}
	f.Finish = finish.points(v.today)
	f.LagWeeks, f.ExtraTrays = v.lag(f.Finish.Median)
	f.AsPrescribed.Median = asPrescribed.points(v.today).Median
	f.AsPrescribed.LagWeeks, f.AsPrescribed.ExtraTrays = v.lag(f.AsPrescribed.Median)
	return f
}

func (m *Measures) of(name MeasureName) **Measure {
	switch name {
	case Overjet:
		return &m.Overjet
	case Left:
		return &m.Left
	}
	return &m.Right
}

// pace is the mean and the spread of the working hours a day to come, from
// those of the usable days: their EWMA begun at their mean, and half their s.d.
func pace(hours []float64) (mean, sd float64) {
	mean, sd = meanSD(hours)
	for _, h := range hours {
		mean = smooth(mean, h, hoursLambda)
	}
	return mean, sd * hoursSDPart
}

// fit returns the posterior of (r0, b), in mm and mm per 100 working hours.
func (v *view) fit(list []reading, days []Day) regression {
	g := regression{unknowns: 2}
	g.add([2]float64{1, 0}, list[0].mm, priorFirstSD)
	g.add([2]float64{0, 1}, v.Settings.RatePer100h, v.Settings.RateSD)
	for _, r := range list {
		h := workedBetween(days, list[0].date, r.date)
		g.add([2]float64{1, -h / 100}, r.mm, r.sd)
	}
	return g
}

// workedBetween sums the point working hours of the days from <= d < to.
func workedBetween(days []Day, from, to plan.Date) float64 {
	var sum float64
	for _, d := range days {
		if !d.Date.Before(from) && d.Date.Before(to) {
			sum += d.Working.Point.Hours()
		}
	}
	return sum
}

// needed returns the working hours that a draw of (r0, b) needs beyond those
// done until r0 - b h / 100 is down to the tolerance; +Inf for never.
func (v *view) needed(draw [2]float64, done float64) float64 {
	r0, b := draw[0], draw[1]
	if b <= 0 {
		return math.Inf(1)
	}
	return (r0-v.Settings.ToleranceMM)/b*100 - done
}

// daysFor is how many whole days from today, rounded up, so many hours take;
// one more than the horizon for never.
func daysFor(need, perDay float64) int {
	d := math.Ceil(math.Max(0, need) / perDay)
	if d > horizonDays {
		return horizonDays + 1
	}
	return int(d)
}

// spread counts draws by the day on which they finish.
type spread [horizonDays + 2]int

func (s *spread) add(day int) { s[day]++ }

// points returns the days by which the shares of the draws are finished.
func (s *spread) points(today plan.Date) Points {
	by := func(share float64) plan.Date {
		want, sum := share*draws, 0
		for day, n := range s[:horizonDays+1] {
			if sum += n; float64(sum) >= want {
				return today.AddDays(day)
			}
		}
		return plan.Date{}
	}
	return Points{Median: by(0.5), Early: by(earlyShare), Late: by(lateShare)}
}

// lag is how far a finish lies behind the end of the aligners, in weeks, and
// how many trays that takes, at least none.
func (v *view) lag(finish plan.Date) (*Share, *int) {
	end := v.Plan.TreatmentEnd()
	if finish.IsZero() || end.IsZero() {
		return nil, nil
	}
	days := finish.DaysSince(end)
	weeks := share(float64(days) / 7)
	if v.Plan.Appliance == plan.Braces || v.Plan.DaysPerTray <= 0 {
		return weeks, nil
	}
	trays := max(0, int(math.Ceil(float64(days)/float64(v.Plan.DaysPerTray))))
	return weeks, &trays
}
