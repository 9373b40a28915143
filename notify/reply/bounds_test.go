package reply

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
)

// hostile are inputs built to take long: nested and countless parts, endless
// headers and quotations, text without a stop. All are near the cap on bytes.
func hostile() map[string][]byte {
	head := "From: a@b.example\r\nDate: Mon, 15 Jun 2026 17:10:00 +0000\r\n"
	m := map[string][]byte{}
	var nest strings.Builder
	nest.WriteString(head)
	for i := 0; i < 20000; i++ {
		fmt.Fprintf(&nest, "Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n", i, i)
	}
	m["nested parts"] = []byte(nest.String())
	m["flat parts"] = []byte(head + "Content-Type: multipart/mixed; boundary=b\r\n\r\n" + strings.Repeat("--b\r\n\r\nyes\r\n", 80000))
	m["one long header"] = []byte(head + "X-A: " + strings.Repeat("a", maxBytes) + "\r\n\r\nyes")
	m["many headers"] = []byte(head + strings.Repeat("X-A: b\r\n", 120000) + "\r\nyes")
	m["quoted lines"] = []byte(head + "\r\nyes\r\n" + strings.Repeat("> and so on and so forth, said the nudge\r\n", 24000))
	m["plain lines"] = []byte(head + "\r\n" + strings.Repeat("On Monday I wrote: yes and no and 3 to 5\r\n", 24000))
	m["one line"] = []byte(head + "\r\n" + strings.Repeat("no itching or swelling, ", 43000))
	m["no spaces"] = []byte(head + "\r\n" + strings.Repeat("a", maxBytes))
	m["numbers"] = []byte(head + "\r\n" + strings.Repeat("3-5 since 4 hours ", 56000))
	m["negations"] = []byte(head + "\r\n" + strings.Repeat("not no lips ", 80000))
	m["html nesting"] = []byte(head + "Content-Type: text/html\r\n\r\n" + strings.Repeat("<div><blockquote>", 60000))
	m["html end tags"] = []byte(head + "Content-Type: text/html\r\n\r\n" + strings.Repeat("<b>", 30000) + strings.Repeat("</i>", 200000))
	m["html attributes"] = []byte(head + "Content-Type: text/html\r\n\r\n<p " + strings.Repeat("a=b ", 250000) + ">yes</p>")
	m["html comment"] = []byte(head + "Content-Type: text/html\r\n\r\n" + strings.Repeat("<!--", 250000))
	m["base64"] = []byte(head + "Content-Transfer-Encoding: base64\r\n\r\n" + strings.Repeat("eWVzIA==\r\n", 100000))
	m["emoji"] = []byte(head + "Content-Type: text/plain; charset=utf-8\r\n\r\n" + strings.Repeat("👍 👎 ", 100000))
	m["addresses"] = []byte(head + "To: " + strings.Repeat("a@b.example, ", 4000) + "\r\n\r\nyes")
	m["bounce text"] = []byte("Return-Path: <>\r\nFrom: mailer-daemon@x.example\r\nSubject: failure notice\r\n\r\n" + strings.Repeat("550 5.1.1 <a@b.example> could not be delivered\r\n", 20000))
	m["over the cap"] = []byte(head + "\r\nyes\r\n" + strings.Repeat("> x\r\n", 400000))
	return m
}

// TestHostile reads them all; none may be taken for an answer that needs
// nobody when parts of it went unread.
func TestHostile(t *testing.T) {
	for name, raw := range hostile() {
		r := Read(raw, Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)})
		if r.Damaged && r.Kind == KindReply && !r.NeedsPerson {
			t.Errorf("%s: cut, and nobody told", name)
		}
		if r.Kind == KindReply && len(r.Reports) == 0 {
			t.Errorf("%s: no trace", name)
		}
	}
}

// TestCaps shows both sides of each cap.
func TestCaps(t *testing.T) {
	nested := func(depth int) []byte {
		var b bytes.Buffer
		b.WriteString("From: a@b.example\r\n")
		for i := 0; i < depth; i++ {
			fmt.Fprintf(&b, "Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n", i, i)
		}
		b.WriteString("Content-Type: text/plain\r\n\r\nyes\r\n")
		return b.Bytes()
	}
	flat := func(parts int) []byte {
		return []byte("From: a@b.example\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n\r\nyes\r\n" +
			strings.Repeat("--b\r\nContent-Type: application/x-empty\r\n\r\n\r\n", parts-2) + "--b--\r\n")
	}
	sized := func(size int) []byte {
		b := []byte("From: a@b.example\r\n\r\nyes\r\n")
		for len(b) < size {
			b = append(b, "> a line of the quotation, as long as such lines commonly are\n"...)
		}
		return b[:size]
	}
	tests := []struct {
		name    string
		raw     []byte
		damaged bool
	}{
		{"20 levels", nested(maxDepth), false},
		{"21 levels", nested(maxDepth + 1), true},
		{"100 parts", flat(maxParts), false},
		{"101 parts", flat(maxParts + 1), true},
		{"a mebibyte", sized(maxBytes), false},
		{"a byte more", sized(maxBytes + 1), true},
	}
	for _, tt := range tests {
		r := Read(tt.raw, Asked{})
		if r.Damaged != tt.damaged {
			t.Errorf("%s: damaged %v, want %v (%s, %q)", tt.name, r.Damaged, tt.damaged, r.Why, r.Text)
		}
		if tt.damaged && !r.NeedsPerson {
			t.Errorf("%s: nobody told", tt.name)
		}
	}
}

// BenchmarkHostile gives the time of each; the bound is 50 ms.
func BenchmarkHostile(b *testing.B) {
	for name, raw := range hostile() {
		b.Run(strings.ReplaceAll(name, " ", "-"), func(b *testing.B) {
			for b.Loop() {
				Read(raw, Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)})
			}
		})
	}
}

func BenchmarkOrdinary(b *testing.B) {
	raw := []byte("From: a@b.example\r\nDate: Mon, 15 Jun 2026 17:10:00 +0000\r\n\r\nYes, changed them after lunch but they were off from 3 to 5 for soccer.\r\n")
	for b.Loop() {
		Read(raw, Asked{Kind: BandChange, Meal: "PCD", Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)})
	}
}
