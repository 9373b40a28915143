package token

import (
	"net/mail"
	"strings"
	"testing"
)

func sample(t testing.TB) string {
	tok, err := Make(key, "nudge/1")
	if err != nil {
		t.Fatal(err)
	}
	return tok
}

func TestAddress(t *testing.T) {
	tok := sample(t)
	for _, tc := range []struct{ name, base, want string }{
		{"plain", "bands@clinic.test", "bands+" + tok + "@clinic.test"},
		{"dotted", "fern.street@clinic.test", "fern.street+" + tok + "@clinic.test"},
		{"already tagged", "desk+bands@clinic.test", "desk+bands+" + tok + "@clinic.test"},
		{"local part of 24, the longest", strings.Repeat("n", 24) + "@clinic.test", strings.Repeat("n", 24) + "+" + tok + "@clinic.test"},
		{"local part of 25", strings.Repeat("n", 25) + "@clinic.test", ""},
		{"domain of 255", "n@" + strings.Repeat("d", 255), "n+" + tok + "@" + strings.Repeat("d", 255)},
		{"domain of 256", "n@" + strings.Repeat("d", 256), ""},
		{"no at", "bands", ""},
		{"no local part", "@clinic.test", ""},
		{"no domain", "bands@", ""},
		{"display name", "Fern <bands@clinic.test>", ""},
		{"parameter smuggled", "bands@clinic.test> NOTIFY=NEVER", ""},
		{"line break", "bands@clinic.test\r\nBcc: x@y.test", ""},
		{"quoted", `"a b"@clinic.test`, ""},
		{"two at", "a@b@clinic.test", ""},
		{"dot first", ".bands@clinic.test", ""},
		{"dot last", "bands.@clinic.test", ""},
		{"two dots", "ba..nds@clinic.test", ""},
		{"not ASCII", "dürer@clinic.test", ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := Address(tc.base, tok)
			if got != tc.want || (err == nil) != (tc.want != "") {
				t.Fatalf("got %q, %v; want %q", got, err, tc.want)
			}
			if err != nil {
				return
			}
			// The standard library's address parser is the outside judge.
			if a, err := mail.ParseAddress(got); err != nil || a.Address != got {
				t.Errorf("net/mail reads %v, %v", a, err)
			}
			if found, ok := Find(got); !ok || found != tok {
				t.Errorf("Find = %q, %v", found, ok)
			}
		})
	}
	if _, err := Address("bands@clinic.test", tok[1:]); err == nil {
		t.Error("a broken token was put into an address")
	}
	if got, err := Address("bands@clinic.test", strings.ToUpper(tok)); err != nil || got != "bands+"+tok+"@clinic.test" {
		t.Errorf("upper case: %q, %v", got, err)
	}
}

func TestFind(t *testing.T) {
	tok := sample(t)
	other, err := Make(key, "nudge/2")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ name, in, want string }{
		{"address", "bands+" + tok + "@clinic.test", tok},
		{"in angle brackets", "Fern Street <bands+" + tok + "@clinic.test>", tok},
		{"folded to upper case", "BANDS+" + strings.ToUpper(tok) + "@CLINIC.TEST", tok},
		{"second tag", "desk+bands+" + tok + "@clinic.test", tok},
		{"subject", "Re: After lunch [ref " + tok + "]", tok},
		{"subject folded", "Re: After lunch [ref\r\n " + tok + "]", tok},
		{"body line", "YES\r\n\r\nRef: " + tok + "\r\n", tok},
		{"quoted body line", "> Ref: " + tok, tok},
		{"body line without blank", "Ref:" + tok, tok},
		{"upper case word", "REF " + tok, tok},
		{"first of two", "[ref " + tok + "] +" + other + "@", tok},
		{"first is broken", "[ref " + flip(tok, 3)[:38] + "b] +" + other + "@", other},
		{"bare word", "see " + tok, ""},
		{"other word before", "xref " + tok, ""},
		{"ref glued on", "ref" + tok, ""},
		{"ref far away", "ref" + strings.Repeat(" ", 40) + tok, ""},
		{"one short", "+" + tok[1:] + "@", ""},
		{"one long", "+" + tok + "a@", ""},
		{"digit glued on", "+" + tok + "9@", ""},
		{"ordinary plus address", "ana+lists@patients.test", ""},
		{"empty", "", ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, ok := Find(tc.in)
			if got != tc.want || ok != (tc.want != "") {
				t.Errorf("got %q, %v; want %q", got, ok, tc.want)
			}
		})
	}
}

func FuzzFind(f *testing.F) {
	tok := sample(f)
	for _, s := range []string{"bands+" + tok + "@clinic.test", "[ref " + tok + "]", "Ref: " + tok, tok, "+", "ref ", "", strings.Repeat("ref ", 40)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, ok := Find(s)
		if !ok {
			if got != "" {
				t.Error("a token without a find")
			}
			// A token set in front is found whatever follows, unless it runs on.
			if s == "" || !isAlnum(s[0]) {
				if lead, ok := Find("+" + tok + s); !ok || lead != tok {
					t.Error("a leading token was lost")
				}
			}
			return
		}
		if _, err := Selector(got); err != nil {
			t.Errorf("found something that is no token: %v", err)
		}
		if !strings.Contains(strings.ToLower(s), got) {
			t.Error("found what was not there")
		}
	})
}
