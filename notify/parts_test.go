package notify

import (
	"bytes"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"
	"unicode"

	gomail "github.com/emersion/go-message/mail"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

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
