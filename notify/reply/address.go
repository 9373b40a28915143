package reply

import (
	"net/mail"
	"strings"
	"time"
)

// addresses returns the bare addresses in a field's value, in lower case where
// the domain is concerned. It takes what net/mail refuses by looking for words
// with an @ in them.
func addresses(value string) []string {
	if len(value) > maxHeader {
		value = value[:maxHeader]
	}
	var out []string
	if list, err := mail.ParseAddressList(value); err == nil {
		for _, a := range list {
			out = append(out, cleanRunes(a.Address))
		}
		return out
	}
	value = dropComments(value)
	if list, err := mail.ParseAddressList(value); err == nil {
		for _, a := range list {
			out = append(out, cleanRunes(a.Address))
		}
		return out
	}
	for _, w := range strings.FieldsFunc(value, func(r rune) bool { return strings.ContainsRune(" \t,;<>()\"", r) }) {
		if at := strings.IndexByte(w, '@'); at > 0 && at < len(w)-1 {
			out = append(out, cleanRunes(w))
		}
	}
	return out
}

// dropComments takes nested comments out of a structured field (RFC 5322
// 3.2.2), minding quoted strings and escapes.
func dropComments(s string) string {
	var out strings.Builder
	depth, quoted := 0, false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '\\' && i+1 < len(s):
			if depth == 0 {
				out.WriteString(s[i : i+2])
			}
			i++
		case c == '"' && depth == 0:
			quoted = !quoted
			out.WriteByte(c)
		case c == '(' && !quoted:
			depth++
		case c == ')' && !quoted && depth > 0:
			depth--
		case depth == 0:
			out.WriteByte(c)
		}
	}
	return out.String()
}

// messageIDs returns the ids in a field, without their angle brackets.
func messageIDs(value string) []string {
	var out []string
	for {
		i := strings.IndexByte(value, '<')
		if i < 0 {
			break
		}
		j := strings.IndexByte(value[i:], '>')
		if j < 0 {
			break
		}
		id := strings.TrimSpace(value[i+1 : i+j])
		if id != "" && !strings.ContainsAny(id, " \t") {
			out = append(out, cleanRunes(id))
		}
		value = value[i+j+1:]
	}
	return out
}

// headerDate reads a Date field, obsolete forms and all; zero when it cannot.
func headerDate(value string) time.Time {
	value = strings.TrimSpace(value)
	if value == "" || len(value) > 128 {
		return time.Time{}
	}
	if t, err := mail.ParseDate(value); err == nil {
		return t
	}
	if i := strings.IndexByte(value, '('); i > 0 {
		value = strings.TrimSpace(value[:i])
	}
	for _, layout := range []string{
		time.RFC3339, "Mon, 2 Jan 2006 15:04:05 MST", "2 Jan 2006 15:04:05 MST", "Mon, 2 Jan 2006 15:04:05",
		"Mon Jan _2 15:04:05 2006", "Mon, 2 Jan 2006 15:04 -0700", "2006-01-02 15:04:05 -0700",
	} {
		if t, err := time.Parse(layout, value); err == nil {
			return t
		}
	}
	return time.Time{}
}

func envelopeOf(h header) Envelope {
	e := Envelope{Subject: decodeWords(h.get("subject")), Date: headerDate(h.get("date"))}
	if ids := messageIDs(h.get("message-id")); len(ids) > 0 {
		e.MessageID = ids[0]
	}
	e.InReplyTo = messageIDs(h.get("in-reply-to"))
	e.References = messageIDs(h.get("references"))
	if from := addresses(h.get("from")); len(from) > 0 {
		e.From = from[0]
	}
	seen := map[string]bool{}
	for _, name := range []string{"to", "cc", "delivered-to", "x-original-to", "envelope-to"} {
		for _, v := range h.all(name) {
			for _, a := range addresses(v) {
				if !seen[a] && len(e.Recipients) < 50 {
					seen[a] = true
					e.Recipients = append(e.Recipients, a)
				}
			}
		}
	}
	return e
}
