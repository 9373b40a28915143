package store

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"

	"bandbell/scheduler/plan"

	"github.com/mattn/go-sqlite3"
)

// work does what a daemon does, for ever: enqueue, claim, send, listen.
func work(t *testing.T, path string) {
	db := must[*DB](t)(Open(path, Options{MustExist: true}))
	people := must[[]plan.Patient](t)(db.Patients(ctx))
	must[int](t)(db.Recover(ctx, noon))
	fmt.Println("working")
	for i := 0; ; i++ {
		p := people[i%len(people)]
		d := today.AddDays(number(t, db, "SELECT count(*) FROM nudge WHERE patient_id = ?", p.ID))
		owe(t, db, p, noon, change(d, "PCD", noon))
		for _, j := range must[[]plan.Job](t)(db.Claim(ctx, noon, 2)) {
			ok(t, db.Composed(ctx, j.ID, composed(j)))
			ok(t, db.DotSent(ctx, j.ID, noon))
			if i%5 == 0 {
				ok(t, db.Retry(ctx, j.ID, noon, "451", noon))
				continue
			}
			ok(t, db.Accepted(ctx, j.ID, noon))
		}
		hear(t, db, plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: p.ID,
			Reports: []plan.Stated{stated(plan.Report{At: noon, What: plan.ReportOn})},
			Flags:   []plan.Flag{{At: noon, What: plan.FlagQuestion}}})
	}
}

// Killed at any moment the database is whole, no message is in two minds, and
// the next process goes on where the last one ended.
func TestKilledAtAnyMoment(t *testing.T) {
	if path := os.Getenv("STORE_TEST_WORK"); path != "" {
		work(t, path)
	}
	path := file(t)
	db := must[*DB](t)(Open(path, Options{}))
	for i := range 3 {
		enrol(t, db, somebody(i), "")
	}
	ok(t, db.Close())
	for round := range 6 {
		cmd := exec.Command(os.Args[0], "-test.run=^TestKilledAtAnyMoment$")
		cmd.Env = append(os.Environ(), "STORE_TEST_WORK="+path)
		out, err := cmd.StdoutPipe()
		ok(t, err)
		ok(t, cmd.Start())
		if _, err := out.Read(make([]byte, 64)); err != nil {
			t.Fatalf("the worker did not begin: %v", err)
		}
		time.Sleep(time.Duration(37*(round+1)) * time.Millisecond)
		ok(t, cmd.Process.Kill())
		if err := cmd.Wait(); err == nil || cmd.ProcessState.Exited() {
			t.Fatalf("the worker ended by itself: %v", err)
		}
		db := must[*DB](t)(Open(path, Options{MustExist: true}))
		ok(t, db.Check(ctx))
		for what, query := range map[string]string{
			"a nudge without its message": "SELECT count(*) FROM nudge WHERE id NOT IN (SELECT nudge_id FROM outgoing)",
			"accepted without an instant": "SELECT count(*) FROM outgoing WHERE (state = 'accepted') <> (accepted_at IS NOT NULL)",
			"a reply half on record": `SELECT count(*) FROM reply r WHERE state = 'read' AND
				((SELECT count(*) FROM report WHERE reply_id = r.id) <> 1 OR (SELECT count(*) FROM flag WHERE reply_id = r.id) <> 1)`,
			"a reply without its octets": "SELECT count(*) FROM reply WHERE id NOT IN (SELECT reply_id FROM reply_raw)",
			"claimed by nobody":          "SELECT count(*) - min(count(*), 2) FROM outgoing WHERE state IN ('claimed', 'dot_sent')",
		} {
			if n := number(t, db, query); n != 0 {
				t.Errorf("round %d: %s: %d", round, what, n)
			}
		}
		ok(t, db.Close())
	}
	db = must[*DB](t)(Open(path, Options{MustExist: true}))
	defer db.Close()
	if n := number(t, db, "SELECT count(*) FROM outgoing WHERE state = 'accepted'"); n == 0 {
		t.Error("nothing was ever sent; the rounds say nothing")
	}
}

// A full disk stops the claim, and so the sending; when there is room again the
// same process goes on.
func TestDiskFull(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	var pages int
	ok(t, db.writer.QueryRow("PRAGMA page_count").Scan(&pages))
	limit := func(n int) {
		_, err := db.writer.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", n))
		ok(t, err)
	}
	limit(pages)
	var full sqlite3.Error
	var err error
	for i := 0; err == nil && i < 1000; i++ { // use up what is left inside the pages
		_, _, err = db.Receive(ctx, plan.Inbound{Raw: make([]byte, 4096+i), Received: noon})
	}
	if !errors.As(err, &full) || full.Code != sqlite3.ErrFull {
		t.Fatalf("got %v", err)
	}
	before := number(t, db, "SELECT count(*) FROM reply")
	if n := number(t, db, "SELECT count(*) FROM reply_raw"); n != before {
		t.Errorf("%d messages and %d of their octets: half a transaction stayed", before, n)
	}
	limit(1 << 30)
	jobs := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))
	if len(jobs) != 1 {
		t.Fatalf("%d claimed", len(jobs))
	}
	send(t, db, jobs[0], noon)
	ok(t, db.Check(ctx))
}
