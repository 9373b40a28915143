package notify

import (
	"fmt"
	"net/mail"
	"strings"
)

// maxWord is the longest encoded-word we write. RFC 2047 section 2 allows 75,
// but then the first one and its field name do not fit a line, and the library
// that folds would give up folding the whole field.
const maxWord = 64

// unstructured is a text as it stands in a field like Subject: as it is where
// it is printable ASCII, else in encoded-words.
func unstructured(s string) string {
	if bare(s) {
		return s
	}
	return encode(s)
}

// phrase is a display name with the blank that parts it from the address; no
// name is nothing.
func phrase(name string) string {
	switch {
	case name == "":
		return ""
	case bare(name):
		return strings.TrimSuffix((&mail.Address{Name: name, Address: "a@b"}).String(), "<a@b>")
	}
	return encode(name) + " "
}

// bare reports whether a text can stand as it is: printable ASCII without
// blanks that folding would change, words that fit a line, and nothing a reader
// would decode.
func bare(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	for _, word := range strings.Split(s, " ") {
		if word == "" && s != "" || len(word) > maxWord {
			return false
		}
	}
	return !strings.Contains(s, "=?")
}

// encode cuts a text into encoded-words of the Q encoding (RFC 2047 section
// 4.2), each of whole characters (section 5), parted by blanks that a reader
// drops (section 6.2).
func encode(s string) string {
	const open, shut = "=?utf-8?Q?", "?="
	var words []string
	word := ""
	for _, r := range s {
		q := quoted(string(r))
		if len(open)+len(word)+len(q)+len(shut) > maxWord {
			words = append(words, open+word+shut)
			word = ""
		}
		word += q
	}
	if word != "" {
		words = append(words, open+word+shut)
	}
	return strings.Join(words, " ")
}

// quoted writes one character. Only what may stand bare in a phrase does
// (section 5, rule 3), so that the same form serves names and subjects.
func quoted(s string) string {
	var b strings.Builder
	for i := range len(s) {
		switch c := s[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', strings.IndexByte("!*+-/", c) >= 0:
			b.WriteByte(c)
		case c == ' ':
			b.WriteByte('_')
		default:
			fmt.Fprintf(&b, "=%02X", c)
		}
	}
	return b.String()
}
