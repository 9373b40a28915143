package inbox

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The keyword of Auto-Submitted may be followed by a comment or parameters
// (RFC 3834 section 5); "(vacation)" is what a real responder writes.
func TestAutoSubmitted(t *testing.T) {
	for value, want := range map[string]bool{
		"no": false, "No": false, " no ; x=y": false, "no (really)": false,
		"auto-replied": true, "auto-replied (vacation)": true, "Auto-Generated": true, "auto-notified; owner-email=x": true, "": true,
	} {
		if got := scan(letter(ours, "Yes", "Auto-Submitted: "+value)).auto; got != want {
			t.Errorf("Auto-Submitted: %s: %v, want %v", value, got, want)
		}
	}
	if scan(letter(ours, "Yes")).auto {
		t.Error("a plain letter is automatic")
	}
}

func TestScanBounds(t *testing.T) {
	long := "To: " + strings.Repeat("x", 2*maxHeader) + "\r\n\r\nbody"
	if h := scan([]byte(long)); len(h.addressed) != 1 || len(h.addressed[0]) > maxValue {
		t.Errorf("a field of %d octets was kept", len(h.addressed[0]))
	}
	many := strings.Repeat("To: x\r\n", 5000) + "\r\nbody"
	if h := scan([]byte(many)); len(h.addressed) > maxFields {
		t.Errorf("%d fields were read", len(h.addressed))
	}
	folded := "Subject: a" + strings.Repeat("\r\n "+strings.Repeat("y", 70), 900) + "\r\n\r\n"
	if h := scan([]byte(folded)); len(h.subject) > maxValue+80 {
		t.Errorf("a field of %d octets was kept", len(h.subject))
	}
}

func TestScanOddities(t *testing.T) {
	raw := "From ana Mon Jun  1 13:09:00 2026\nDELIVERED-TO : <a@b.test>\njunk line\nReferences: <1@x> <2@x>\n <3@x\n\nTo: not@header.test\n"
	h := scan([]byte(raw))
	if d := cmp.Diff([]string{"<a@b.test>"}, h.delivered); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"2@x", "1@x"}, h.refs); d != "" {
		t.Error(d)
	}
	if len(h.addressed) != 0 || raw[h.body:] != "To: not@header.test\n" {
		t.Errorf("body %q", raw[h.body:])
	}
}

func TestUndated(t *testing.T) {
	got := string(undated([]byte("A: 1\r\nDATE : x\r\n folded\r\nB: 2\r\ndate: y\r\n\r\nDate: stays\r\n")))
	if want := "A: 1\r\nB: 2\r\n\r\nDate: stays\r\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Both sides of both edges.
func TestFits(t *testing.T) {
	for d, want := range map[time.Duration]bool{
		time.Second: false, 0: true, -time.Second: true,
		-48 * time.Hour: true, -48*time.Hour - time.Second: false,
	} {
		if got := fits(received.Add(d), received); got != want {
			t.Errorf("%v: %v, want %v", d, got, want)
		}
	}
	if fits(time.Time{}, received) {
		t.Error("a Date that cannot be read fits")
	}
}
