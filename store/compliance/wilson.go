package compliance

import "math"

// Interval is a proportion with its 95 % limits.
type Interval struct {
	Value Share `json:"value"`
	Low   Share `json:"low"`
	High  Share `json:"high"`
}

// z95 is the two-sided 95 % point of the standard normal distribution.
const z95 = 1.959964

// Wilson returns the proportion k of n with its score interval without
// continuity correction (Wilson 1927; method 3 of Newcombe, Stat Med
// 1998;17:857-872), which stays inside 0-1 and holds its level for few cases.
// It is nil where n is zero: a proportion of nothing is not known.
func Wilson(k, n int) *Interval {
	if n <= 0 {
		return nil
	}
	kf, nf := float64(k), float64(n)
	p, z2 := kf/nf, z95*z95
	mid := (2*kf + z2) / (2 * (nf + z2))
	half := z95 * math.Sqrt(z2+4*kf*(1-p)) / (2 * (nf + z2))
	low, high := math.Max(0, mid-half), math.Min(1, mid+half)
	// At the ends the limit is exact; rounding must not leave 1e-17 there.
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return &Interval{Share(p), Share(low), Share(high)}
}
