package compliance

import "math"

// Constants of the trend. The charts are those of the NIST/SEMATECH e-Handbook
// of Statistical Methods, 6.3.2.4 (EWMA) and 6.3.2.3 (CUSUM); the choice of
// constants is common practice, no source.
const (
	baselineDays = 14   // usable days that make the baseline
	sdFloor      = 0.05 // a baseline spread below this is taken for this
	lambda       = 0.2  // weight of the newest day in the EWMA
	limitSDs     = 3    // s.d. of the EWMA below the mean at its lower limit
	slackSDs     = 0.5  // s.d. a day may fall short before the CUSUM grows
	alarmSDs     = 5    // s.d. over which the CUSUM alarms
	cutSDs       = 6    // s.d. at which the CUSUM is cut, so that it forgets
)

// leastTarget, in minutes, keeps a share finite where a plan asks for all but
// nothing.
const leastTarget = 1e-3

// Trend is how the hours worn, as a share of those prescribed, go since the
// first fourteen usable days. With fewer every number is nil.
type Trend struct {
	BaselineMean *Share `json:"baseline_mean"`
	BaselineSD   *Share `json:"baseline_sd"` // after the floor
	LowerLimit   *Share `json:"lower_limit"`
	EWMA         *Share `json:"ewma"`
	Below        bool   `json:"below"` // the EWMA is under its lower limit
	CUSUM        *Share `json:"cusum"`
	CUSUMAlarm   bool   `json:"cusum_alarm"` // does not latch
}

// shares lists y, the point of hours worn over the target, of the usable days.
func shares(days []Day) []float64 {
	var out []float64
	for _, d := range days {
		if d.Usable {
			out = append(out, float64(d.Worn.Point)/max(leastTarget, float64(d.Target)))
		}
	}
	return out
}

// trend charts the shares of the usable days in their order. A day that is not
// usable moves nothing.
func trend(y []float64) Trend {
	if len(y) < baselineDays {
		return Trend{}
	}
	m, s := meanSD(y[:baselineDays])
	s = math.Max(s, sdFloor)
	limit := lowerLimit(m, s, lambda)
	z, sum := m, 0.0
	for _, v := range y[baselineDays:] {
		z = smooth(z, v, lambda)
		sum = math.Min(cutSDs*s, shortfall(sum, m, slackSDs*s, v))
	}
	return Trend{
		BaselineMean: share(m), BaselineSD: share(s), LowerLimit: share(limit),
		EWMA: share(z), Below: z < limit,
		CUSUM: share(sum), CUSUMAlarm: sum > alarmSDs*s,
	}
}

func share(v float64) *Share { s := Share(v); return &s }

// smooth is one step of the exponentially weighted moving average.
func smooth(z, v, lambda float64) float64 { return lambda*v + (1-lambda)*z }

// lowerLimit is the lower control limit of the EWMA in its steady state.
func lowerLimit(mean, sd, lambda float64) float64 {
	return mean - limitSDs*sd*math.Sqrt(lambda/(2-lambda))
}

// shortfall is one step of the lower one-sided CUSUM: how far the values have
// run below target - slack.
func shortfall(sum, target, slack, v float64) float64 {
	return math.Max(0, sum+(target-slack)-v)
}

// meanSD returns the mean and the sample standard deviation (divisor n - 1),
// which is 0 for fewer than two values.
func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x
	}
	mean /= float64(len(v))
	if len(v) < 2 {
		return mean, 0
	}
	var ss float64
	for _, x := range v {
		ss += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(ss / float64(len(v)-1))
}
