package notify

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestNextTryStaysInTheWindow: whatever the attempt, the roll and the time
// left, the next attempt lies after now and before the end.
func TestNextTryStaysInTheWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		left := time.Duration(rapid.Int64Range(-int64(time.Hour), int64(48*time.Hour)).Draw(t, "left"))
		attempt := rapid.IntRange(0, 1000).Draw(t, "attempt")
		roll := rapid.Float64Range(0, 0.999999).Draw(t, "roll")
		next, ok := nextTry(noon, noon.Add(left), attempt, roll)
		if ok && (!next.After(noon) || !next.Before(noon.Add(left))) {
			t.Fatalf("next %s is outside (now, now+%s)", next.Sub(noon), left)
		}
		if !ok && left >= 2*leastWait {
			t.Fatalf("given up with %s left", left)
		}
		if ok && next.Sub(noon) > maxWait*5/4 {
			t.Fatalf("waits %s", next.Sub(noon))
		}
	})
}

// TestNextTryDoubles: both ends of the spread, the cap, and the edge of giving
// up.
func TestNextTryDoubles(t *testing.T) {
	far := noon.Add(48 * time.Hour)
	for _, tc := range []struct {
		until   time.Time
		attempt int
		roll    float64
		want    time.Duration // 0: given up
	}{
		{far, 1, 0.5, time.Minute}, {far, 2, 0.5, 2 * time.Minute}, {far, 4, 0.5, 8 * time.Minute}, {far, 5, 0.5, 15 * time.Minute}, {far, 60, 0.5, 15 * time.Minute},
		{far, 1, 0, 45 * time.Second}, {far, 3, 0, 3 * time.Minute},
		{time.Time{}, 5, 0.5, 15 * time.Minute},
		{noon.Add(61 * time.Second), 1, 0.5, time.Minute},
		{noon.Add(60 * time.Second), 1, 0.5, 30 * time.Second}, // would reach the end: half of what is left
		{noon.Add(20 * time.Second), 1, 0.5, 10 * time.Second},
		{noon.Add(19 * time.Second), 1, 0.5, 0},
		{noon, 1, 0.5, 0}, {noon.Add(-time.Second), 1, 0.5, 0},
	} {
		next, ok := nextTry(noon, tc.until, tc.attempt, tc.roll)
		if ok != (tc.want > 0) || ok && next.Sub(noon) != tc.want {
			t.Errorf("attempt %d, roll %v, left %s: %s, %v; want %s", tc.attempt, tc.roll, tc.until.Sub(noon), next.Sub(noon), ok, tc.want)
		}
	}
}
