package reply

import (
	"bytes"
	"encoding/base64"
	"strings"
)

// decodeTransfer undoes a Content-Transfer-Encoding (RFC 2045 section 6) and
// forgives what damaged mail shows: a misspelt name, a missing label, stray
// characters, missing padding. ok is false when so much was wrong that the
// text cannot be trusted.
func decodeTransfer(b []byte, encoding string) (out []byte, ok bool) {
	enc := strings.ToLower(strings.Trim(strings.TrimSpace(encoding), `"';`))
	if i := strings.IndexAny(enc, " ;("); i > 0 {
		enc = enc[:i]
	}
	switch {
	case strings.HasPrefix(enc, "quoted"), enc == "qp":
		return decodeQuoted(b), true
	case strings.HasPrefix(enc, "base64"), enc == "b64", enc == "base-64":
		return decodeBase64(b)
	}
	if looksBase64(b) {
		if out, ok := decodeBase64(b); ok && mostlyText(out) {
			return out, true
		}
	}
	if looksQuoted(b) {
		return decodeQuoted(b), true
	}
	return b, true
}

// looksQuoted is true of text that nobody types: several =XX octets, or a line
// ended by a soft break beside one.
func looksQuoted(b []byte) bool {
	octets, soft := 0, 0
	for i := 0; i < len(b); i++ {
		if b[i] != '=' {
			continue
		}
		if i+2 < len(b) && isHex(b[i+1]) && isHex(b[i+2]) {
			octets++
		} else if i+1 < len(b) && (b[i+1] == '\n' || b[i+1] == '\r') {
			soft++
		}
	}
	return octets >= 2 || octets >= 1 && soft >= 1
}

// looksBase64 is true of a body that is one block of base64 of some length.
func looksBase64(b []byte) bool {
	n := 0
	for _, c := range bytes.TrimSpace(b) {
		switch {
		case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '+', c == '/', c == '=':
			n++
		case c == '\r', c == '\n':
		default:
			return false
		}
	}
	return n >= 16 && n%4 == 0
}

func mostlyText(b []byte) bool {
	bad := 0
	for _, c := range b {
		if c < 0x20 && c != '\n' && c != '\r' && c != '\t' {
			bad++
		}
	}
	return bad*50 <= len(b)
}

func isHex(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'A' && c <= 'F' || c >= 'a' && c <= 'f'
}

func unhex(c byte) byte {
	switch {
	case c >= 'a':
		return c - 'a' + 10
	case c >= 'A':
		return c - 'A' + 10
	}
	return c - '0'
}

// decodeQuoted undoes quoted-printable; an "=" that starts nothing stays.
func decodeQuoted(b []byte) []byte {
	out := make([]byte, 0, len(b))
	for i := 0; i < len(b); i++ {
		c := b[i]
		if c != '=' {
			out = append(out, c)
			continue
		}
		if i+2 < len(b) && isHex(b[i+1]) && isHex(b[i+2]) {
			out = append(out, unhex(b[i+1])<<4|unhex(b[i+2]))
			i += 2
			continue
		}
		// A soft break, with the blanks that a relay may have hung on it.
		j := i + 1
		for j < len(b) && (b[j] == ' ' || b[j] == '\t') {
			j++
		}
		switch {
		case j == len(b):
			i = j
		case b[j] == '\r' && j+1 < len(b) && b[j+1] == '\n':
			i = j + 1
		case b[j] == '\r' || b[j] == '\n':
			i = j
		default:
			out = append(out, '=')
		}
	}
	return out
}

// decodeBase64 decodes four characters at a time and goes on behind padding,
// so that joined blocks and a lost tail cost no more than themselves.
func decodeBase64(b []byte) ([]byte, bool) {
	out := make([]byte, 0, len(b)*3/4)
	var quad [4]byte
	n, stray, used := 0, 0, 0
	flush := func() {
		if n < 2 {
			n = 0
			return
		}
		for k := n; k < 4; k++ {
			quad[k] = '='
		}
		var buf [3]byte
		if m, err := base64.StdEncoding.Decode(buf[:], quad[:]); err == nil {
			out = append(out, buf[:m]...)
		}
		n = 0
	}
	for _, c := range b {
		switch {
		case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '+', c == '/':
			quad[n] = c
			n++
			used++
			if n == 4 {
				flush()
			}
		case c == '=':
			flush()
		case c == '\r', c == '\n', c == ' ', c == '\t':
		default:
			stray++
		}
	}
	flush()
	return out, stray*20 <= used
}
