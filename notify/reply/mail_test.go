package reply

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestMail reads every raw message of testdata/mail and compares what its
// .want file names: the forms of the common mail programs, damage of every
// kind, machines and bounces. All the people and clinics are invented; the
// forms are those the programs write (common practice, no source).
func TestMail(t *testing.T) {
	files, err := filepath.Glob("testdata/mail/*.eml")
	if err != nil || len(files) < 80 {
		t.Fatalf("%d messages, %v", len(files), err)
	}
	asked := Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork), OwnDomain: "clinic.example"}
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(strings.TrimSuffix(f, ".eml") + ".want")
		if err != nil {
			t.Fatal(err)
		}
		t.Run(strings.TrimSuffix(filepath.Base(f), ".eml"), func(t *testing.T) {
			r := Read(raw, asked)
			got := map[string]string{
				"kind": r.Kind, "text": strings.ReplaceAll(r.Text, "\n", `\n`), "lang": r.Lang, "changed": r.Changed,
				"person": strconv.FormatBool(r.NeedsPerson), "stop": strconv.FormatBool(r.Stop),
			}
			if b := r.Bounce; b != nil {
				got["recipient"], got["klass"], got["status"], got["cause"] = b.Recipient, b.Class, b.Status, b.Cause
			}
			for _, line := range strings.Split(strings.TrimRight(string(want), "\n"), "\n") {
				k, v, _ := strings.Cut(line, ":")
				v = strings.TrimPrefix(v, " ")
				if got[k] != v {
					t.Errorf("%s is %q, want %q (%s)", k, got[k], v, r.Why)
				}
			}
			if r.Kind == KindReply && len(r.Reports) == 0 {
				t.Error("a reply left no trace")
			}
		})
	}
}
