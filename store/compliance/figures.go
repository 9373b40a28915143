package compliance

import (
	"fmt"

	"bandbell/scheduler/plan"
)

// Figures are everything that is worked out from a record. Marshalled they
// have a stable shape: minutes to two decimals, shares and weeks to six, dates
// as ISO 8601, null for what is not known, and lists never null.
type Figures struct {
	Days     []Day       `json:"days"`
	WearP    Share       `json:"wear_p"` // share of unknown time taken as worn
	Counts   Counts      `json:"counts"`
	Trend    Trend       `json:"trend"`
	Silence  Silence     `json:"silence"`
	Forecast Forecast    `json:"forecast"`
	Supply   Supply      `json:"supply"`
	Soreness []SoreDay   `json:"soreness"` // of the present cycle
	Restarts []plan.Date `json:"restarts"` // the plan's and the ledger's
	Standing Standing    `json:"standing"`
	Why      []string    `json:"why"`

	LastAnswer plan.Date `json:"-"` // local day of the last report or flag; zero: never
}

// Compute works out the figures of a record. It fails only on a record without
// zone, As-of, window or first day of bands; one that ReadRecord returned has
// them all.
func Compute(r *Record) (*Figures, error) {
	if err := r.check(); err != nil {
		return nil, fmt.Errorf("compute figures: %w", err)
	}
	v := newView(r)
	frames := v.frames(r.Window.From, r.Window.To)
	segments := v.segments(frames)

	f := &Figures{Days: v.tally(frames, segments)}
	p := v.wear(frames, f.Days)
	v.work(f.Days, segments, p)
	f.WearP = Share(p)
	f.Counts = v.counts(f.Days)
	f.Trend = trend(shares(f.Days))
	f.Silence = v.silence()
	f.Forecast = v.forecast(f.Days)
	f.Supply = v.supply()
	f.Restarts = v.restarts(frames, segments)
	start := v.cycle(f.Restarts)
	f.Soreness = v.soreness(start)
	if last := v.lastAnswer(); !last.IsZero() {
		f.LastAnswer = v.day(last)
	}
	f.Standing, f.Why = v.stand(f, start)
	return f, nil
}

// LagWords says the lag as it may be shown: while a patient is quiet it is not
// known, an assumption is called one, and weeks are whole.
func (f *Figures) LagWords() string {
	c := f.Forecast
	switch {
	case f.Standing == Quiet && f.LastAnswer.IsZero():
		return "not known, no answer yet"
	case f.Standing == Quiet:
		return words("not known, no answer since %v", f.LastAnswer)
	case !c.known:
		return "not known, too little to go by"
	}
	label := ""
	if c.Basis == Assumption {
		label = " (an assumption: no measure was read twice)"
	}
	switch {
	case c.LagWeeks == nil:
		return "not within three years" + label
	case *c.LagWeeks > 0:
		return words("%.0f weeks behind%s", float64(*c.LagWeeks), label)
	}
	return "none" + label
}
