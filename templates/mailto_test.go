package templates

import (
	"net/url"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// RFC 6068 sections 6.1 to 6.3, address to URI. The one difference is the
// apostrophe, which the RFC leaves bare and which is %27 here: the same address
// to whoever decodes it (RFC 3986 section 6.2.2.2), and safe in any quotes.
func TestMailtoAgainstRFC6068(t *testing.T) {
	for _, tc := range []struct{ to, subject, body, want string }{
		{"chris@example.com", "", "", "mailto:chris@example.com"},
		{"infobot@example.com", "current-issue", "", "mailto:infobot@example.com?subject=current-issue"},
		{"infobot@example.com", "", "send current-issue", "mailto:infobot@example.com?body=send%20current-issue"},
		{"infobot@example.com", "", "send current-issue\nsend index", "mailto:infobot@example.com?body=send%20current-issue%0D%0Asend%20index"},
		{"majordomo@example.com", "", "subscribe bamboo-l", "mailto:majordomo@example.com?body=subscribe%20bamboo-l"},
		{"gorby%kremvax@example.com", "", "", "mailto:gorby%25kremvax@example.com"},
		{"unlikely?address@example.com", "", "", "mailto:unlikely%3Faddress@example.com"},
		{"Mike&family@example.org", "", "", "mailto:Mike%26family@example.org"},
		{`"not@me"@example.org`, "", "", "mailto:%22not%40me%22@example.org"},
		{`"oh\\no"@example.org`, "", "", "mailto:%22oh%5C%5Cno%22@example.org"},
		{`"\\\"it's\ ugly\\\""@example.org`, "", "", "mailto:%22%5C%5C%5C%22it%27s%5C%20ugly%5C%5C%5C%22%22@example.org"},
		{"user@example.org", "café", "", "mailto:user@example.org?subject=caf%C3%A9"},
		{"user@example.org", "=?utf-8?Q?caf=C3=A9?=", "", "mailto:user@example.org?subject=%3D%3Futf-8%3FQ%3Fcaf%3DC3%3DA9%3F%3D"},
		{"user@example.org", "café", "café", "mailto:user@example.org?subject=caf%C3%A9&body=caf%C3%A9"},
		{"user@納豆.example.org", "Test", "NATTO", "mailto:user@%E7%B4%8D%E8%B1%86.example.org?subject=Test&body=NATTO"},
		// Section 5: a plus sign may be encoded, a blank never becomes one.
		{"bill+ietf@example.org", "a + b", "", "mailto:bill%2Bietf@example.org?subject=a%20%2B%20b"},
	} {
		if got := Mailto(tc.to, tc.subject, tc.body); got != tc.want {
			t.Errorf("Mailto(%q, %q, %q)\n got %s\nwant %s", tc.to, tc.subject, tc.body, got, tc.want)
		}
	}
}

func TestMailtoHoldsNoHeader(t *testing.T) {
	got := Mailto("a@b.test\r\nBcc: x@y.test", "s\r\nBcc: x@y.test", "one\rtwo\r\nthree\nfour\x00")
	want := "mailto:a%40b.testBcc%3A%20x@y.test?subject=sBcc%3A%20x%40y.test&body=one%0D%0Atwo%0D%0Athree%0D%0Afour"
	if got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
}

// net/url is the outside judge: whatever goes in comes out again.
func TestMailtoRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		subject := oneLine(rapid.String().Draw(t, "subject"))
		body := crlf(rapid.String().Draw(t, "body"))
		got := Mailto("bands+abc@clinic.test", subject, body)
		u, err := url.Parse(got)
		if err != nil {
			t.Fatal(err)
		}
		if strings.ContainsAny(got, "+ \r\n\"<>") {
			t.Errorf("%s holds a character it must not", got)
		}
		q, err := url.ParseQuery(u.RawQuery)
		if err != nil {
			t.Fatal(err)
		}
		to, err := url.PathUnescape(u.Opaque)
		if err != nil || to != "bands+abc@clinic.test" || q.Get("subject") != subject || q.Get("body") != body {
			t.Errorf("%s reads back as %q %q %q, %v", got, to, q.Get("subject"), q.Get("body"), err)
		}
	})
}
