package reply

import (
	"bytes"
	"mime"
	"strings"
)

// Caps that hold before anything is parsed.
const (
	maxBytes  = 1 << 20  // of a message; the rest is not looked at
	maxHeader = 64 << 10 // of one header block
	maxDepth  = 20       // of nested parts
	maxParts  = 100      // of a message
	maxField  = 4 << 10  // of one decoded field
)

// field is one header field, unfolded, its name in lower case.
type field struct{ name, value string }

// header is the fields of one block in the order of the message.
type header []field

func (h header) get(name string) string {
	for _, f := range h {
		if f.name == name {
			return f.value
		}
	}
	return ""
}

func (h header) all(name string) []string {
	var out []string
	for _, f := range h {
		if f.name == name {
			out = append(out, f.value)
		}
	}
	return out
}

func (h header) has(name string) bool {
	for _, f := range h {
		if f.name == name {
			return true
		}
	}
	return false
}

// knownFields are names that make a block of "word: text" lines a header and
// not the first lines of somebody's reply.
var knownFields = map[string]bool{
	"from": true, "to": true, "subject": true, "date": true, "received": true, "return-path": true,
	"mime-version": true, "content-type": true, "message-id": true, "delivered-to": true, "sender": true,
	"reply-to": true, "in-reply-to": true, "references": true, "dkim-signature": true, "content-transfer-encoding": true,
	"auto-submitted": true, "precedence": true, "cc": true, "x-mailer": true, "content-disposition": true,
	"content-description": true, "content-id": true, "authentication-results": true, "x-original-to": true,
	"reporting-mta": true, "final-recipient": true, "original-recipient": true, "action": true, "status": true,
	"diagnostic-code": true, "user-agent": true, "thread-topic": true, "x-received": true, "resent-from": true,
}

// splitHeader parts a block of fields from what follows it (RFC 5322 2.2). It
// steps over an mbox "From " line, lines of junk and leading blank lines. top
// is true for a whole message, which may lack a header altogether: then all is
// body. cut is true when the block ran over its cap.
func splitHeader(b []byte, top bool) (h header, body []byte, cut bool) {
	rest := b
	for len(rest) > 0 {
		line, next := nextLine(rest)
		if len(bytes.TrimSpace(line)) == 0 || bytes.HasPrefix(line, []byte("From ")) || bytes.HasPrefix(line, []byte(">From ")) {
			if !top && len(bytes.TrimSpace(line)) == 0 {
				return nil, next, false
			}
			rest = next
			continue
		}
		break
	}
	start := rest
	known, junk, size := false, 0, 0
	var cur *field
	for len(rest) > 0 {
		line, next := nextLine(rest)
		if len(bytes.TrimSpace(line)) == 0 {
			rest = next
			break
		}
		size += len(rest) - len(next)
		if size > maxHeader {
			cut = true
			rest = next
			continue
		}
		if line[0] == ' ' || line[0] == '\t' {
			if cur != nil && len(cur.value) < maxHeader {
				cur.value += " " + strings.TrimSpace(string(line))
			}
			rest = next
			continue
		}
		name, value, ok := cutField(line)
		if !ok {
			// A junk line: skipped when fields go on behind it, else the
			// blank line before the body is missing and this is the body.
			junk++
			after, _ := nextLine(next)
			if _, _, more := cutField(after); junk > 20 || !(more || len(bytes.TrimSpace(after)) == 0 && !known) {
				if known {
					break
				}
			}
			if !known && junk > 2 {
				break
			}
			cur = nil
			rest = next
			continue
		}
		if knownFields[name] || strings.HasPrefix(name, "x-") || strings.HasPrefix(name, "arc-") || strings.HasPrefix(name, "list-") {
			known = true
		}
		h = append(h, field{name, value})
		cur = &h[len(h)-1]
		rest = next
	}
	if !known {
		if top {
			return nil, start, false
		}
		if len(h) > 0 && junk == 0 {
			return h, rest, cut
		}
		return nil, start, false
	}
	return h, rest, cut
}

func cutField(line []byte) (name, value string, ok bool) {
	i := bytes.IndexByte(line, ':')
	if i <= 0 || i > 76 {
		return "", "", false
	}
	n := bytes.TrimRight(line[:i], " \t")
	for _, c := range n {
		if c <= ' ' || c >= 0x7f {
			return "", "", false
		}
	}
	if len(n) == 0 {
		return "", "", false
	}
	return strings.ToLower(string(n)), strings.TrimSpace(string(line[i+1:])), true
}

// nextLine returns the first line without its end, and what follows. Lines end
// in CRLF, LF or a bare CR.
func nextLine(b []byte) (line, rest []byte) {
	i := bytes.IndexAny(b, "\r\n")
	if i < 0 {
		return b, nil
	}
	if b[i] == '\r' && i+1 < len(b) && b[i+1] == '\n' {
		return b[:i], b[i+2:]
	}
	return b[:i], b[i+1:]
}

// words decodes encoded-words (RFC 2047) and raw eight-bit text, and takes out
// control characters, so that a decoded line break can do no harm.
func decodeWords(s string) string {
	if len(s) > maxField {
		s = s[:maxField]
	}
	d := mime.WordDecoder{CharsetReader: charsetReader}
	out, err := d.DecodeHeader(s)
	if err != nil {
		out = s
	}
	return oneLine(toUTF8([]byte(out), ""))
}

// oneLine makes s safe to show on one line: no control characters, no runs of
// blanks.
func oneLine(s string) string {
	return strings.Join(strings.Fields(cleanRunes(s)), " ")
}
