package notify

import (
	"bytes"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	gomail "github.com/emersion/go-message/mail"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

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

// parts reads the two parts back with the standard library.
func parts(t interface{ Fatal(...any) }, raw []byte) (kinds []string, bodies []string) {
	msg, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	kind, params, err := mime.ParseMediaType(msg.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatal("content type", kind, err)
	}
	r := multipart.NewReader(msg.Body, params["boundary"])
	for {
		p, err := r.NextRawPart()
		if errors.Is(err, io.EOF) {
			return kinds, bodies
		}
		if err != nil {
			t.Fatal(err)
		}
		if p.Header.Get("Content-Transfer-Encoding") != "quoted-printable" {
			t.Fatal("transfer encoding", p.Header.Get("Content-Transfer-Encoding"))
		}
		b, err := io.ReadAll(quotedprintable.NewReader(p))
		if err != nil {
			t.Fatal(err)
		}
		kinds = append(kinds, p.Header.Get("Content-Type"))
		bodies = append(bodies, strings.ReplaceAll(string(b), "\r\n", "\n"))
	}
}

// checkLines holds RFC 5322 sections 2.1.1 and 2.3 (998 octets, CR and LF only
// together), 7bit, and 76 characters in the encoded body (RFC 2045 section
// 6.7). Header lines fold at 78 where there is a place to fold.
func checkLines(t interface{ Errorf(string, ...any) }, raw []byte) {
	header, body, _ := bytes.Cut(raw, []byte("\r\n\r\n"))
	for _, line := range bytes.Split(header, []byte("\r\n")) {
		if len(line) > 998 || len(line) > 78 && bytes.ContainsRune(bytes.TrimLeft(line[bytes.IndexByte(line, ':')+1:], " "), ' ') {
			t.Errorf("header line of %d octets", len(line))
		}
	}
	for _, line := range bytes.Split(body, []byte("\r\n")) {
		if len(line) > 76 {
			t.Errorf("body line of %d octets: %q", len(line), line)
		}
	}
	if rest := bytes.ReplaceAll(raw, []byte("\r\n"), nil); bytes.ContainsAny(rest, "\r\n\x00") {
		t.Errorf("a lone CR or LF, or a NUL")
	}
	for _, b := range raw {
		if b >= 0x80 {
			t.Errorf("not 7bit")
			break
		}
	}
	if !bytes.HasSuffix(raw, []byte("\r\n")) {
		t.Errorf("does not end in CRLF")
	}
}

// TestPartsReadBack: text first, HTML last (RFC 2046 section 5.1.4), both
// whole, whatever stands in them.
func TestPartsReadBack(t *testing.T) {
	plain := "Hola Íñigo,\n\n.\n..two dots\nFrom here on\n" + strings.Repeat("larga línea ", 200) + "\ntrailing space \n=3D literal\n\ttab\n李🙂\n"
	html := "<p>Hola Íñigo</p>\n<p>" + strings.Repeat("x", 3000) + "</p>\n"
	for _, ending := range []string{"\n", "\r\n"} {
		end := strings.NewReplacer("\n", ending)
		got := mustCompose(t, composer(Text{Subject: "¿Bandas nuevas después del almuerzo? " + strings.Repeat("sí ", 40), Plain: end.Replace(plain), HTML: end.Replace(html), Language: "es"}), nudge(1))
		checkLines(t, got.Bytes)
		kinds, bodies := parts(t, got.Bytes)
		if d := cmp.Diff([]string{"text/plain; charset=utf-8", "text/html; charset=utf-8"}, kinds); d != "" {
			t.Errorf("parts (-want +got):\n%s", d)
		}
		if d := cmp.Diff([]string{plain, html}, bodies); d != "" {
			t.Errorf("bodies (-want +got):\n%s", d)
		}
		// The library the message was written with reads the same.
		r, err := gomail.CreateReader(bytes.NewReader(got.Bytes))
		if err != nil {
			t.Fatal(err)
		}
		if s, err := r.Header.Subject(); err != nil || !strings.HasPrefix(s, "¿Bandas nuevas después") {
			t.Errorf("subject %q, %v", s, err)
		}
		n := 0
		for ; ; n++ {
			if _, err := r.NextPart(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
		if n != 2 {
			t.Errorf("%d parts", n)
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

// TestAnyWordsMakeOneMessage: whatever the texts and names say, there is either
// a refusal or a message with the usual fields once and the words as they were.
func TestAnyWordsMakeOneMessage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.OneOf(rapid.String(), rapid.StringMatching(`[ -~]{0,300}`), rapid.SampledFrom([]string{
			"=?utf-8?q?a=0D=0ABcc:x?=", `<b>"O'Neil & 李`, "a\r\nBcc: x@y", "--=_x", ".", strings.Repeat("wort", 500), "{{range}}", "\u202e",
		}))
		text := Text{Subject: word.Draw(t, "subject"), Plain: word.Draw(t, "plain") + "\n", HTML: "<p>" + word.Draw(t, "html") + "</p>\n", Language: "en"}
		c := composer(text)
		c.Clinic.Name = word.Draw(t, "clinic")
		got, err := c.Compose(nudge(1), noon)
		if strings.ContainsFunc(text.Subject+c.Clinic.Name, unicode.IsControl) {
			if err == nil {
				t.Fatal("a control character got into a field")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
		if err != nil {
			t.Fatal(err)
		}
		checkLines(t, got.Bytes)
		if len(msg.Header) != 11 || msg.Header.Get("Bcc") != "" {
			t.Fatalf("%d fields", len(msg.Header))
		}
		dec := new(mime.WordDecoder)
		if s, err := dec.DecodeHeader(msg.Header.Get("Subject")); err != nil || fold(s) != fold(text.Subject) {
			t.Fatalf("subject %q became %q, %v", text.Subject, s, err)
		}
		from, err := msg.Header.AddressList("From")
		if err != nil || len(from) != 1 || from[0].Address != "care@clinic.test" || fold(from[0].Name) != fold(c.Clinic.Name) {
			t.Fatalf("From %v, %v", from, err)
		}
		_, bodies := parts(t, got.Bytes)
		if len(bodies) != 2 || bodies[0] != lines(text.Plain) || bodies[1] != lines(text.HTML) {
			t.Fatalf("bodies %q, want %q and %q", bodies, text.Plain, text.HTML)
		}
	})
}

// lines are the line ends as they arrive.
func lines(s string) string { return strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s) }

// fold makes runs of blanks one, since folding may.
func fold(s string) string { return strings.Join(strings.Fields(s), " ") }

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
