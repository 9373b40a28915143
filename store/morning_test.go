package store

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// wrote has a patient write something by hand.
func wrote(t testing.TB, db *DB, p plan.Patient, at time.Time, text string, flags ...plan.FlagKind) {
	t.Helper()
	h := plan.Heard{At: at, Kind: "reply", How: "none", PatientID: p.ID, Text: text}
	for _, f := range flags {
		h.Flags = append(h.Flags, plan.Flag{At: at, What: f})
	}
	hear(t, db, h)
}

func order(m Morning) string {
	var out []string
	for _, r := range m.Rows {
		out = append(out, r.Patient)
	}
	return strings.Join(out, " ")
}

// Those on hold stand first, whatever waiting costs among the others.
func TestMorning(t *testing.T) {
	db := open(t)
	if m := must[Morning](t)(db.Morning(ctx, noon)); len(m.Rows)+len(m.Failed)+m.NoPlan != 0 || m.At != noon {
		t.Errorf("an empty clinic has %+v", m)
	}
	named := func(i int, ref string) plan.Patient {
		p := somebody(i)
		p.Ref = ref
		return enrol(t, db, p, "")
	}
	newcomer, sore, asking, held := named(1, "newcomer"), named(2, "sore"), named(3, "asking"), named(4, "held")
	bare := somebody(5)
	bare.Ref = "bare"
	must[plan.Patient](t)(db.AddPatient(ctx, bare, "desk:ines", noon))
	at := noon.Add(-30 * time.Hour)
	wrote(t, db, newcomer, at, "thanks")
	wrote(t, db, asking, at, "can I chew gum?", plan.FlagQuestion)
	wrote(t, db, asking, noon.Add(-time.Hour), "yes")
	wrote(t, db, asking, noon.Add(time.Hour), "later than the list")
	hear(t, db, plan.Heard{At: noon.Add(-2 * time.Hour), Kind: "reply", How: "none", PatientID: sore.ID, Text: "9, and my gum is swollen",
		Reports: []plan.Stated{stated(plan.Report{At: noon.Add(-2 * time.Hour), What: plan.ReportSoreness, Value: 9})},
		Flags:   []plan.Flag{{At: noon.Add(-2 * time.Hour), What: plan.FlagSwelling}}})
	ok(t, db.LiftHold(ctx, sore.Ref, "desk:ines", noon.Add(-time.Hour))) // closes what was told, but the 9 stands
	ok(t, db.SetHold(ctx, held.Ref, "the doctor wants a look first", "desk:ines", noon.Add(-50*time.Hour)))

	m := must[Morning](t)(db.Morning(ctx, noon))
	// By what waiting costs sore would stand first: its safety is Harm.
	if got := order(m); got != "held sore asking" {
		t.Fatalf("the list is %q", got)
	}
	if m.NoPlan != 1 || m.Standings[compliance.New] != 2 || m.Standings[compliance.Call] != 2 || len(m.Failed) != 0 {
		t.Errorf("%d without a plan, standings %v, failed %v", m.NoPlan, m.Standings, m.Failed)
	}
	rows := map[string]MorningRow{}
	for _, r := range m.Rows {
		rows[r.Patient] = r
	}
	h := rows["held"]
	if h.Why[0] != "on hold since 30 May 2026: the doctor wants a look first" || h.Waiting != 2 || h.Last.Text != "" || !h.Last.At.IsZero() {
		t.Errorf("held: %+v", h)
	}
	a := rows["asking"]
	if a.Last.Text != "yes" || !a.Last.At.Equal(noon.Add(-time.Hour)) || len(a.Open) != 1 || a.Open[0].Text != "can I chew gum?" || a.Open[0].What != plan.FlagQuestion {
		t.Errorf("asking: last %+v, open %+v", a.Last, a.Open)
	}
	s := rows["sore"]
	if len(s.Open) != 0 || s.Last.Text != "9, and my gum is swollen" || s.Safety != compliance.Harm {
		t.Errorf("sore: open %+v, safety %v: what was closed is not open", s.Open, s.Safety)
	}
	// As of the moment before the hold there was none.
	for _, r := range must[Morning](t)(db.Morning(ctx, noon.Add(-51*time.Hour))).Rows {
		if r.Patient == "held" {
			t.Errorf("held before the hold: %v", r.Why)
		}
	}
}

// A patient on hold without a plan is on the list; one whose plan cannot be
// read is told, and the others stay in place.
func TestMorningTellsWhatItCouldNotWorkOut(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Ref, p.Hold = "bare", plan.Hold{Since: noon.Add(-time.Hour), Reason: "no plan yet"}
	must[plan.Patient](t)(db.AddPatient(ctx, p, "desk:ines", noon))
	broken := somebody(2)
	broken.Ref = "broken"
	broken = enrol(t, db, broken, "")
	_, err := db.writer.Exec("INSERT INTO plan_version (patient_id, number, first, zone, created, by, plan) VALUES (?, 2, '2026-05-19', 'America/New_York', 1, 'x', '{}')", broken.ID)
	ok(t, err)
	m := must[Morning](t)(db.Morning(ctx, noon))
	if len(m.Rows) != 1 || m.Rows[0].Patient != "bare" || m.NoPlan != 1 {
		t.Errorf("rows %+v", m.Rows)
	}
	if len(m.Failed) != 1 || m.Failed[0].Ref != "broken" || m.Failed[0].Err == nil {
		t.Errorf("failed %+v", m.Failed)
	}
}

func TestLastWordsSayWho(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Recipients = append(p.Recipients, plan.Recipient{Role: plan.RoleGuardian, Name: "Otto", Address: "otto@patients.example.org", Consent: agreed(noon)})
	p = enrol(t, db, p, "")
	owe(t, db, p, noon, change(today, "PCD", noon))
	for _, j := range must[[]plan.Job](t)(db.Claim(ctx, noon, 5)) {
		send(t, db, j, noon)
		after := noon.Add(time.Minute)
		if j.To.Role == plan.RoleGuardian {
			after = after.Add(time.Minute)
		}
		hear(t, db, plan.Heard{At: after, Kind: "reply", How: "token", PatientID: p.ID, OutgoingID: j.ID, Text: "from " + string(j.To.Role)})
	}
	hear(t, db, plan.Heard{At: noon.Add(5 * time.Minute), Kind: "auto-reply", How: "token", PatientID: p.ID, Text: "out of office"})
	hear(t, db, plan.Heard{At: noon.Add(6 * time.Minute), Kind: "reply", How: "token", PatientID: p.ID}) // without a word
	for _, c := range []struct {
		at   time.Time
		want LastWords
	}{
		{noon.Add(time.Hour), LastWords{"from guardian", noon.Add(2 * time.Minute), plan.RoleGuardian, "Otto"}},
		{noon.Add(time.Minute), LastWords{"from patient", noon.Add(time.Minute), plan.RolePatient, ""}},
		{noon, LastWords{}},
	} {
		if got := must[LastWords](t)(db.LastWords(ctx, p.Ref, c.at)); got != c.want {
			t.Errorf("at %v: %+v, want %+v", c.at, got, c.want)
		}
	}
}

// BenchmarkMorning is the list over 50 patients, each with 90 days of four
// messages a day, all answered.
func BenchmarkMorning(b *testing.B) {
	db := open(b)
	for i := range 50 {
		p := enrol(b, db, somebody(i), "")
		for d := range 90 {
			date := today.AddDays(d)
			var nudges []plan.Nudge
			h := plan.Heard{Kind: "reply", How: "none", PatientID: p.ID, Text: "yes"}
			for k, code := range []string{"PCM", "PCD", "PCV", "HS"} {
				n := change(date, code, plan.DayStart(date, time.UTC).Add(time.Duration(12+4*k)*time.Hour))
				nudges = append(nudges, n)
				h.At = n.Due.Add(10 * time.Minute)
				h.Reports = append(h.Reports, stated(plan.Report{At: h.At, Slot: n.Slot, What: plan.ReportOn, Fresh: true}))
			}
			owe(b, db, p, h.At, nudges...)
			if id, _, err := db.Receive(ctx, plan.Inbound{Raw: fmt.Appendf(nil, "X: %d %d\r\n\r\nyes\r\n", i, d), Received: h.At, Source: "file"}); err != nil {
				b.Fatal(err)
			} else if err := db.Record(ctx, id, h); err != nil {
				b.Fatal(err)
			}
		}
	}
	now := noon.AddDate(0, 0, 90)
	for b.Loop() {
		if m, err := db.Morning(ctx, now); err != nil || len(m.Failed) > 0 {
			b.Fatal(err, m.Failed)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/50, "ms/patient")
}
