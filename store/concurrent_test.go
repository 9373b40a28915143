package store

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// Readers, the tick, two senders' claims and the inbox work at once: nobody
// fails, nothing is claimed twice, and readers see whole transactions.
func TestReadersAndWritersAtOnce(t *testing.T) {
	db := open(t)
	const people, rounds = 8, 6
	var all []plan.Patient
	for i := range people {
		all = append(all, enrol(t, db, somebody(i), ""))
	}
	var wg sync.WaitGroup
	done := make(chan struct{})
	for range 4 {
		wg.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				for _, p := range all {
					r, err := db.PatientRecord(ctx, p.Ref, noon.AddDate(0, 0, 1), nil)
					if err != nil {
						t.Error(err)
						return
					}
					// Each reply brings two reports in one transaction.
					if len(r.Reports)%2 != 0 {
						t.Errorf("half a reply was seen: %d reports", len(r.Reports))
					}
				}
				if _, err := db.DuePatients(ctx, noon, 100); err != nil {
					t.Error(err)
				}
			}
		})
	}
	var writers sync.WaitGroup
	var mu sync.Mutex
	claimed := map[int64]int{}
	writers.Go(func() {
		for r := range rounds {
			for _, p := range all {
				if err := db.Enqueue(ctx, noon, []plan.Owed{{PatientID: p.ID, Version: 1, Through: noon, NextDue: noon,
					Nudges: []plan.Owing{{Nudge: change(today.AddDays(r), "PCD", noon)}}}}); err != nil {
					t.Error(err)
				}
			}
		}
	})
	for range 2 {
		writers.Go(func() {
			for range 4 * rounds {
				jobs, err := db.Claim(ctx, noon, 5)
				if err != nil {
					t.Error(err)
				}
				mu.Lock()
				for _, j := range jobs {
					claimed[j.ID]++
				}
				mu.Unlock()
				for _, j := range jobs {
					for _, err := range []error{db.Composed(ctx, j.ID, composed(j)), db.DotSent(ctx, j.ID, noon), db.Accepted(ctx, j.ID, noon)} {
						if err != nil {
							t.Error(err)
						}
					}
				}
			}
		})
	}
	writers.Go(func() {
		for i := range rounds * people {
			p := all[i%people]
			id, _, err := db.Receive(ctx, plan.Inbound{Raw: fmt.Appendf(nil, "\r\n%d", i), Received: noon})
			if err != nil {
				t.Error(err)
			}
			on := stated(plan.Report{At: noon.Add(time.Duration(i) * time.Minute), What: plan.ReportOn})
			if err := db.Record(ctx, id, plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: p.ID, Reports: []plan.Stated{on, on}}); err != nil {
				t.Error(err)
			}
		}
	})
	writers.Wait()
	close(done)
	wg.Wait()
	for _, j := range must[[]plan.Job](t)(db.Claim(ctx, noon, 1000)) {
		claimed[j.ID]++
	}
	if len(claimed) != people*rounds {
		t.Errorf("%d messages claimed, want %d", len(claimed), people*rounds)
	}
	for id, n := range claimed {
		if n != 1 {
			t.Errorf("message %d was claimed %d times", id, n)
		}
	}
	c := must[Counts](t)(db.Counts(ctx))
	if c.Duplicates != 0 || c.Late != 0 || c.Replies["reply"] != people*rounds || c.Patients != people {
		t.Errorf("counts: %+v", c)
	}
	ok(t, db.Check(ctx))
}

func TestACancelledWriteIsDoneOrNotDone(t *testing.T) {
	db := open(t)
	cancelled, cancel := cancelledContext()
	defer cancel()
	if _, err := db.AddPatient(cancelled, somebody(1), "desk:ines", noon); err == nil {
		t.Error("a write began under a context that had ended")
	}
	if n := number(t, db, "SELECT count(*) FROM patient"); n != 0 {
		t.Errorf("%d patients", n)
	}
}

func cancelledContext() (context.Context, context.CancelFunc) {
	c, cancel := context.WithCancel(ctx)
	cancel()
	return c, cancel
}
