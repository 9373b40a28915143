package compliance

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// nudge adds a band-change nudge of a day, due at 08:00 for 90 minutes.
func (r *Record) nudge(t testing.TB, day string, outcome Outcome) *Record {
	due := r.instant(t, day+" 08:00")
	r.Nudges = append(r.Nudges, Nudge{plan.BandChange, day + "/PCM", due, due.Add(90 * time.Minute), outcome})
	return r
}

func (r *Record) reply(t testing.TB, at, slot string, what plan.ReportKind, fresh bool) *Record {
	r.Reports = append(r.Reports, plan.Report{At: r.instant(t, at), Slot: slot, What: what, Fresh: fresh})
	return r
}

func TestCounts(t *testing.T) {
	r := fortnight(t)
	for _, day := range []string{"2026-06-01", "2026-06-02", "2026-06-03", "2026-06-04", "2026-06-05", "2026-06-06"} {
		r.nudge(t, day, OutcomeAccepted)
	}
	r.nudge(t, "2026-06-07", OutcomeLapsed).nudge(t, "2026-06-08", OutcomeBounced).nudge(t, "2026-06-09", OutcomeFailed).nudge(t, "2026-06-10", OutcomePlanned)
	r.Nudges = append(r.Nudges, Nudge{plan.Soreness, "s1", r.instant(t, "2026-06-01 17:30"), r.instant(t, "2026-06-01 20:30"), OutcomeAccepted})
	r.reply(t, "2026-06-01 08:30", "2026-06-01/PCM", plan.ReportOn, true)
	r.reply(t, "2026-06-02 08:30", "2026-06-02/PCM", plan.ReportOn, false)  // on, not changed
	r.reply(t, "2026-06-03 08:30", "2026-06-03/PCM", plan.ReportOff, false) // first off
	r.reply(t, "2026-06-08 23:00", "2026-06-03/PCM", plan.ReportOn, true)   // then on; days late
	r.reply(t, "2026-06-09 08:30", "2026-06-09/PCM", plan.ReportOn, true)   // to one that failed
	r.reply(t, "2026-06-15 12:01", "2026-06-05/PCM", plan.ReportOn, true)   // not yet seen
	r.Flags = append(r.Flags, plan.Flag{At: r.instant(t, "2026-06-04 09:00"), Slot: "2026-06-04/PCM", What: plan.FlagOther})

	want := Counts{Delivered: 6, Answered: 4, Confirmed: 2, Denied: 1, AnsweredShare: Wilson(4, 6), ConfirmedShare: Wilson(2, 4)}
	if diff := cmp.Diff(want, compute(t, r).Counts); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

// A nudge counts from the instant its time is over.
func TestDeliveredToTheMinute(t *testing.T) {
	for _, tt := range []struct {
		asOf string
		want int
	}{{"2026-06-01 09:29", 0}, {"2026-06-01 09:30", 1}, {"2026-06-01 09:31", 1}} {
		r := fortnight(t).nudge(t, "2026-06-01", OutcomeAccepted)
		r.AsOf = r.instant(t, tt.asOf)
		if got := compute(t, r).Counts; got.Delivered != tt.want {
			t.Errorf("%s: delivered %d, want %d", tt.asOf, got.Delivered, tt.want)
		} else if (got.AnsweredShare == nil) != (tt.want == 0) || got.ConfirmedShare != nil {
			t.Errorf("%s: shares %v, %v", tt.asOf, got.AnsweredShare, got.ConfirmedShare)
		}
	}
}

// 22 hours are 1320 minutes: a day at them is at the target.
func TestDaysAtTarget(t *testing.T) {
	r := fortnight(t).totals(22, 21.99, 22.01, 0)
	r.Plan.Wear = []plan.Wear{{From: date(t, "2026-06-04"), HoursPerDay: 10, ChangesPerDay: 1, Nights: true}}
	r.total(t, "2026-06-06 09:00", "2026-06-05", 10)
	if got, want := compute(t, r).Counts.DaysAtTarget, (DaysOf{3, 5}); got != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestSilence(t *testing.T) {
	days := []string{"2026-06-01", "2026-06-02", "2026-06-03", "2026-06-04", "2026-06-05", "2026-06-06"}
	tests := []struct {
		name string
		make func(r *Record)
		want Silence
	}{
		// No other nudges: p = 8/10, so 0.2 to the power of the run.
		{"two", func(r *Record) { r.Nudges = r.Nudges[:2] }, Silence{2, 0.04, false}},
		{"three", func(r *Record) { r.Nudges = r.Nudges[:3] }, Silence{3, 0.008, true}},
		{"none delivered", func(r *Record) { r.Nudges = nil }, Silence{0, 1, false}},
		{"an answered one before", func(r *Record) { r.reply(t, "2026-06-03 08:30", "2026-06-03/PCM", plan.ReportOn, true) },
			// N = 3 others, a = 1: p = 9/13; run of 3.
			Silence{3, Share((4.0 / 13) * (4.0 / 13) * (4.0 / 13)), false}},
		{"any report ends the run", func(r *Record) { r.sore(t, "2026-06-06 09:00", 2) }, Silence{0, 1, false}},
		{"at the instant a nudge was due", func(r *Record) { r.sore(t, "2026-06-06 08:00", 2) }, Silence{0, 1, false}},
		{"a minute before", func(r *Record) { r.sore(t, "2026-06-06 07:59", 2) },
			Silence{1, Share(1 - 8.0/15), false}}, // N = 5, a = 0
		{"a flag ends it too", func(r *Record) {
			r.Flags = append(r.Flags, plan.Flag{At: r.instant(t, "2026-06-06 12:00"), What: plan.FlagOther})
		}, Silence{0, 1, false}},
		{"lapsed ones are no silence", func(r *Record) {
			for i := range r.Nudges {
				r.Nudges[i].Outcome = OutcomeLapsed
			}
		}, Silence{0, 1, false}},
	}
	near := cmp.Comparer(func(a, b Share) bool { return a-b < 1e-12 && b-a < 1e-12 })
	for _, tt := range tests {
		r := fortnight(t)
		for _, d := range days {
			r.nudge(t, d, OutcomeAccepted)
		}
		tt.make(r)
		if diff := cmp.Diff(tt.want, compute(t, r).Silence, near); diff != "" {
			t.Errorf("%s: -want +got\n%s", tt.name, diff)
		}
	}
}
