package store

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

var ctx = context.Background()

// noon is the moment at which most tests stand: Monday 1 June 2026, 12:00 in
// New York.
var noon = time.Date(2026, 6, 1, 16, 0, 0, 0, time.UTC)

var today = plan.NewDate(2026, 6, 1)

// file is a path for a database, with characters that would cut a bare DSN.
func file(t testing.TB) string { return filepath.Join(t.TempDir(), "clinic #1 50%?.db") }

func open(t testing.TB) *DB {
	t.Helper()
	db, err := Open(file(t), Options{Program: "0.1.0-test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func agreed(at time.Time) plan.Consent {
	return plan.Consent{At: at, How: "paper", By: "desk:ines", Text: "v1"}
}

// somebody is an invented patient with consent.
func somebody(i int) plan.Patient {
	return plan.Patient{
		FirstName: "Nora", LastName: "Quill", Language: "en", Zone: "America/New_York", LatexAllergy: plan.No,
		Recipients: []plan.Recipient{{
			Role: plan.RolePatient, Address: plan.Address(fmt.Sprintf("nora%d@patients.example.org", i)), Consent: agreed(noon.AddDate(0, -1, 0)),
		}},
	}
}

const wearPlan = `{"aligner_start":"2026-05-18","days_per_tray":10,"trays":24,"useful_min":90,
	"meals":[{"code":"PCM","at":"07:30"},{"code":"PCD","at":"12:00"},{"code":"PCV","at":"18:30"},{"code":"HS","at":"21:30"}]%s}`

// worn is a plan that has bands on from 1 June 2026; more is added to it.
func worn(t testing.TB, more string) plan.Plan {
	t.Helper()
	return must[plan.Plan](t)(plan.ReadPlan("", fmt.Appendf(nil, wearPlan, more)))
}

// enrol puts a patient with a plan from 18 May on file.
func enrol(t testing.TB, db *DB, p plan.Patient, more string) plan.Patient {
	t.Helper()
	at := noon.AddDate(0, 0, -14)
	p = must[plan.Patient](t)(db.AddPatient(ctx, p, "desk:ines", at))
	must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, more), plan.NewDate(2026, 5, 18), "desk:ines", at))
	return p
}

// change is a band-change nudge of a day, due at an instant for an hour and a
// half.
func change(d plan.Date, code string, due time.Time) plan.Nudge {
	return plan.Nudge{Kind: plan.BandChange, Day: d, Slot: d.String() + "/" + code, Due: due, Until: due.Add(90 * time.Minute)}
}

// owe enqueues nudges of one patient under plan version 1.
func owe(t testing.TB, db *DB, p plan.Patient, now time.Time, nudges ...plan.Nudge) {
	t.Helper()
	o := plan.Owed{PatientID: p.ID, Version: 1, Through: now, NextDue: now.Add(time.Hour)}
	for _, n := range nudges {
		o.Nudges = append(o.Nudges, plan.Owing{Nudge: n})
	}
	ok(t, db.Enqueue(ctx, now, []plan.Owed{o}))
}

// send takes a claimed message as far as accepted.
func send(t testing.TB, db *DB, j plan.Job, now time.Time) {
	t.Helper()
	ok(t, db.Composed(ctx, j.ID, composed(j)))
	ok(t, db.DotSent(ctx, j.ID, now))
	ok(t, db.Accepted(ctx, j.ID, now))
}

func composed(j plan.Job) plan.Composed {
	return plan.Composed{Bytes: []byte("Subject: x\r\n\r\n" + j.Key), MessageID: fmt.Sprintf("m%d@clinic.test", j.ID),
		Selector: fmt.Sprintf("s%d", j.ID), Version: "band-change.en/1"}
}

// sent enqueues a nudge and has it accepted at once.
func sent(t testing.TB, db *DB, p plan.Patient, n plan.Nudge) plan.Job {
	t.Helper()
	owe(t, db, p, n.Due, n)
	jobs := must[[]plan.Job](t)(db.Claim(ctx, n.Due, 10))
	for _, j := range jobs {
		send(t, db, j, n.Due)
	}
	if len(jobs) == 0 {
		t.Fatal("nothing was claimed")
	}
	return jobs[0]
}

// hear receives a message and records what it came to.
func hear(t testing.TB, db *DB, h plan.Heard) int64 {
	t.Helper()
	id := arrive(t, db, fmt.Sprintf("From: <nora@patients.example.org>\r\nX: %d\r\n\r\nhello\r\n", time.Now().UnixNano()), h.At)
	ok(t, db.Record(ctx, id, h))
	return id
}

func arrive(t testing.TB, db *DB, raw string, at time.Time) int64 {
	t.Helper()
	id, fresh, err := db.Receive(ctx, plan.Inbound{Raw: []byte(raw), From: "nora@patients.example.org",
		To: []string{"nudge+tok@clinic.test"}, Received: at, Source: "lmtp"})
	ok(t, err)
	if !fresh {
		t.Fatal("the message is not fresh")
	}
	return id
}

func stated(r plan.Report) plan.Stated { return plan.Stated{Report: r, Certainty: 1} }

// state reads one message's state and reason.
func state(t testing.TB, db *DB, id int64) (plan.State, string) {
	t.Helper()
	o := must[plan.Outgoing](t)(db.Outgoing(ctx, id))
	return o.State, o.Reason
}

// number runs a query of one number.
func number(t testing.TB, db *DB, query string, args ...any) (n int) {
	t.Helper()
	ok(t, db.readers.QueryRow(query, args...).Scan(&n))
	return n
}
