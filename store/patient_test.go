package store

import (
	"errors"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"

	"github.com/google/go-cmp/cmp"
)

func TestPatientComesBackAsGiven(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Phone, p.Born = "+1 555 0100", plan.NewDate(2011, 2, 28)
	p.FirstName = `<b>"O'Neil & 李` // hostile to a page or a header, and a name all the same
	p.Recipients = append(p.Recipients, plan.Recipient{Role: plan.RoleGuardian, Name: "Otto", Address: "Otto@PATIENTS.example.org", Language: "es"})
	got := must[plan.Patient](t)(db.AddPatient(ctx, p, "desk:ines", noon.Add(999*time.Microsecond)))
	read := must[plan.Patient](t)(db.Patient(ctx, strings.ToUpper(got.Ref)))
	if d := cmp.Diff(got, read); d != "" {
		t.Errorf("read back (-added +read):\n%s", d)
	}
	if read.Recipients[1].Address != "Otto@patients.example.org" || !read.Created.Equal(noon) {
		t.Errorf("got %+v", read)
	}
	if len(got.Ref) != refLength || strings.ContainsFunc(got.Ref, func(r rune) bool { return !strings.ContainsRune(refAlphabet, r) }) {
		t.Errorf("ref %q", got.Ref)
	}
	all := must[[]plan.Patient](t)(db.Patients(ctx))
	if d := cmp.Diff([]plan.Patient{got}, all); d != "" {
		t.Errorf("listed (-added +listed):\n%s", d)
	}
	if _, err := db.Patient(ctx, "nobody"); !errors.Is(err, ErrNotFound) {
		t.Errorf("nobody: %v", err)
	}
}

func TestAddPatientSaysAllFaultsAtOnce(t *testing.T) {
	db := open(t)
	_, err := db.AddPatient(ctx, plan.Patient{
		Ref: "a/b", FirstName: "Nora\r\nBcc: x@y", LastName: strings.Repeat("x", 201), Phone: "1\x002", Zone: "Mars/Olympus", LatexAllergy: "maybe",
		Recipients: []plan.Recipient{{Role: "friend", Address: "no one"}, {Role: plan.RolePatient, Address: "a@example.org"}, {Role: plan.RolePatient, Address: "a@EXAMPLE.org"}},
	}, "desk:ines", noon)
	var fs plan.Faults
	if !errors.As(err, &fs) {
		t.Fatalf("got %v", err)
	}
	var paths []string
	for _, f := range fs {
		paths = append(paths, f.Path)
	}
	want := "ref first_name last_name phone language zone latex_allergy recipients[0].address recipients[0].role recipients[2].address"
	if got := strings.Join(paths, " "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if strings.Contains(err.Error(), "Bcc") {
		t.Error("the fault repeats what was typed")
	}
	if n := number(t, db, "SELECT count(*) FROM patient"); n != 0 {
		t.Error("a faulty patient is on file")
	}
	if _, err := db.AddPatient(ctx, plan.Patient{FirstName: "Nora", Language: "en", Zone: "UTC"}, "desk:ines", noon); err == nil || !strings.Contains(err.Error(), "nobody to write to") {
		t.Errorf("without a recipient: %v", err)
	}
}

func TestARefIsGivenOnce(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Ref = "n-1"
	must[plan.Patient](t)(db.AddPatient(ctx, p, "desk:ines", noon))
	p.Ref = "N-1"
	var fs plan.Faults
	if _, err := db.AddPatient(ctx, p, "desk:ines", noon); !errors.As(err, &fs) || fs[0].Path != "ref" {
		t.Errorf("got %v", err)
	}
}

func TestConsent(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Recipients[0].Consent = plan.Consent{}
	p.Recipients = append(p.Recipients, plan.Recipient{Role: plan.RoleGuardian, Name: "Otto", Address: "otto@patients.example.org"})
	p = enrol(t, db, p, "")
	if n := must[int](t)(db.EnqueueConsent(ctx, p.Ref, "desk:ines", noon)); n != 2 {
		t.Errorf("asked %d", n)
	}
	if n := must[int](t)(db.EnqueueConsent(ctx, p.Ref, "desk:ines", noon.AddDate(0, 0, 1))); n != 0 {
		t.Errorf("asked %d a second time", n)
	}
	ok(t, db.GiveConsent(ctx, p.Ref, "otto@patients.example.org", agreed(noon), "desk:ines"))
	jobs := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))
	if len(jobs) != 1 || jobs[0].Cause != plan.CauseConsent || jobs[0].Key != "consent/"+p.Ref || jobs[0].To.Consent.Given() {
		t.Errorf("claimed %+v", jobs)
	}
	if s, reason := state(t, db, 2); s != plan.Suppressed || reason != reasonConsented {
		t.Errorf("the request to one who has agreed is %s, %q", s, reason)
	}
	ok(t, db.GiveConsent(ctx, p.Ref, "", agreed(noon.Add(time.Hour)), "desk:ines"))
	for _, r := range must[plan.Patient](t)(db.Patient(ctx, p.Ref)).Recipients {
		if d := cmp.Diff(agreed(noon.Add(time.Hour)), r.Consent); d != "" {
			t.Errorf("consent (-want +got):\n%s", d)
		}
	}
	if err := db.GiveConsent(ctx, p.Ref, "else@example.org", agreed(noon), "desk:ines"); !errors.Is(err, ErrNotFound) {
		t.Errorf("an address that is nobody's: %v", err)
	}
	if err := db.GiveConsent(ctx, p.Ref, "", plan.Consent{}, "desk:ines"); err == nil {
		t.Error("consent without an instant was taken")
	}
}

func TestPlanVersions(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.LatexAllergy = plan.NotAsked
	p = enrol(t, db, p, "")
	latex := `,"bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[13],"lower":[46],"lumen_mm":6.35,"force_oz":4.5,"latex":%s}]`
	var fs plan.Faults
	if _, err := db.SetPlan(ctx, p.Ref, worn(t, strings.Replace(latex, "%s", "true", 1)), today, "dr:lund", noon); !errors.As(err, &fs) {
		t.Errorf("a latex band for one who was not asked: %v", err)
	}
	next := worn(t, strings.Replace(latex, "%s", "false", 1))
	if n := must[int](t)(db.SetPlan(ctx, p.Ref, next, today, "dr:lund", noon)); n != 2 {
		t.Errorf("version %d", n)
	}
	v := must[plan.Version](t)(db.Plan(ctx, p.Ref))
	want := plan.Version{Number: 2, First: today, Zone: "America/New_York", Created: noon, By: "dr:lund", Plan: next}
	if d := cmp.Diff(want, v); d != "" {
		t.Errorf("latest (-want +got):\n%s", d)
	}
	all := must[[]plan.Version](t)(db.PlanVersions(ctx, p.Ref))
	if len(all) != 2 || all[0].Number != 1 || len(all[0].Plan.Bands) != 0 {
		t.Errorf("versions: %+v", all)
	}
	if _, err := db.writer.Exec("UPDATE plan_version SET plan = '{}'"); err == nil {
		t.Error("a version can be changed")
	}
	if _, err := db.writer.Exec("DELETE FROM audit"); err == nil {
		t.Error("the audit trail can be shortened")
	}
	if _, err := db.SetPlan(ctx, "nobody", next, today, "dr:lund", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("nobody's plan: %v", err)
	}
	fresh := must[plan.Patient](t)(db.AddPatient(ctx, somebody(2), "desk:ines", noon))
	if _, err := db.Plan(ctx, fresh.Ref); !errors.Is(err, ErrNotFound) {
		t.Errorf("no plan: %v", err)
	}
	bad := next
	bad.BandsEnd = today.AddDays(-9)
	if _, err := db.SetPlan(ctx, p.Ref, bad, today, "dr:lund", noon); !errors.As(err, &fs) {
		t.Errorf("a plan that ends before it begins: %v", err)
	}
}

func TestInForce(t *testing.T) {
	d := func(day int) plan.Date { return plan.NewDate(2026, 6, day) }
	versions := []plan.Version{{Number: 1, First: d(1)}, {Number: 2, First: d(10)}, {Number: 3, First: d(5)}}
	// Version 3 was written last and is in force from the 5th on, the 10th
	// included.
	for day, want := range map[int]int{1: 1, 4: 1, 5: 3, 9: 3, 10: 3, 30: 3} {
		if v, _ := inForce(versions, d(day)); v.Number != want {
			t.Errorf("on the %d: version %d, want %d", day, v.Number, want)
		}
	}
	if v, _ := inForce(versions, plan.NewDate(2026, 5, 31)); v.Number != 1 {
		t.Errorf("before the first day: version %d", v.Number)
	}
	if v, _ := inForce(versions[:2], d(9)); v.Number != 1 {
		t.Errorf("the day before version 2: version %d", v.Number)
	}
	if _, ok := inForce(nil, d(1)); ok {
		t.Error("no version at all is in force")
	}
}
