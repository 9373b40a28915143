package plan

import (
	"net/mail"
	"strings"
	"testing"
	"unicode/utf8"
)

func repeated(s string, n int) string { return strings.Repeat(s, n) }

func TestParseAddress(t *testing.T) {
	label63, label64 := repeated("d", 63), repeated("d", 64)
	// Three labels of 63 and their dots are 192 octets.
	domain := label63 + "." + label63 + "." + label63 + "."
	tests := []struct{ text, want string }{ // want empty: refused
		{"ana@example.org", "ana@example.org"},
		{"  ana@example.org\t", "ana@example.org"},
		{"Ana.Maria+bands@Example.ORG", "Ana.Maria+bands@example.org"}, // RFC 5321 section 2.4: only the domain folds case
		{"ana@clinic", "ana@clinic"},
		{"a@b-c.d0.test", "a@b-c.d0.test"},
		// Every atext of RFC 5322 section 3.2.3.
		{"a!#$%&'*+-/=?^_`{|}~9@example.org", "a!#$%&'*+-/=?^_`{|}~9@example.org"},

		// RFC 5321 section 4.5.3.1: local part 64 octets, path 256 with its
		// brackets; RFC 1035 section 2.3.4: label 63.
		{repeated("l", 64) + "@example.org", repeated("l", 64) + "@example.org"},
		{repeated("l", 65) + "@example.org", ""},
		{repeated("é", 32) + "@example.org", repeated("é", 32) + "@example.org"}, // octets, not letters
		{repeated("é", 32) + "l@example.org", ""},
		{"l@" + label63 + ".test", "l@" + label63 + ".test"},
		{"l@" + label64 + ".test", ""},
		{repeated("l", 20) + "@" + domain + repeated("e", 41), repeated("l", 20) + "@" + domain + repeated("e", 41)}, // 254
		{repeated("l", 20) + "@" + domain + repeated("e", 42), ""},                                                   // 255

		{"", ""}, {" ", ""}, {"@", ""}, {"ana", ""}, {"ana@", ""}, {"@example.org", ""},
		{"ana@@example.org", ""}, {"ana@b@example.org", ""},
		{".ana@example.org", ""}, {"ana.@example.org", ""}, {"a..na@example.org", ""}, {"a.b.c@example.org", "a.b.c@example.org"},
		{"ana@.example.org", ""}, {"ana@example.org.", ""}, {"ana@example..org", ""}, {"ana@-example.org", ""}, {"ana@example-.org", ""}, {"ana@exa_mple.org", ""},

		// What could become a second command, parameter or header.
		{"a@b> NOTIFY=NEVER", ""}, {"a@b>NOTIFY=NEVER", ""}, {"<a@b>", ""}, {"a@b SIZE=1", ""}, {"a b@c", ""}, {"a@b\tc", ""},
		{"a@b\r\nDATA", ""}, {"a@b\r\nBcc: x@example.org", ""}, {"a\r\n@b", ""}, {"a@b\nc", ""}, {"a\x00@b", ""}, {"a@b\x7f", ""}, {"a\u0085@b", ""}, {"a\u2028@b", ""}, {"a\u00a0@b", ""},
		{`"a b"@example.org`, ""}, {`"a@b> NOTIFY=NEVER"@example.org`, ""}, {`a\ b@example.org`, ""},
		{"ana@[192.0.2.1]", ""}, {"ana@[IPv6:2001:db8::1]", ""}, {"ana@example.org(home)", ""}, {"(x)ana@example.org", ""},
		{"Ana <ana@example.org>", ""}, {"ana@example.org, bob@example.org", ""}, {"ana@example.org;bob@example.org", ""}, {"friends:ana@example.org;", ""},
		{"@relay.test:ana@example.org", ""}, {"mailto:ana@example.org", ""}, {"ana@example.org:25", ""}, {"ana@exam/ple.org", ""},
		{"a\u202eb@example.org", ""}, {"a\u2066b@example.org", ""}, {"ana@\u200fexample.org", ""}, // shown as another address

		// RFC 6531 and 6532: local part and domain in UTF-8.
		{"josé@example.org", "josé@example.org"}, {"ana@BÜCHER.test", "ana@bücher.test"}, {"用户@例え.test", "用户@例え.test"},
		{"ana@xn--bcher-kva.test", "ana@xn--bcher-kva.test"}, {"ana@पता.test", "ana@पता.test"},
		{"jos\xe9@example.org", ""}, {"ana@b\xfccher.test", ""}, {"a\ufffd@example.org", ""}, {"ana@b€.test", ""},
		// Capital A with stroke takes two octets, the small letter three: 61 octets become 63, or 64.
		{"ana@" + repeated("Ⱥ", 2) + repeated("d", 57) + ".test", "ana@" + repeated("ⱥ", 2) + repeated("d", 57) + ".test"},
		{"ana@" + repeated("Ⱥ", 2) + repeated("d", 58) + ".test", ""},
	}
	for _, tt := range tests {
		got, err := ParseAddress(tt.text)
		switch {
		case tt.want == "" && err == nil:
			t.Errorf("%q: accepted as %q", tt.text, got)
		case tt.want == "" && (got != "" || !strings.HasPrefix(err.Error(), "not an e-mail address: ")):
			t.Errorf("%q: %q and %v", tt.text, got, err)
		case tt.want != "" && (err != nil || string(got) != tt.want):
			t.Errorf("%q: %q, %v; want %q", tt.text, got, err, tt.want)
		}
	}
}

// An address is a person's: the refusal says what is wrong and does not repeat it.
func TestRefusalDoesNotRepeatTheAddress(t *testing.T) {
	for _, text := range []string{"marisol@", "marisol@example..org", "marisol> x@example.org", repeated("marisol", 10) + "@example.org", "marisol.@example.org", "marisol@[192.0.2.1]"} {
		if _, err := ParseAddress(text); err == nil || strings.Contains(err.Error(), "marisol") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestPartsOfAnAddress(t *testing.T) {
	for a, want := range map[Address]struct {
		local, domain string
		ascii         bool
	}{
		"ana@example.org": {"ana", "example.org", true}, "josé@example.org": {"josé", "example.org", false},
		"ana@bücher.test": {"ana", "bücher.test", false}, "": {"", "", true},
	} {
		if a.Local() != want.local || a.Domain() != want.domain || a.ASCII() != want.ascii {
			t.Errorf("%q: %q, %q, ASCII %v", a, a.Local(), a.Domain(), a.ASCII())
		}
	}
}

// FuzzParseAddress holds that what is accepted can stand in an SMTP command and
// in a header as it is, and that net/mail reads the same address there.
func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"ana@example.org", "a@b> NOTIFY=NEVER", "a@b\r\nDATA", `"a b"@c`, "a@[192.0.2.1]", "josé@bücher.test", "A@İ.test", "a@Ⱥ.test", "a@K.test",
		"=?utf-8?q?a?=@b", "a@b@c", " a@b ", "a\u202e@b", "\xff@b", repeated("l", 64) + "@" + repeated("d.", 94) + "d"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAddress(s)
		if err != nil {
			if a != "" {
				t.Fatalf("%q: an error and %q", s, a)
			}
			return
		}
		if !utf8.ValidString(string(a)) || strings.ContainsAny(string(a), "<>()[]\\,;:\" \t\r\n\x00\x7f") || strings.Count(string(a), "@") != 1 {
			t.Fatalf("%q: accepted as %q", s, a)
		}
		if len(a) > 254 || len(a.Local()) > 64 || a.Local() == "" || a.Domain() == "" {
			t.Fatalf("%q: %d octets, %d before the @", a, len(a), len(a.Local()))
		}
		if again, err := ParseAddress(string(a)); err != nil || again != a {
			t.Fatalf("%q reads again as %q, %v", a, again, err)
		}
		if list, err := mail.ParseAddressList("<" + string(a) + ">"); err != nil || len(list) != 1 || list[0].Address != string(a) {
			t.Fatalf("%q in a header is %v, %v", a, list, err)
		}
	})
}
