package compliance

import (
	"math"

	"bandbell/scheduler/plan"
)

// Bounds are a figure's limits and the point between them. They hold if the
// answers are true and the bands stay in between two of them, after Manski
// (Int J Approx Reason 2005;39:151-165): what is not known may lie anywhere.
// Always Low <= Point <= High.
type Bounds struct {
	Low   Minutes `json:"low"`
	Point Minutes `json:"point"`
	High  Minutes `json:"high"`
}

// Day is what the answers say of one local day.
type Day struct {
	Date    plan.Date `json:"day"`
	Length  Minutes   `json:"length_min"`
	On      Minutes   `json:"on_min"`      // the ledger's, also where a total was stated
	Off     Minutes   `json:"off_min"`     // the ledger's
	Unknown Minutes   `json:"unknown_min"` // the ledger's
	Worn    Bounds    `json:"worn"`
	Working Bounds    `json:"working"` // worn time that counts for movement
	Usable  bool      `json:"usable"`  // the trend may use it
	Stated  bool      `json:"stated"`  // the patient stated a total for the day

	Target Minutes `json:"-"` // wear prescribed for the day
}

// halfKnown is the share of a day that may be unknown before the trend leaves the
// day out. Common practice, no source.
const halfKnown = 0.5

// priorDay is the weight of the prior share of wear, in minutes: one day of 24
// hours. Common practice, no source.
const priorDay = 1440

// tally sums the segments into the days they were cut by.
func (v *view) tally(days []frame, segments []segment) []Day {
	type sums struct{ on, off, unknown tick }
	sum := make([]sums, len(days))
	for _, s := range segments {
		switch s.state {
		case On:
			sum[s.day].on += s.length()
		case Off:
			sum[s.day].off += s.length()
		default:
			sum[s.day].unknown += s.length()
		}
	}
	out := make([]Day, len(days))
	for i, d := range days {
		out[i] = Day{
			Date: d.date, Length: minutesOf(d.length()),
			On: minutesOf(sum[i].on), Off: minutesOf(sum[i].off), Unknown: minutesOf(sum[i].unknown),
			Target: Minutes(v.target(d.date)),
		}
	}
	return out
}

// wear fills in the hours worn and which days are usable, and returns p, the
// share of unknown time taken as worn:
//
//	p = (ON + 1440 p0) / (ON + OFF + 1440)
//
// with ON and OFF the known minutes of the days on which bands were to be worn
// and p0 the prior share. A stated total stands in the place of its day's
// spans, and is cut to the day's length.
func (v *view) wear(frames []frame, days []Day) float64 {
	stated := v.stated()
	var on, off float64
	for i := range days {
		d := &days[i]
		total, ok := stated[d.Date]
		if d.Stated = ok; ok {
			t := Minutes(math.Min(total, float64(d.Length)))
			d.Worn = Bounds{t, t, t}
		}
		if !v.wearing(d.Date) {
			continue
		}
		if d.Stated {
			on += float64(d.Worn.Low)
			off += float64(d.Length - d.Worn.Low)
		} else {
			on += float64(d.On)
			off += float64(d.Off)
		}
	}
	p := (on + priorDay*v.Settings.PriorWear) / (on + off + priorDay)
	for i := range days {
		d := &days[i]
		if !d.Stated {
			d.Worn = between(d.On, d.On+d.Unknown, p)
		}
		past := frames[i].to <= v.now
		known := d.Stated || float64(d.Unknown) <= halfKnown*float64(d.Length)
		d.Usable = past && known && v.wearing(d.Date)
	}
	return p
}

// between returns the bounds low and high with the point a share p of the way
// up, held between them against rounding.
func between(low, high Minutes, p float64) Bounds {
	point := low + Minutes(p)*(high-low)
	return Bounds{low, max(low, min(high, point)), high}
}
