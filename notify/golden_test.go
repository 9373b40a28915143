package notify

import (
	"bytes"
	"flag"
	"net/mail"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
	"bandbell/templates"
)

var update = flag.Bool("update", false, "rewrite the golden messages")

// sample is one message of each kind of nudge.
var samples = map[string]plan.Nudge{
	"band-change": {Kind: plan.BandChange, Day: plan.NewDate(2026, 6, 2), Slot: "2026-06-02/PCD"},
	"wear-start":  {Kind: plan.WearStart, Day: plan.NewDate(2026, 5, 29), Slot: "d-3"},
	"soreness":    {Kind: plan.Soreness, Day: plan.NewDate(2026, 6, 2), Slot: "s2"},
}

// TestGoldenMessages holds whole messages as they go on the wire, one a kind
// and language, from the built-in texts.
func TestGoldenMessages(t *testing.T) {
	c := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()}}
	c.Clinic.Emergency = "911"
	for kind, n := range samples {
		for _, lang := range []string{"en", "es"} {
			j := nudge(1)
			j.Key = "nudge/AB1CDE/" + kind + "/" + n.Day.String() + "/" + n.Slot
			j.Patient.Language, j.Plan, j.Nudge = lang, treated(), n
			got := mustCompose(t, c, j)
			checkLines(t, got.Bytes)
			file := filepath.Join("testdata", "golden", kind+"."+lang+".eml")
			if *update {
				if err := os.WriteFile(file, got.Bytes, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), string(got.Bytes)); d != "" {
				t.Errorf("%s (-want +got):\n%s", file, d)
			}
			checkGolden(t, file, j, got)
		}
	}
}

// checkGolden says of a golden message what it must hold whatever its words.
func checkGolden(t *testing.T, file string, j plan.Job, got plan.Composed) {
	t.Helper()
	msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
	if err != nil {
		t.Fatal(err)
	}
	if l := msg.Header.Get("Content-Language"); l != j.Patient.Language {
		t.Errorf("%s: language %s", file, l)
	}
	tok, err := token.Make(testKey, j.Key+"#1")
	if err != nil {
		t.Fatal(err)
	}
	_, bodies := parts(t, got.Bytes)
	if len(bodies) != 2 {
		t.Fatalf("%s: %d parts", file, len(bodies))
	}
	// RFC 6068: the buttons open a message to the token address.
	if n := strings.Count(bodies[1], "mailto:care%2B"+tok+"@clinic.test?"); n < 3 {
		t.Errorf("%s: %d links to the token address", file, n)
	}
	for _, b := range bodies {
		if !strings.Contains(b, "Mira") || !strings.Contains(b, "STOP") || !strings.Contains(b, "555 0100") {
			t.Errorf("%s: name, way to stop or number is missing", file)
		}
	}
	if strings.Contains(msg.Header.Get("Subject"), "Mira") {
		t.Errorf("%s: the subject names the patient", file)
	}
}

// TestEveryTextCanBeAskedFor: each nudge, answer, consent and test there is
// makes a message in both languages, for patients and guardians.
func TestEveryTextCanBeAskedFor(t *testing.T) {
	c := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()}}
	c.Clinic.Emergency = "911"
	var jobs []plan.Job
	add := func(cause plan.Cause, kind plan.Kind, day plan.Date, slot, topic string) {
		j := nudge(1)
		j.Cause, j.Topic, j.Plan = cause, topic, treated()
		j.Nudge = plan.Nudge{Kind: kind, Day: day, Slot: slot}
		jobs = append(jobs, j)
	}
	day := plan.NewDate(2026, 6, 2)
	for _, code := range []plan.MealCode{plan.AfterBreakfast, plan.AfterLunch, plan.AfterDinner, plan.AfterMeal, plan.Bedtime} {
		add(plan.CauseNudge, plan.BandChange, day, day.String()+"/"+string(code), "")
	}
	for _, slot := range []string{"d-3", "d-1", "d0", "b/2026-07-01"} {
		add(plan.CauseNudge, plan.WearStart, day, slot, "")
	}
	for _, slot := range []string{"s1", "s2", "s3", "s4", "s5", "s6", "s7", "2026-06-01/s1", "2026-06-01/s2", "2026-06-01/s3"} {
		add(plan.CauseNudge, plan.Soreness, day, slot, "")
	}
	for _, topic := range []string{"stopped", "emergency", "emergency-yellow", "pain", "pain-reliever", "ran-out", "hook-up", "how-often", "forgot", "sport-or-meal", "broken", "received"} {
		add(plan.CauseAnswer, "", day, "", topic)
	}
	add(plan.CauseConsent, "", day, "", "")
	add(plan.CauseTest, "", day, "", "")
	for _, j := range jobs {
		for _, lang := range []string{"en", "es", "es-MX", "fi"} {
			for _, role := range []plan.Role{plan.RolePatient, plan.RoleGuardian} {
				j.Patient.Language, j.To.Role = lang, role
				if j.Cause == plan.CauseTest {
					j.Patient, j.To.Role = plan.Patient{}, "" // goes to staff
				}
				got, err := c.Compose(j, noon)
				if err != nil {
					t.Errorf("%s %s%s in %s: %v", j.Cause, j.Nudge.Slot, j.Topic, lang, err)
					continue
				}
				checkLines(t, got.Bytes)
			}
		}
	}
}

// TestHostileNameStaysText: a name with marks, quotes and a line end comes out
// as text in both parts and starts no field.
func TestHostileNameStaysText(t *testing.T) {
	c := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()}}
	c.Clinic.Emergency = "911"
	plainJob := nudge(1)
	plainJob.Plan, plainJob.Nudge = treated(), samples["band-change"]
	plain, err := mail.ReadMessage(bytes.NewReader(mustCompose(t, c, plainJob).Bytes))
	if err != nil {
		t.Fatal(err)
	}
	j := plainJob
	j.Patient.FirstName = "<b>\"O'Neil & 李\r\nBcc: x@y"
	got := mustCompose(t, c, j)
	msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
	if err != nil {
		t.Fatal(err)
	}
	if len(msg.Header) != len(plain.Header) || msg.Header.Get("Bcc") != "" {
		t.Errorf("%d fields, want %d", len(msg.Header), len(plain.Header))
	}
	_, bodies := parts(t, got.Bytes)
	flat := strings.Join(strings.Fields(bodies[0]), " ")
	if !strings.Contains(flat, `<b>"O'Neil & 李 Bcc: x@y`) {
		t.Errorf("the text part does not show the name: %s", flat)
	}
	if strings.Contains(bodies[1], "<b>\"") || !strings.Contains(bodies[1], "&lt;b&gt;") {
		t.Error("the HTML part takes the name for markup")
	}
}
