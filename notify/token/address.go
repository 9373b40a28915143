package token

import (
	"errors"
	"fmt"
	"strings"
)

// Limits of a mailbox: RFC 5321 sections 4.5.3.1.1 and 4.5.3.1.2, in octets.
const (
	maxLocal  = 64
	maxDomain = 255
)

// Address puts a token into a mailbox address as its subaddress (RFC 5233):
// local@domain becomes local+TOKEN@domain. The base must be a plain ASCII
// address without quotes or display name; the errors name what is wrong
// without repeating it.
func Address(base, tok string) (string, error) {
	if _, err := decode(tok); err != nil {
		return "", err
	}
	at := strings.LastIndexByte(base, '@')
	if at < 0 {
		return "", errors.New("reply address has no @")
	}
	local, domain := base[:at], base[at+1:]
	switch {
	case local == "":
		return "", errors.New("reply address has nothing before the @")
	case domain == "":
		return "", errors.New("reply address has nothing after the @")
	case !plain(local, atext) || strings.HasPrefix(local, ".") || strings.HasSuffix(local, ".") || strings.Contains(local, ".."):
		return "", errors.New("reply address: the part before the @ is not a plain local part")
	case !plain(domain, "-.[]:"):
		return "", errors.New("reply address: the part after the @ is not a plain domain")
	case len(domain) > maxDomain:
		return "", fmt.Errorf("reply address: domain of %d octets, at most %d are allowed", len(domain), maxDomain)
	}
	full := local + "+" + strings.ToLower(tok)
	if len(full) > maxLocal {
		return "", fmt.Errorf("reply address: the part before the @ has %d octets and the token adds %d, at most %d are allowed",
			len(local), Length+1, maxLocal)
	}
	return full + "@" + domain, nil
}

// atext is what RFC 5322 section 3.2.3 allows in a dot-atom beside letters and
// digits, and the dot.
const atext = "!#$%&'*+-/=?^_`{|}~."

func plain(s, extra string) bool {
	for i := range len(s) {
		c := s[i]
		if !isAlnum(c) && strings.IndexByte(extra, c) < 0 {
			return false
		}
	}
	return true
}

// Find looks for a token in an address, a subject or a body. It takes one that
// follows a plus sign, as in local+TOKEN@domain, or the word ref, as in
// "[ref TOKEN]" and "Ref: TOKEN"; any other word of the right length is left
// alone. The first one found is returned in lower case. A find is a guess to
// be proved with Verify.
func Find(s string) (tok string, ok bool) {
	for i := 0; i < len(s); {
		if !isAlnum(s[i]) {
			i++
			continue
		}
		start := i
		for i < len(s) && isAlnum(s[i]) {
			i++
		}
		if i-start != Length || !introduced(s[:start]) {
			continue
		}
		if _, err := decode(s[start:i]); err == nil {
			return strings.ToLower(s[start:i]), true
		}
	}
	return "", false
}

// introduced reports whether the text before a candidate ends in a plus sign
// or in the word ref. Headers are folded and bodies wrapped, so any white space
// and colon may stand between; the bound keeps a body of blanks linear.
func introduced(before string) bool {
	if strings.HasSuffix(before, "+") {
		return true
	}
	const window = 16
	if len(before) > window {
		before = before[len(before)-window:]
	}
	trimmed := strings.TrimRight(before, " \t\r\n:")
	if len(trimmed) == len(before) || len(trimmed) < 3 {
		return false
	}
	word := len(trimmed) - 3
	return strings.EqualFold(trimmed[word:], "ref") && (word == 0 || !isAlnum(trimmed[word-1]))
}

func isAlnum(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9'
}
