package reply

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func seedMail(f *testing.F) {
	files, err := filepath.Glob("testdata/mail/*.eml")
	if err != nil || len(files) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
}

// FuzzMessage: whatever comes in, one of the five kinds comes out, with valid
// text, spans inside it, and a trace of every human reply.
func FuzzMessage(f *testing.F) {
	seedMail(f)
	asked := Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)}
	f.Fuzz(func(t *testing.T, raw []byte) {
		r := Read(raw, asked)
		holds(t, r)
		switch r.Kind {
		case KindReply:
			if len(r.Reports) == 0 {
				t.Error("no trace of a reply")
			}
		case KindBounce:
			if r.Bounce == nil {
				t.Error("a bounce without its fields")
			}
		case KindAutoReply, KindLoop:
			if r.Changed != None {
				t.Error("a machine answered")
			}
		case KindUnreadable:
			if !r.NeedsPerson {
				t.Error("unreadable, and nobody told")
			}
		default:
			t.Errorf("kind %q", r.Kind)
		}
	})
}

func holds(t *testing.T, r Reading) {
	t.Helper()
	if !utf8.ValidString(r.Text) || strings.ContainsAny(r.Text, "\x00\r\x1b") {
		t.Error("unsafe text")
	}
	n := utf8.RuneCountInString(r.Text)
	for _, rep := range r.Reports {
		if rep.Span[0] < 0 || rep.Span[1] < rep.Span[0] || rep.Span[1] > n {
			t.Errorf("span %v of %d", rep.Span, n)
		}
		if rep.What == OffSpan && !rep.From.Before(rep.To) {
			t.Errorf("off from %v to %v", rep.From, rep.To)
		}
	}
	if r.Why == "" {
		t.Error("no reason")
	}
	if r.HoursOff != nil && (*r.HoursOff < 0 || *r.HoursOff > 24) || r.Soreness != nil && (*r.Soreness < 0 || *r.Soreness > 10) {
		t.Error("a number out of range")
	}
	if (r.Allergy != AllergyNone || r.Stop || r.Broken != nil || r.OutOfBands || r.Question != nil) && !r.NeedsPerson {
		t.Errorf("needs a person: %+v", r)
	}
}

// FuzzQuote: stripping never adds text, and no marked line is left.
func FuzzQuote(f *testing.F) {
	f.Add("yes\n\nOn Mon, Jun 15, 2026 at 12:45 PM A <a@b.example> wrote:\n> hi")
	f.Add("a\n-- \nb\n> c\nd")
	f.Add("yes\n\nFrom: a\nSent: b\nTo: c\nSubject: d\n\nNO")
	f.Fuzz(func(t *testing.T, s string) {
		s = cleanRunes(s)
		v := strip(s, "")
		if len(v.text) > len(s) {
			t.Errorf("grew from %d to %d", len(s), len(v.text))
		}
		for _, l := range strings.Split(v.text, "\n") {
			if strings.HasPrefix(l, "> ") {
				t.Errorf("left %q", l)
			}
		}
	})
}

// FuzzClause: any words can be cut into clauses that tile them, and decided.
func FuzzClause(f *testing.F) {
	for _, s := range []string{"yes... actually no", "no itching, rash or swelling but my lips hurt", "¿puedo comer? sí, ya", "off 3-5 and 7 to 8, sore 4/10"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		s = cleanRunes(s)
		a := analyse(s, Asked{Kind: BandChange, Meal: "PCD"})
		next := 0
		for _, c := range a.clauses {
			if c.from != next || c.to <= c.from {
				t.Fatalf("clause %d-%d after %d", c.from, c.to, next)
			}
			next = c.to
		}
		if next != len(a.ws) {
			t.Fatalf("clauses end at %d of %d", next, len(a.ws))
		}
		r := Reading{Text: s}
		a.decide(&r)
		holds(t, r)
	})
}

// FuzzTime: stated times are never read as after the message.
func FuzzTime(f *testing.F) {
	for _, s := range []string{"off since 1pm", "out 3-5", "sin ligas de las 3 a las 5", "off from 11 to 1", "at half past 25", "off 99:99-3"} {
		f.Add(s)
	}
	now := time.Date(2026, 3, 8, 15, 0, 0, 0, newYork)
	f.Fuzz(func(t *testing.T, s string) {
		a := analyse(cleanRunes(s), Asked{Kind: BandChange})
		for _, sp := range a.readTimes(now).spans {
			if sp.to.After(now.Add(5*time.Minute)) || !sp.from.Before(sp.to) && !sp.from.Equal(sp.to) {
				t.Errorf("from %v to %v", sp.from, sp.to)
			}
		}
	})
}

// FuzzBounce: any report yields a class of the three and one line of words.
func FuzzBounce(f *testing.F) {
	seedMail(f)
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) > 64<<10 {
			return
		}
		h, rest, _ := splitHeader(raw, true)
		bd := &body{}
		bd.walk(h, rest, 0)
		b := bounced(Reading{Envelope: envelopeOf(h)}, h, bd).Bounce
		if b.Class != "permanent" && b.Class != "temporary" && b.Class != "unknown" {
			t.Errorf("class %q", b.Class)
		}
		if strings.ContainsAny(b.Diagnostic, "\r\n\x00") {
			t.Error("diagnostic of more than a line")
		}
	})
}
