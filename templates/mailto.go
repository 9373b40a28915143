package templates

import "strings"

// Mailto returns a mailto URI (RFC 6068) that opens a new message to one
// address. Whatever is not unreserved in RFC 3986 section 2.3 is
// percent-encoded as UTF-8, a blank as %20 and never as a plus sign, and a plus
// sign as %2B, for readers that take it for a blank. Line ends of the body
// become %0D%0A as RFC 6068 section 5 asks; in to and subject they are left
// out. An empty subject or body is left out.
func Mailto(to, subject, body string) string {
	var b strings.Builder
	b.WriteString("mailto:")
	to = oneLine(to)
	// The last @ parts local from domain; one before it belongs to a quoted
	// local part.
	if at := strings.LastIndexByte(to, '@'); at >= 0 {
		b.WriteString(percent(to[:at]) + "@" + percent(to[at+1:]))
	} else {
		b.WriteString(percent(to))
	}
	sep := "?"
	for _, field := range []struct{ name, value string }{
		{"subject", oneLine(subject)},
		{"body", crlf(body)},
	} {
		if field.value != "" {
			b.WriteString(sep + field.name + "=" + percent(field.value))
			sep = "&"
		}
	}
	return b.String()
}

func percent(s string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := range len(s) {
		c := s[i]
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || strings.IndexByte("-._~", c) >= 0 {
			b.WriteByte(c)
		} else {
			b.Write([]byte{'%', hex[c>>4], hex[c&15]})
		}
	}
	return b.String()
}

var (
	noBreaks = strings.NewReplacer("\r", "", "\n", "", "\x00", "")
	bareLF   = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\x00", "")
)

// oneLine drops what a header field must not hold.
func oneLine(s string) string { return noBreaks.Replace(s) }

// crlf ends every line, however it ended before, with CRLF.
func crlf(s string) string {
	return strings.ReplaceAll(bareLF.Replace(s), "\n", "\r\n")
}
