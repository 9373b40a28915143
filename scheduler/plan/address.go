package plan

import (
	"fmt"
	"net/mail"
	"strings"
	"unicode"
)

// Address is a bare e-mail address, local@domain.
type Address string

// Limits of RFC 5321 section 4.5.3.1, in octets.
const (
	maxLocal  = 64
	maxDomain = 255
	maxPath   = 254 // a path of 256 with its angle brackets
)

// ParseAddress reads a bare addr-spec (RFC 5322 section 3.4.1) and refuses what
// could become a second command or header: control characters, angle brackets,
// spaces, comments, display names, quoted local parts, domain literals, and marks
// that turn the direction of text and so show an address as another. The domain
// comes back in lower case.
func ParseAddress(s string) (Address, error) {
	bad := func(why string) (Address, error) {
		return "", fmt.Errorf("not an e-mail address: %s; write it as name@example.org", why)
	}
	s = strings.TrimSpace(s)
	local, domain, ok := cutLast(s, '@')
	if ok { // before anything is measured: lower case may be longer in UTF-8
		domain = strings.ToLower(domain)
		s = local + "@" + domain
	}
	switch {
	case s == "":
		return bad("it is empty")
	case !ok || local == "" || domain == "":
		return bad("it needs one @ with something on both sides")
	case len(local) > maxLocal:
		return bad(fmt.Sprintf("the part before @ is longer than %d octets (RFC 5321)", maxLocal))
	case len(domain) > maxDomain || len(s) > maxPath:
		return bad(fmt.Sprintf("it is longer than %d octets (RFC 5321)", maxPath))
	}
	for _, r := range s {
		if unicode.IsControl(r) || unicode.IsSpace(r) || strings.ContainsRune(`<>()[]\,;:"`, r) ||
			unicode.Is(unicode.Bidi_Control, r) || r == unicode.ReplacementChar {
			return bad(fmt.Sprintf("%q cannot stand in it", r))
		}
	}
	if strings.Contains(local, "@") || strings.HasPrefix(local, ".") || strings.HasSuffix(local, ".") || strings.Contains(local, "..") {
		return bad("the part before @ is malformed")
	}
	for _, label := range strings.Split(domain, ".") {
		if label == "" || len(label) > 63 || strings.HasPrefix(label, "-") || strings.HasSuffix(label, "-") {
			return bad("the domain is malformed")
		}
		for _, r := range label {
			if r != '-' && !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) {
				return bad(fmt.Sprintf("%q cannot stand in the domain", r))
			}
		}
	}
	if a, err := mail.ParseAddress("<" + s + ">"); err != nil || a.Address != s {
		return bad("the part before @ is malformed")
	}
	return Address(s), nil
}

func cutLast(s string, sep byte) (before, after string, ok bool) {
	if i := strings.LastIndexByte(s, sep); i >= 0 {
		return s[:i], s[i+1:], true
	}
	return s, "", false
}

// Local is the part before the @.
func (a Address) Local() string { l, _, _ := cutLast(string(a), '@'); return l }

// Domain is the part after the @.
func (a Address) Domain() string { _, d, _ := cutLast(string(a), '@'); return d }

// ASCII reports whether the address can be sent without SMTPUTF8 (RFC 6531).
func (a Address) ASCII() bool {
	for i := range len(a) {
		if a[i] >= 0x80 {
			return false
		}
	}
	return true
}
