package notify

import (
	"bytes"
	"errors"
	"net/mail"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

// fixedTexts always give the same words.
type fixedTexts Text

func (f fixedTexts) Render(Request) (Text, error) { return Text(f), nil }

func composer(text Text) *Composer {
	if text.Language == "" {
		text.Language = "en"
	}
	return &Composer{Clinic: testClinic, Key: testKey, Texts: fixedTexts(text)}
}

// ofCause is a job of the given cause.
func ofCause(cause plan.Cause) plan.Job {
	j := nudge(1)
	j.Cause = cause
	if cause == plan.CauseAnswer {
		j.Key, j.Topic, j.AnswersID = "answer/7/pain", "pain", "CAF=abc_1@mail.home.test"
	}
	return j
}

func mustCompose(t *testing.T, c *Composer, j plan.Job) plan.Composed {
	t.Helper()
	got, err := c.Compose(j, noon)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// TestFieldsOfEachCause reads messages back with net/mail and holds the set of
// fields, each there once: RFC 5322 section 3.6 (Date, From, Message-ID once),
// RFC 3834 section 5 (Auto-Submitted), RFC 2369 section 3.2 (List-Unsubscribe),
// RFC 5322 section 3.6.4 (In-Reply-To, References).
func TestFieldsOfEachCause(t *testing.T) {
	usual := []string{"Auto-Submitted", "Content-Language", "Content-Type", "Date", "From", "Message-Id", "Mime-Version", "Reply-To", "Subject", "To"}
	for cause, more := range map[plan.Cause][]string{
		plan.CauseNudge:   {"List-Unsubscribe"},
		plan.CauseConsent: {"List-Unsubscribe"},
		plan.CauseAnswer:  {"In-Reply-To", "List-Unsubscribe", "References"},
		plan.CauseTest:    {},
	} {
		c := composer(Text{Subject: "After lunch", Plain: "a\n", HTML: "<p>a</p>", Version: "v7"})
		j := ofCause(cause)
		got := mustCompose(t, c, j)
		msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for name, values := range msg.Header {
			names = append(names, name)
			if len(values) != 1 {
				t.Errorf("%s: %d fields %s", cause, len(values), name)
			}
		}
		slices.Sort(names)
		want := slices.Concat(usual, more)
		slices.Sort(want)
		if d := cmp.Diff(want, names); d != "" {
			t.Errorf("%s: fields (-want +got):\n%s", cause, d)
		}
		if d, err := msg.Header.Date(); err != nil || !d.Equal(noon) {
			t.Errorf("%s: Date %s, %v", cause, d, err)
		}
		wantAuto := "auto-generated"
		if cause == plan.CauseAnswer {
			wantAuto = "auto-replied"
			for _, f := range []string{"In-Reply-To", "References"} {
				if got := msg.Header.Get(f); got != "<CAF=abc_1@mail.home.test>" {
					t.Errorf("%s is %s", f, got)
				}
			}
		}
		if got := msg.Header.Get("Auto-Submitted"); got != wantAuto {
			t.Errorf("%s: Auto-Submitted %s, want %s", cause, got, wantAuto)
		}
		from, err := msg.Header.AddressList("From")
		if err != nil || len(from) != 1 || from[0].Address != "care@clinic.test" || from[0].Name != "Harbour Orthodontics" {
			t.Errorf("%s: From %v, %v", cause, from, err)
		}
		to, err := msg.Header.AddressList("To")
		if err != nil || len(to) != 1 || to[0].Address != "pat1@home.test" {
			t.Errorf("%s: To %v, %v", cause, to, err)
		}
		if got.Version != "v7" {
			t.Errorf("%s: version %q", cause, got.Version)
		}
		checkTokens(t, cause, j, got, msg)
	}
}

// checkTokens holds that every address a message can be answered at carries
// the token of its cause.
func checkTokens(t *testing.T, cause plan.Cause, j plan.Job, got plan.Composed, msg *mail.Message) {
	t.Helper()
	name := j.Key + "#1"
	reply, err := msg.Header.AddressList("Reply-To")
	if err != nil || len(reply) != 1 {
		t.Fatalf("%s: Reply-To %v", cause, err)
	}
	tok, ok := token.Find(reply[0].Address)
	if !ok || !token.Verify(testKey, name, tok) || !strings.HasPrefix(reply[0].Address, "care+") {
		t.Errorf("%s: Reply-To %s has no token of %s", cause, reply[0].Address, name)
	}
	if sel, _ := token.Selector(tok); sel != got.Selector || sel == "" {
		t.Errorf("%s: selector %q, want %q", cause, got.Selector, sel)
	}
	env, err := composer(Text{}).envelope(j, got.Bytes)
	if err != nil || env.to != "pat1@home.test" {
		t.Errorf("%s: envelope to %s, %v", cause, env.to, err)
	}
	// RFC 3834 section 3.3: the null path for answers; else bounces name the
	// message they are about.
	if want := plan.Address(reply[0].Address); cause == plan.CauseAnswer && env.from != "" || cause != plan.CauseAnswer && env.from != want {
		t.Errorf("%s: envelope sender %q", cause, env.from)
	}
	if v := msg.Header.Get("List-Unsubscribe"); v != "" {
		// RFC 6068 section 2: scheme, address, hfields.
		u, err := url.Parse(strings.Trim(v, "<>"))
		if err != nil || u.Scheme != "mailto" || !strings.HasPrefix(v, "<") || !strings.HasSuffix(v, ">") {
			t.Fatalf("%s: List-Unsubscribe %s: %v", cause, v, err)
		}
		to, err := url.PathUnescape(u.Opaque)
		if err != nil || to != reply[0].Address || u.Query().Get("subject") != "STOP" || u.Query().Get("body") != "STOP" {
			t.Errorf("%s: List-Unsubscribe %s", cause, v)
		}
	}
}

// TestMessageID is the value of an independent HMAC-SHA256 (Python's hmac over
// the documented input), stays the same whatever the words, and differs by
// recipient (RFC 5322 section 3.6.4: globally unique).
func TestMessageID(t *testing.T) {
	a := mustCompose(t, composer(Text{Subject: "one", Plain: "a"}), nudge(1))
	b := mustCompose(t, composer(Text{Subject: "two", Plain: "b"}), nudge(1))
	if want := "28a3a28ae514fecd0e8b4e3d282efcd4@clinic.test"; a.MessageID != want || b.MessageID != want {
		t.Errorf("Message-ID %s and %s, want %s", a.MessageID, b.MessageID, want)
	}
	other := nudge(1)
	other.To.ID = 2
	if c := mustCompose(t, composer(Text{Subject: "one", Plain: "a"}), other); c.MessageID == a.MessageID || c.Selector == a.Selector {
		t.Error("two recipients share an id")
	}
	for _, secret := range []string{"AB1CDE", "band-change", "2026-06-01"} {
		if strings.Contains(a.MessageID, secret) {
			t.Errorf("the id holds %s", secret)
		}
	}
}

// TestSameJobSameBytes, and only the instant changes the Date.
func TestSameJobSameBytes(t *testing.T) {
	c := composer(Text{Subject: "s", Plain: "a", HTML: "<p>a</p>"})
	a, b := mustCompose(t, c, nudge(1)), mustCompose(t, c, nudge(1))
	if !bytes.Equal(a.Bytes, b.Bytes) {
		t.Error("the same job made two messages")
	}
	later, err := c.Compose(nudge(1), noon.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	date := regexp.MustCompile(`(?m)^Date: .*\r\n`)
	if !bytes.Equal(date.ReplaceAll(a.Bytes, nil), date.ReplaceAll(later.Bytes, nil)) {
		t.Error("more than the Date changed")
	}
}

// TestValuesThatEndALine are refused (RFC 5322 section 2.2), by field and
// without being repeated.
func TestValuesThatEndALine(t *testing.T) {
	for _, bad := range []string{"a\r\nBcc: x@y.test", "a\nb", "a\rb", "a\x00b", "a\x1bb", "a\u0085b"} {
		clinic := composer(Text{Subject: "s", Plain: "p"})
		clinic.Clinic.Name = bad
		sender := composer(Text{Subject: "s", Plain: "p"})
		sender.Clinic.From = plan.Address("care" + bad + "@clinic.test")
		to := nudge(1)
		to.To.Address = plan.Address("pat" + bad + "@home.test")
		for name, try := range map[string]func() (plan.Composed, error){
			"Subject": func() (plan.Composed, error) { return composer(Text{Subject: bad, Plain: "p"}).Compose(nudge(1), noon) },
			"Content-Language": func() (plan.Composed, error) {
				return composer(Text{Subject: "s", Plain: "p", Language: "en" + bad}).Compose(nudge(1), noon)
			},
			"From name": func() (plan.Composed, error) { return clinic.Compose(nudge(1), noon) },
			"From":      func() (plan.Composed, error) { return sender.Compose(nudge(1), noon) },
			"To":        func() (plan.Composed, error) { return composer(Text{Subject: "s", Plain: "p"}).Compose(to, noon) },
		} {
			got, err := try()
			var value *ValueError
			if !errors.As(err, &value) || value.Field != name {
				t.Errorf("%s of %q: %v", name, bad, err)
			}
			if got.Bytes != nil || err != nil && strings.Contains(err.Error(), "Bcc") {
				t.Errorf("%s of %q: made or repeated", name, bad)
			}
		}
	}
	for name, bad := range map[string]plan.Address{"To": "a@b.test, c@d.test", "From": "Anna <a@b.test>"} {
		c, j := composer(Text{Subject: "s", Plain: "p"}), nudge(1)
		if name == "To" {
			j.To.Address = bad
		} else {
			c.Clinic.From = bad
		}
		var value *ValueError
		if _, err := c.Compose(j, noon); !errors.As(err, &value) || value.Field != name {
			t.Errorf("%s %q: %v", name, bad, err)
		}
	}
}

// TestForeignMessageID: an id that came with a reply is quoted only where it
// cannot do harm; the answer is sent without else.
func TestForeignMessageID(t *testing.T) {
	for id, want := range map[string]bool{
		"CAF=abc@mail.home.test": true, "1.2$3@x": true,
		"": false, "no-at": false, "@x": false, "x@": false, "a@b@c": false, "a b@c": false, "a@b>\r\nBcc: <x@y": false,
		"a\x00@b": false, "ä@b": false, "<a@b>": false, strings.Repeat("a", 249) + "@b": false, strings.Repeat("a", 248) + "@b": true,
	} {
		j := ofCause(plan.CauseAnswer)
		j.AnswersID = id
		got := mustCompose(t, composer(Text{Subject: "s", Plain: "p"}), j)
		if has := bytes.Contains(got.Bytes, []byte("In-Reply-To: ")); has != want {
			t.Errorf("In-Reply-To for %q: %v, want %v", id, has, want)
		}
	}
}
