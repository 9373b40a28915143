package reply

import (
	"bytes"
	"encoding/base64"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/unicode/utf32"
	"golang.org/x/text/unicode/norm"
)

// toUTF8 turns bytes of a declared charset into text, and does not believe a
// label against the bytes: valid UTF-8 with letters beyond ASCII is UTF-8
// whatever a Latin label says, and invalid "UTF-8" is Windows-1252, the usual
// culprit.
func toUTF8(b []byte, label string) string {
	s, _ := decodeCharset(b, label)
	return s
}

// decodeCharset is toUTF8 that also tells whether the label was understood or
// the bytes spoke for themselves.
func decodeCharset(b []byte, label string) (string, bool) {
	label = strings.ToLower(strings.Trim(strings.TrimSpace(label), `"'`))
	switch {
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		b, label = b[3:], "utf-8"
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE, 0, 0}), bytes.HasPrefix(b, []byte{0, 0, 0xFE, 0xFF}):
		if out, err := utf32.UTF32(utf32.LittleEndian, utf32.UseBOM).NewDecoder().Bytes(b); err == nil {
			return string(out), true
		}
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}):
		label = "utf-16le"
	case bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		label = "utf-16be"
	}
	ascii := true
	for _, c := range b {
		if c >= 0x80 || c == 0x1b {
			ascii = false
			break
		}
	}
	switch label {
	case "utf-7", "unicode-1-1-utf-7":
		return decodeUTF7(b), true
	case "", "utf-8", "utf8", "us-ascii", "ascii", "unknown-8bit", "x-unknown", "default", "7bit", "8bit":
		if utf8.Valid(b) {
			return repairDoubled(string(b)), true
		}
		return windows1252(b), true
	case "iso-8859-1", "latin1", "windows-1252", "cp1252", "iso-8859-15", "iso8859-1", "ansi_x3.4-1968":
		if !ascii && utf8.Valid(b) {
			return string(b), true
		}
		if label == "iso-8859-15" {
			return decodeWith(charmap.ISO8859_15, b), true
		}
		return windows1252(b), true
	}
	enc, err := htmlindex.Get(strings.ReplaceAll(label, "_", "-"))
	if err != nil {
		enc, err = htmlindex.Get(label)
	}
	if err != nil {
		if utf8.Valid(b) {
			return string(b), ascii
		}
		return windows1252(b), false
	}
	out, err := enc.NewDecoder().Bytes(b)
	if err != nil {
		return windows1252(b), false
	}
	if bytes.Count(out, []byte("\uFFFD")) > 2 && utf8.Valid(b) {
		return string(b), true
	}
	return string(out), true
}

func decodeWith(m *charmap.Charmap, b []byte) string {
	out, err := m.NewDecoder().Bytes(b)
	if err != nil {
		return string(b)
	}
	return string(out)
}

func windows1252(b []byte) string { return decodeWith(charmap.Windows1252, b) }

// repairDoubled undoes UTF-8 that was once read as Windows-1252 and written as
// UTF-8 again ("sÃ­"), when all of it fits that history.
func repairDoubled(s string) string {
	if !strings.ContainsAny(s, "ÃÂâð") {
		return s
	}
	raw, err := charmap.Windows1252.NewEncoder().String(s)
	if err != nil || !utf8.ValidString(raw) || raw == s {
		return s
	}
	return raw
}

// decodeUTF7 reads RFC 2152; text that is not in a shift stays as it is.
func decodeUTF7(b []byte) string {
	var out strings.Builder
	for i := 0; i < len(b); i++ {
		if b[i] != '+' {
			out.WriteByte(b[i])
			continue
		}
		j := i + 1
		for j < len(b) && (b[j] >= 'A' && b[j] <= 'Z' || b[j] >= 'a' && b[j] <= 'z' || b[j] >= '0' && b[j] <= '9' || b[j] == '+' || b[j] == '/') {
			j++
		}
		if j == i+1 {
			out.WriteByte('+')
			if j < len(b) && b[j] == '-' {
				i = j
			}
			continue
		}
		raw := b[i+1 : j]
		if dec, err := base64.RawStdEncoding.DecodeString(string(raw)); err == nil || len(dec) >= 2 {
			for k := 0; k+1 < len(dec); k += 2 {
				r := rune(dec[k])<<8 | rune(dec[k+1])
				if r >= 0xD800 && r < 0xDC00 && k+3 < len(dec) {
					lo := rune(dec[k+2])<<8 | rune(dec[k+3])
					r = (r-0xD800)<<10 + (lo - 0xDC00) + 0x10000
					k += 2
				}
				out.WriteRune(r)
			}
		}
		if j < len(b) && b[j] == '-' {
			j++
		}
		i = j - 1
	}
	return out.String()
}

func charsetReader(label string, r io.Reader) (io.Reader, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxField))
	if err != nil {
		return nil, err
	}
	return strings.NewReader(toUTF8(b, label)), nil
}

// cleanRunes drops what must not reach a page or a log: control characters but
// tab and line feed, direction overrides, zero-width marks; and composes
// letters (NFC).
func cleanRunes(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if c := s[i]; c >= 0x7f || c < 0x20 && c != '\n' && c != '\t' {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case r == '\u00a0', r == '\u202f', r >= '\u2000' && r <= '\u200a', r == '\u3000':
			return ' '
		case r == '\u2028' || r == '\u2029' || r == '\v' || r == '\f':
			return '\n'
		case r == '\u00ad', r == '\ufeff', r >= '\u200b' && r <= '\u200f' && r != '\u200d',
			r >= '\u202a' && r <= '\u202e', r >= '\u2060' && r <= '\u2069', unicode.IsControl(r):
			return -1
		}
		return r
	}, s)
	return norm.NFC.String(s)
}
