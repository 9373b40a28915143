package reply

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// heldMail reads the messages of one directory of testdata/held with the labels
// that lie beside each.
func heldMail(t *testing.T, dir string) (names []string, raw map[string][]byte, want map[string]map[string]string) {
	t.Helper()
	files, err := filepath.Glob("testdata/held/" + dir + "/*.eml")
	if err != nil || len(files) == 0 {
		t.Fatalf("nothing held apart in %s: %v", dir, err)
	}
	raw, want = map[string][]byte{}, map[string]map[string]string{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		labels, err := os.ReadFile(strings.TrimSuffix(f, ".eml") + ".want")
		if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimSuffix(filepath.Base(f), ".eml")
		names = append(names, name)
		raw[name], want[name] = b, map[string]string{}
		for line := range strings.Lines(string(labels)) {
			if k, v, ok := strings.Cut(strings.TrimSpace(line), ":"); ok {
				want[name][k] = strings.TrimSpace(v)
			}
		}
	}
	return names, raw, want
}

var heldAsked = Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)}

// TestBouncesHeldApart scores bounces written apart from the reader, most of
// them without a machine-readable part.
func TestBouncesHeldApart(t *testing.T) {
	names, raw, want := heldMail(t, "bounce")
	var known, class, status, recipient int
	for _, n := range names {
		r := Read(raw[n], heldAsked)
		if r.Kind != KindBounce || r.Bounce == nil {
			continue
		}
		known++
		if r.Bounce.Class == want[n]["class"] {
			class++
		}
		if r.Bounce.Status == want[n]["status"] {
			status++
		}
		if strings.EqualFold(r.Bounce.Recipient, want[n]["recipient"]) {
			recipient++
		}
	}
	t.Logf("of %d bounces: known %d, class %d, status %d, recipient %d", len(names), known, class, status, recipient)
	if known < 67 || class < 62 || status < 65 || recipient < 67 {
		t.Error("the reader does worse than when these were first scored: known 67, class 62, status 65, recipient 67")
	}
}

// TestAutoRepliesHeldApart scores automatic replies in many languages, half of
// them without a header that says so, and people's replies that look like them.
func TestAutoRepliesHeldApart(t *testing.T) {
	names, raw, want := heldMail(t, "auto")
	var machines, people, missed, accused int
	for _, n := range names {
		got := Read(raw[n], heldAsked).Kind
		switch want[n]["kind"] {
		case KindAutoReply:
			machines++
			if got != KindAutoReply {
				missed++
			}
		case KindReply:
			people++
			if got != KindReply {
				accused++
			}
		default:
			t.Errorf("%s: label %q", n, want[n]["kind"])
		}
	}
	if missed > 0 || accused > 1 {
		t.Error("the reader does worse than when these were first scored: 0 machines missed, 1 person taken for one")
	}
	t.Logf("of %d machines %d were taken for people; of %d people %d for machines", machines, missed, people, accused)
}
