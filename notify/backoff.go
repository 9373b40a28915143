package notify

import "time"

// Back-off of a message refused for now. RFC 5321 section 4.5.4.1 asks 30
// minutes between attempts of a relay; a nudge is useful for an hour or two and
// goes to one submission server, so attempts begin closer. Common practice, no
// source.
const (
	firstWait = time.Minute
	maxWait   = 15 * time.Minute
	leastWait = 10 * time.Second // nearer to the end than twice this it is not tried again
)

// nextTry is when to try again after the attempt-th attempt (1 is the first):
// doubling from firstWait to maxWait, spread by roll in [0, 1) over 75-125 %.
// Where that would reach until, half the time left is waited instead, so that
// the window is used to its end; ok is false where too little is left. A zero
// until is no limit. Always now < next < until.
func nextTry(now, until time.Time, attempt int, roll float64) (next time.Time, ok bool) {
	wait := firstWait
	for i := 1; i < attempt && wait < maxWait; i++ {
		wait *= 2
	}
	wait = time.Duration(float64(min(wait, maxWait)) * (0.75 + roll/2))
	if left := until.Sub(now); !until.IsZero() && wait >= left {
		if wait = left / 2; wait < leastWait {
			return time.Time{}, false
		}
	}
	return now.Add(wait), true
}
