package token

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var key = []byte("0123456789abcdef")

// RFC 4231 section 4, test cases 1, 2, 3 and 6.
func TestMACAgainstRFC4231(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		key        []byte
		data       string
	}{
		{"case 1", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7", bytes.Repeat([]byte{0x0b}, 20), "Hi There"},
		{"case 2", "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843", []byte("Jefe"), "what do ya want for nothing?"},
		{"case 3", "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe", bytes.Repeat([]byte{0xaa}, 20), strings.Repeat("\xdd", 50)},
		{"case 6", "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54", bytes.Repeat([]byte{0xaa}, 131), "Test Using Larger Than Block-Size Key - Hash Key First"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			// Cut in two, for the parts must run together without a seam.
			half := len(tc.data) / 2
			if got := hex.EncodeToString(mac(tc.key, tc.data[:half], tc.data[half:])); got != tc.want {
				t.Errorf("got %s, want %s", got, tc.want)
			}
		})
	}
}

// RFC 4648 section 10, base32, folded to lower case and without padding.
func TestEncodingAgainstRFC4648(t *testing.T) {
	for in, vector := range map[string]string{
		"": "", "f": "MY======", "fo": "MZXQ====", "foo": "MZXW6===",
		"foob": "MZXW6YQ=", "fooba": "MZXW6YTB", "foobar": "MZXW6YTBOI======",
	} {
		want := strings.ToLower(strings.TrimRight(vector, "="))
		if got := encoding.EncodeToString([]byte(in)); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

// The wanted tokens were computed with Python 3's hmac and base64 modules from
// the layout in the package comment.
func TestMakeAgainstAnotherImplementation(t *testing.T) {
	counting := make([]byte, 32)
	for i := range counting {
		counting[i] = byte(i)
	}
	for _, tc := range []struct {
		key                  []byte
		cause, tok, selector string
	}{
		{key, "nudge/17/band-change/2026-11-25/PCD", "4at2tgkc3tut2ql6mvotmlsvxqrzfqowous52xq", "e027a99942dce93d"},
		{counting, "", "cbwjvtvtwbbblt26bzrv7btwcuyuhcz6ove2mhy", "106c9aceb3b04215"},
	} {
		tok, err := Make(tc.key, tc.cause)
		if err != nil || tok != tc.tok {
			t.Errorf("Make(%q) = %q, %v; want %q", tc.cause, tok, err, tc.tok)
		}
		if sel, err := Selector(tc.tok); err != nil || sel != tc.selector {
			t.Errorf("Selector = %q, %v; want %q", sel, err, tc.selector)
		}
	}
}

func TestShortKey(t *testing.T) {
	tok, err := Make(key, "c")
	if err != nil {
		t.Fatal(err)
	}
	if len(tok) != Length {
		t.Errorf("token of %d characters, want %d", len(tok), Length)
	}
	for _, short := range [][]byte{nil, {}, key[:MinKey-1]} {
		if _, err := Make(short, "c"); !errors.Is(err, ErrShortKey) {
			t.Errorf("a key of %d bytes: %v, want ErrShortKey", len(short), err)
		}
	}
	// A token made with a short key by other means must not verify under it.
	raw := compute(key[:MinKey-1], "c")
	if Verify(key[:MinKey-1], "c", encoding.EncodeToString(raw[:])) {
		t.Error("a short key verified a token")
	}
}

func TestVerify(t *testing.T) {
	tok, err := Make(key, "nudge/1")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name       string
		key        []byte
		cause, tok string
		want       bool
	}{
		{"as made", key, "nudge/1", tok, true},
		{"upper case", key, "nudge/1", strings.ToUpper(tok), true},
		{"mixed case", key, "nudge/1", strings.ToUpper(tok[:7]) + tok[7:], true},
		{"another cause", key, "nudge/2", tok, false},
		{"no cause", key, "", tok, false},
		{"another key", []byte("0123456789abcdeF"), "nudge/1", tok, false},
		{"first character changed", key, "nudge/1", flip(tok, 0), false},
		{"last of the selector changed", key, "nudge/1", flip(tok, 12), false},
		{"middle of the proof changed", key, "nudge/1", flip(tok, 25), false},
		{"one short", key, "nudge/1", tok[:Length-1], false},
		{"one long", key, "nudge/1", tok + "a", false},
		{"empty", key, "nudge/1", "", false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			if got := Verify(tc.key, tc.cause, tc.tok); got != tc.want {
				t.Errorf("got %v, want %v", got, tc.want)
			}
		})
	}
}

func flip(tok string, at int) string {
	b := []byte(tok)
	if b[at] == 'b' {
		b[at] = 'c'
	} else {
		b[at] = 'b'
	}
	return string(b)
}

func TestSelectorRefuses(t *testing.T) {
	tok, err := Make(key, "c")
	if err != nil {
		t.Fatal(err)
	}
	want, err := Selector(tok)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := Selector(strings.ToUpper(tok)); err != nil || got != want {
		t.Errorf("upper case: %q, %v; want %q", got, err, want)
	}
	head := tok[:Length-1]
	for name, bad := range map[string]string{
		"empty":              "",
		"38 characters":      head,
		"40 characters":      tok + "a",
		"padded":             head + "=",
		"a digit 1":          "1" + tok[1:],
		"a digit 8":          "8" + tok[1:],
		"line break inside":  tok[:20] + "\n" + tok[21:],
		"Kelvin sign":        strings.Repeat("a", Length-len("\u212a")) + "\u212a",
		"stray bits, lowest": head + "b",
		"stray bits, all":    head + "h",
	} {
		if sel, err := Selector(bad); err == nil {
			t.Errorf("%s: taken, selector %q", name, sel)
		}
	}
	// The last character holds two bits of the proof; the other three are zero.
	for _, c := range "aiqy" {
		if _, err := Selector(head + string(c)); err != nil {
			t.Errorf("last character %c: %v", c, err)
		}
	}
}

func TestRandomTokensDoNotVerify(t *testing.T) {
	const tries = 100_000
	raw := make([]byte, selectorSize+proofSize)
	for i := range tries {
		if _, err := rand.Read(raw); err != nil {
			t.Fatal(err)
		}
		if i%2 == 1 { // a guesser may well know the selector
			want := compute(key, "c")
			copy(raw, want[:selectorSize])
		}
		if Verify(key, "c", encoding.EncodeToString(raw)) {
			t.Fatalf("random token %d verified", i)
		}
	}
}

func TestTokensDiffer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.String().Draw(t, "a"), rapid.String().Draw(t, "b")
		ta, err := Make(key, a)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Make(key, a)
		if err != nil || again != ta {
			t.Fatalf("a second token of the same cause differs: %v", err)
		}
		if !Verify(key, a, ta) {
			t.Fatal("a token does not verify")
		}
		if a != b && Verify(key, b, ta) {
			t.Fatal("a token verifies for two causes")
		}
	})
}

func FuzzSelector(f *testing.F) {
	tok, err := Make(key, "c")
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{tok, strings.ToUpper(tok), tok[:10], "", strings.Repeat("=", Length), strings.Repeat("a", Length)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		sel, err := Selector(s)
		if err != nil {
			return
		}
		raw, err := decode(s)
		if err != nil {
			t.Fatalf("Selector took what decode refuses: %v", err)
		}
		if encoding.EncodeToString(raw) != strings.ToLower(s) {
			t.Error("two spellings of one token")
		}
		if sel != hex.EncodeToString(raw[:selectorSize]) {
			t.Error("the selector is not the first bytes")
		}
		if Verify(key, "another cause", s) {
			t.Error("a fuzzed token verified")
		}
	})
}

func BenchmarkVerify(b *testing.B) {
	tok, err := Make(key, "nudge/1")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		Verify(key, "nudge/1", tok)
	}
}
