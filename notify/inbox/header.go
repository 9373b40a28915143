package inbox

import (
	"bytes"
	"mime"
	"net/mail"
	"slices"
	"strings"
	"time"
)

// Caps on what is looked at before a message is known to be for us.
const (
	maxHeader = 64 << 10 // octets of header
	maxFields = 1000     // fields of header
	maxValue  = 8 << 10  // octets of one field
)

// head is what the top of a message says about where it belongs. It is read
// here, apart from the reader, because the reader has to be told what was
// asked before it can understand the answer.
type head struct {
	delivered []string  // Delivered-To, X-Original-To, Envelope-To: what our own servers wrote
	addressed []string  // To, Cc: what the sender wrote
	subject   string    // decoded
	inReplyTo []string  // Message-IDs without brackets
	refs      []string  // the same of References, the latest first
	from      string    // From, as written
	path      string    // Return-Path, as written; "<>" is the null path
	date      time.Time // zero: none that can be read
	dated     bool      // there is a Date field
	auto      bool      // Auto-Submitted says other than no (RFC 3834 section 5)
	list      bool      // List-Id, or Precedence bulk, list, junk
	passed    bool      // there is a Received field
	taken     time.Time // of the topmost Received field: when the last server took it in; zero: unknown
	body      int       // where the body begins in the raw message
}

// scan reads the header of a raw message as far as the caps go.
func scan(raw []byte) head {
	h := head{body: len(raw)}
	var name string
	var value []byte
	fields := 0
	flush := func() {
		if name != "" {
			h.field(name, string(value))
		}
		name, value = "", nil
	}
	at := 0
	if bytes.HasPrefix(raw, []byte("From ")) { // an mbox line
		_, at = line(raw, 0)
	}
	for at < len(raw) && at < maxHeader && fields < maxFields {
		l, next := line(raw, at)
		if len(l) == 0 {
			at = next
			break
		}
		at = next
		if l[0] == ' ' || l[0] == '\t' {
			if len(value)+len(l) <= maxValue {
				value = append(value, l...)
			}
			continue
		}
		flush()
		if n, v, ok := bytes.Cut(l, []byte(":")); ok && len(n) < 80 {
			fields++
			name = strings.ToLower(strings.TrimRight(string(n), " \t"))
			value = append(value, v[:min(len(v), maxValue)]...)
		}
	}
	flush()
	h.body = min(at, len(raw))
	slices.Reverse(h.refs)
	return h
}

// line returns the line that starts at at, without its end, and where the next
// one starts.
func line(raw []byte, at int) (l []byte, next int) {
	l = raw[at:]
	if i := bytes.IndexByte(l, '\n'); i >= 0 {
		l, next = l[:i], at+i+1
	} else {
		next = len(raw)
	}
	return bytes.TrimSuffix(l, []byte("\r")), next
}

func (h *head) field(name, value string) {
	value = strings.TrimSpace(value)
	switch name {
	case "delivered-to", "x-original-to", "envelope-to":
		h.delivered = append(h.delivered, value)
	case "to", "cc":
		h.addressed = append(h.addressed, value)
	case "subject":
		h.subject = value
		d := mime.WordDecoder{}
		if s, err := d.DecodeHeader(value); err == nil {
			h.subject = s
		}
	case "in-reply-to":
		h.inReplyTo = append(h.inReplyTo, messageIDs(value)...)
	case "references":
		h.refs = append(h.refs, messageIDs(value)...)
	case "from":
		h.from = value
	case "return-path":
		h.path = value
	case "date":
		h.dated = true
		if t, err := mail.ParseDate(value); err == nil {
			h.date = t
		}
	case "auto-submitted":
		// Real responders add a comment or parameters to the keyword.
		word, _, _ := strings.Cut(strings.ToLower(value), "(")
		word, _, _ = strings.Cut(word, ";")
		h.auto = h.auto || strings.TrimSpace(word) != "no"
	case "list-id":
		h.list = true
	case "precedence":
		switch strings.ToLower(value) {
		case "bulk", "list", "junk":
			h.list = true
		}
	case "received":
		// RFC 5321 section 4.4: the date follows the last semicolon.
		if i := strings.LastIndexByte(value, ';'); i >= 0 && !h.passed {
			if t, err := mail.ParseDate(strings.TrimSpace(value[i+1:])); err == nil {
				h.taken = t
			}
		}
		h.passed = true
	}
}

// messageIDs returns what stands in angle brackets.
func messageIDs(value string) []string {
	var out []string
	for {
		_, rest, ok := strings.Cut(value, "<")
		if !ok {
			return out
		}
		id, rest, ok := strings.Cut(rest, ">")
		if !ok {
			return out
		}
		if id = strings.TrimSpace(id); id != "" && !strings.ContainsAny(id, " \t") {
			out = append(out, id)
		}
		value = rest
	}
}

// undated returns the message without its Date fields.
func undated(raw []byte) []byte {
	out := make([]byte, 0, len(raw))
	drop := false
	at := 0
	for at < len(raw) && at < maxHeader {
		l, next := line(raw, at)
		if len(l) == 0 {
			break
		}
		if l[0] != ' ' && l[0] != '\t' {
			n, _, _ := bytes.Cut(l, []byte(":"))
			drop = strings.EqualFold(strings.TrimRight(string(n), " \t"), "date")
		}
		if !drop {
			out = append(out, raw[at:next]...)
		}
		at = next
	}
	return append(out, raw[at:]...)
}
