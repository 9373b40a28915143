package inbox

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// Run reads what was left unread, then what comes, then looks by the clock;
// with nothing new it records nothing.
func TestRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := nudge()
		rec := newShelf(a)
		i := newInbox(t, rec)
		i.read = func([]byte, reply.Asked) reply.Reading { return said() }
		store := func(n int) {
			t.Helper()
			if _, _, err := rec.Receive(t.Context(), plan.Inbound{Raw: letter(ours, string(rune('a'+n))), Received: received}); err != nil {
				t.Fatal(err)
			}
		}
		recorded := func(want int) {
			t.Helper()
			synctest.Wait()
			rec.mu.Lock()
			defer rec.mu.Unlock()
			if rec.records != want {
				t.Fatalf("%d recorded, want %d", rec.records, want)
			}
		}
		for n := range 3 * batch { // more than one Step takes
			store(n)
		}
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- i.Run(ctx) }()
		recorded(3 * batch)

		if _, _, err := i.File(t.Context(), stringsReader(letter(ours, "woken")), "x.eml"); err != nil {
			t.Fatal(err)
		}
		recorded(3*batch + 1)

		store(3 * batch) // by another program: nobody wakes Run
		recorded(3*batch + 1)
		time.Sleep(DefaultPoll - time.Nanosecond)
		recorded(3*batch + 1)
		time.Sleep(time.Nanosecond)
		recorded(3*batch + 2)

		time.Sleep(24 * time.Hour)
		recorded(3*batch + 2)
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

// A broken recorder is asked once a poll, whatever comes in.
func TestRunBackoff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rec := newShelf(nudge())
		rec.lookup = errDisk
		i := newInbox(t, rec)
		i.read = func([]byte, reply.Asked) reply.Reading { return said() }
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() { ended <- i.Run(ctx) }()
		for n := range 100 {
			take(t, i, plan.Inbound{Raw: letter(address(t, nudge()), string(rune('a'+n)))})
			synctest.Wait()
		}
		rec.mu.Lock()
		if rec.lookups > 2*batch {
			t.Errorf("%d look-ups without a pause", rec.lookups)
		}
		rec.lookup = nil
		rec.mu.Unlock()
		time.Sleep(2 * DefaultPoll)
		synctest.Wait()
		cancel()
		<-ended
		if len(rec.heard) != 100 {
			t.Errorf("%d recorded, want 100", len(rec.heard))
		}
	})
}
