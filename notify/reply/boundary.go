package reply

import (
	"bytes"
	"strings"
)

// splitParts cuts a multipart body at its delimiter lines (RFC 2046 5.1.1). A
// boundary that is missing or occurs nowhere is replaced by the first line that
// looks like one; a missing close is no fault. Nil when there is none at all.
func splitParts(b []byte, boundary string) [][]byte {
	delim := []byte("--" + boundary)
	if boundary == "" || !(bytes.HasPrefix(b, delim) || bytes.Contains(b, append([]byte("\n"), delim...)) || bytes.Contains(b, append([]byte("\r"), delim...))) {
		delim = sniffBoundary(b)
		if delim == nil {
			return nil
		}
	}
	var out [][]byte
	rest, start := b, -1
	for pos := 0; len(rest) > 0; {
		line, next := nextLine(rest)
		width := len(rest) - len(next)
		if bytes.HasPrefix(line, delim) {
			tail := bytes.TrimRight(line[len(delim):], " \t")
			if len(tail) == 0 || bytes.Equal(tail, []byte("--")) {
				if start >= 0 {
					out = append(out, b[start:pos])
				}
				if len(tail) == 2 {
					return out
				}
				start = pos + width
				if len(out) > maxParts {
					return out
				}
			}
		}
		pos += width
		rest = next
	}
	if start >= 0 && start <= len(b) {
		out = append(out, b[start:])
	}
	return out
}

// sniffBoundary finds the first line that starts with "--" and is followed by
// a field of a part's header.
func sniffBoundary(b []byte) []byte {
	rest := b
	for n := 0; len(rest) > 0 && n < 200; n++ {
		line, next := nextLine(rest)
		if len(line) > 3 && bytes.HasPrefix(line, []byte("--")) {
			after, _ := nextLine(next)
			if name, _, ok := cutField(after); ok && strings.HasPrefix(name, "content-") {
				return bytes.TrimRight(line, " \t")
			}
		}
		rest = next
	}
	return nil
}
