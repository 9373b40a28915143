package store

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

const enrolled = 100_000

// crowd is a database with 100,000 patients under way, each with a year of
// nothing but a plan; none is due. It is made once for all benchmarks.
var crowd = sync.OnceValues(func() (*DB, error) {
	db, err := Open(crowdPath, Options{})
	if err != nil {
		return nil, err
	}
	p, err := plan.ReadPlan("", fmt.Appendf(nil, wearPlan, ""))
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	return db, db.write(ctx, "make a crowd", func(x *tx) error {
		for i := range enrolled {
			who := somebody(i)
			who.Ref = fmt.Sprintf("p%d", i)
			who.Created = noon
			if err := x.addPatient(&who, "desk:ines", noon); err != nil {
				return err
			}
			if _, err := x.insert("INSERT INTO plan_version (patient_id, number, first, zone, created, by, plan) VALUES (?, 1, '2026-05-18', ?, ?, 'dr', ?)",
				who.ID, who.Zone, ms(noon), string(text)); err != nil {
				return err
			}
			if _, err := x.exec("UPDATE patient SET version = 1, next_due = ? WHERE id = ?", ms(noon.AddDate(1, 0, i%300)), who.ID); err != nil {
				return err
			}
		}
		return nil
	})
})

// crowdPath is where it is; TestMain takes it away again.
var crowdPath string

func crowded(b *testing.B) *DB {
	b.Helper()
	db, err := crowd()
	if err != nil {
		b.Fatal(err)
	}
	return db
}

// hundred lets a hundred of the crowd be due, spread over the file.
func hundred(b *testing.B, db *DB, now time.Time) {
	b.Helper()
	if _, err := db.writer.Exec("UPDATE patient SET next_due = ? WHERE id % 1000 = 1", now.UnixMilli()); err != nil {
		b.Fatal(err)
	}
}

func owedTo(due []plan.DuePatient, now time.Time, n int) []plan.Owed {
	var owed []plan.Owed
	for _, d := range due {
		// Each round has a slot of its own, so that every nudge is new.
		nudge := change(today.AddDays(n), "PCD", now)
		owed = append(owed, plan.Owed{PatientID: d.Patient.ID, Version: 1, Through: now, NextDue: now.AddDate(2, 0, 0),
			Nudges: []plan.Owing{{Nudge: nudge}}})
	}
	return owed
}

var benchDay int // days used up by all benchmarks

func BenchmarkDuePatients100Of100000(b *testing.B) {
	db := crowded(b)
	hundred(b, db, noon)
	b.ResetTimer()
	for b.Loop() {
		due, err := db.DuePatients(ctx, noon, 200)
		if err != nil || len(due) != 100 {
			b.Fatal(len(due), err)
		}
	}
}

func BenchmarkDuePatientsNoneOf100000(b *testing.B) {
	db := crowded(b)
	for b.Loop() {
		if due, err := db.DuePatients(ctx, noon.Add(-time.Hour), 200); err != nil || len(due) != 0 {
			b.Fatal(len(due), err)
		}
	}
}

func BenchmarkEnqueue100Of100000(b *testing.B) {
	db := crowded(b)
	hundred(b, db, noon)
	due := must[[]plan.DuePatient](b)(db.DuePatients(ctx, noon, 200))
	for b.Loop() {
		benchDay++
		ok(b, db.Enqueue(ctx, noon, owedTo(due, noon, benchDay)))
	}
	b.StopTimer()
	must[int](b)(db.LapseStale(ctx, noon.AddDate(1, 0, 0)))
}

func BenchmarkClaim100Of100000(b *testing.B) {
	db := crowded(b)
	hundred(b, db, noon)
	due := must[[]plan.DuePatient](b)(db.DuePatients(ctx, noon, 200))
	for b.Loop() {
		b.StopTimer()
		benchDay++
		ok(b, db.Enqueue(ctx, noon, owedTo(due, noon, benchDay)))
		b.StartTimer()
		jobs, err := db.Claim(ctx, noon, 100)
		if err != nil || len(jobs) != 100 {
			b.Fatal(len(jobs), err)
		}
		b.StopTimer()
		_, err = db.writer.Exec("UPDATE outgoing SET state = 'lapsed', ended = 1 WHERE ended IS NULL")
		ok(b, err)
		b.StartTimer()
	}
}

// BenchmarkFoldDue is the nightly fold of 200 patients, one transaction, each
// with two days to fold.
func BenchmarkFoldDue200Of100000(b *testing.B) {
	db := crowded(b)
	for b.Loop() {
		b.StopTimer()
		_, err := db.writer.Exec("UPDATE patient SET fold_due = ?, folded_to = '2026-06-09' WHERE id % 500 = 1", noon.UnixMilli())
		ok(b, err)
		b.StartTimer()
		if n, err := db.FoldDue(ctx, noon.AddDate(0, 0, 10)); err != nil || n != 200 {
			b.Fatal(n, err)
		}
	}
}

// BenchmarkSend is what the database does for one message from claimed to
// accepted: three transactions, each on the disk.
func BenchmarkSend(b *testing.B) {
	db := crowded(b)
	hundred(b, db, noon)
	due := must[[]plan.DuePatient](b)(db.DuePatients(ctx, noon, 1))
	body := make([]byte, 8<<10)
	for b.Loop() {
		b.StopTimer()
		benchDay++
		ok(b, db.Enqueue(ctx, noon, owedTo(due, noon, benchDay)))
		j := must[[]plan.Job](b)(db.Claim(ctx, noon, 1))[0]
		b.StartTimer()
		c := composed(j)
		c.Bytes = body
		ok(b, db.Composed(ctx, j.ID, c))
		ok(b, db.DotSent(ctx, j.ID, noon))
		ok(b, db.Accepted(ctx, j.ID, noon))
	}
}

// BenchmarkRecord is one reply, received and put on record, of a patient with a
// year of four replies a day, with the days it touches folded anew.
func BenchmarkRecord(b *testing.B) {
	db := open(b)
	p := enrol(b, db, somebody(1), "")
	id := arrive(b, db, "\r\nfirst", noon)
	h := plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: p.ID}
	for i := range 1460 {
		h.Reports = append(h.Reports, stated(plan.Report{At: noon.Add(time.Duration(i) * 6 * time.Hour), What: plan.ReportOn, Fresh: true}))
	}
	ok(b, db.Record(ctx, id, h))
	last := noon.Add(1460 * 6 * time.Hour)
	n := 0
	for b.Loop() {
		n++
		at := last.Add(time.Duration(n) * time.Second)
		id := arrive(b, db, fmt.Sprintf("\r\n%d", n), at)
		ok(b, db.Record(ctx, id, plan.Heard{At: at, Kind: "reply", How: "token", PatientID: p.ID,
			Reports: []plan.Stated{stated(plan.Report{At: at, What: plan.ReportOn, Fresh: true})}}))
	}
}

// BenchmarkPatientRecord is the record of a patient with a year of four nudges
// and four replies a day.
func BenchmarkPatientRecord(b *testing.B) {
	db := open(b)
	p := enrol(b, db, somebody(1), "")
	h := plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: p.ID}
	o := plan.Owed{PatientID: p.ID, Version: 1, Through: noon, NextDue: noon}
	for i := range 1460 {
		at := noon.Add(time.Duration(i) * 6 * time.Hour)
		n := change(today.AddDays(i/4), []string{"PCM", "PCD", "PCV", "HS"}[i%4], at)
		o.Nudges = append(o.Nudges, plan.Owing{Nudge: n})
		h.Reports = append(h.Reports, stated(plan.Report{At: at.Add(time.Minute), Slot: n.Slot, What: plan.ReportOn, Fresh: true}))
	}
	ok(b, db.Enqueue(ctx, noon, []plan.Owed{o}))
	ok(b, db.Record(ctx, arrive(b, db, "\r\nfirst", noon), h))
	for b.Loop() {
		r, err := db.PatientRecord(ctx, p.Ref, noon.AddDate(1, 0, 1), nil)
		if err != nil || len(r.Reports) != 1460 || len(r.Nudges) != 1460 {
			b.Fatal(err)
		}
	}
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "store-bench")
	if err != nil {
		panic(err)
	}
	crowdPath = filepath.Join(dir, "crowd.db")
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}
