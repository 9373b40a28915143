package scheduler

import (
	"log/slog"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Each case is a clock as heartbeats find it, by its steps, and whether it is
// trusted at each.
func TestClockWatch(t *testing.T) {
	const day = 24 * time.Hour
	for _, c := range []struct {
		name  string
		steps []time.Duration
		want  []bool
		told  int
	}{
		{"even", []time.Duration{beat, beat, beat}, []bool{true, true, true}, 0},
		{"ahead by little", []time.Duration{beat + stepWorth}, []bool{true}, 0},
		{"ahead by more", []time.Duration{beat + stepWorth + 1, beat}, []bool{true, true}, 1},
		{"back by little", []time.Duration{beat - stepWorth}, []bool{true}, 0},
		{"back by more", []time.Duration{beat - stepWorth - 1, beat}, []bool{true, true}, 1},
		{"ahead by a day", []time.Duration{beat + day}, []bool{true}, 1},
		{"ahead by more than a day", []time.Duration{beat + day + 1, beat, beat}, []bool{false, false, false}, 1},
		{"ahead and back", []time.Duration{beat + 2*day, beat, beat - 2*day, beat}, []bool{false, false, true, true}, 2},
		{"ahead twice", []time.Duration{beat + 2*day, beat + 2*day}, []bool{false, false}, 2},
		{"to 1970 and back", []time.Duration{-56 * 365 * day, beat, 56 * 365 * day}, []bool{true, true, false}, 2},
	} {
		counter := new(lines)
		log := slog.New(slog.NewTextHandler(counter, nil))
		now := ny("2026-06-10 12:00")
		var w clockWatch
		if !w.trusted(now, log) {
			t.Errorf("%s: the first heartbeat is not trusted", c.name)
		}
		var got []bool
		for _, step := range c.steps {
			now = now.Add(step)
			got = append(got, w.trusted(now, log))
		}
		if diff := cmp.Diff(c.want, got); diff != "" || int(*counter) != c.told {
			t.Errorf("%s: told %d steps, want %d; trusted (-want +got):\n%s", c.name, *counter, c.told, diff)
		}
	}
}

// Thirty heartbeats of twenty seconds are the ten minutes.
func TestClockWatchSettles(t *testing.T) {
	var w clockWatch
	log := slog.New(slog.DiscardHandler)
	now := ny("2026-06-10 12:00")
	w.trusted(now, log)
	now = now.Add(48 * time.Hour)
	waited := 0
	for ; !w.trusted(now, log); now = now.Add(beat) {
		if waited++; waited > 100 {
			break
		}
	}
	if waited != 30 {
		t.Errorf("waited for %d heartbeats, want 30", waited)
	}
}

// lines counts writes.
type lines int

func (l *lines) Write(b []byte) (int, error) { *l++; return len(b), nil }
