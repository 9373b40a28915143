package store

import (
	"bytes"
	"strings"
)

// maxHeader is how far into a message its Message-ID is looked for, in octets.
// Common practice, no source; no honest header is longer.
const maxHeader = 64 << 10

// messageID is the Message-ID of a raw message without its angle brackets, by
// which an answer names what it answers (RFC 5322 section 3.6.4). It is empty
// where there is none, or none that could stand in a header again: only visible
// ASCII, no second bracket, no longer than a line.
func messageID(raw []byte) string {
	raw = raw[:min(len(raw), maxHeader)]
	for len(raw) > 0 {
		line := raw
		if i := bytes.IndexByte(raw, '\n'); i >= 0 {
			line, raw = raw[:i], raw[i+1:]
			// A folded line goes on with a space or a tab.
			for len(raw) > 0 && (raw[0] == ' ' || raw[0] == '\t') {
				next := raw
				if i := bytes.IndexByte(raw, '\n'); i >= 0 {
					next, raw = raw[:i], raw[i+1:]
				} else {
					raw = nil
				}
				line = bytes.Join([][]byte{bytes.TrimRight(line, "\r"), next}, []byte(" "))
			}
		} else {
			raw = nil
		}
		line = bytes.TrimRight(line, "\r")
		if len(line) == 0 {
			return "" // the end of the header
		}
		name, value, ok := bytes.Cut(line, []byte(":"))
		if !ok || !bytes.EqualFold(bytes.TrimSpace(name), []byte("Message-ID")) {
			continue
		}
		id := strings.TrimSpace(string(value))
		if len(id) < 3 || len(id) > 250 || id[0] != '<' || id[len(id)-1] != '>' {
			return ""
		}
		id = id[1 : len(id)-1]
		for _, c := range []byte(id) {
			if c <= ' ' || c >= 0x7f || c == '<' || c == '>' {
				return ""
			}
		}
		return id
	}
	return ""
}

// validUTF8 makes text storable as text; the raw octets keep what was lost.
func validUTF8(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }
