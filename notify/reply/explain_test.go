package reply

import (
	"strings"
	"testing"
)

// TestExplain checks that an explanation shows the clauses, the phrases that
// counted, and every decision with its words.
func TestExplain(t *testing.T) {
	got := Explain(raw("Yes, changed them. No rash, but my lips are swelling"), Asked{Kind: BandChange, Sent: clock(19, 0)})
	for _, want := range []string{
		"kind: reply\n", "language: en\n", `clause 1: "Yes"`, `changed        "changed"`, `yellow         "rash" (denied)`,
		`allergy: red, from "lips are swelling"`, "changed: yes", "report allergy, certainty 0.90", "needs a person: true",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("explanation lacks %q:\n%s", want, got)
		}
	}
	if got := Explain([]byte("Auto-Submitted: auto-replied\r\nFrom: a@b.example\r\n\r\nyes"), Asked{}); !strings.Contains(got, "kind: auto-reply\nwhy: marked Auto-Submitted\n") {
		t.Errorf("explanation of a machine's mail: %s", got)
	}
}
