package reply

import (
	"regexp"
	"strings"
)

// maxStrip bounds the text, quoted lines apart, that is looked at line by
// line; a reply of a person is a hundredth of it.
const maxStrip = 24 << 10

// maxOwn bounds the lines without a mark of quotation in the same way.
const maxOwn = 120

// maxLines bounds the lines of any kind.
const maxLines = 30000

// visible is what is left of a message's text.
type visible struct {
	text string
	// quoted is true when something was taken for a quotation.
	quoted bool
	// cut is true when the text ran over maxStrip.
	cut bool
	// foot is the last paragraph of a quotation that nothing marks and that
	// nothing stands above: an answer written below it cannot be told from it.
	foot string
}

var (
	fence       = regexp.MustCompile(`^\s*[_*=-]{5,}\s*$`)
	tokenLine   = regexp.MustCompile(`(?i)^\W*(ref(erence|erencia)?|code|c[óo]digo|id|token|n[uú]mero)?\W*([a-z2-7]{39,40}|[a-z2-7]{24,38})\W*$`)
	tokenInLine = regexp.MustCompile(`(?i)[[(<]?\b(ref(erence|erencia)?\s*[:#.]?\s*)?[a-z2-7]{39,40}\b[])>]?`)
	tapback     = regexp.MustCompile(`(?is)^\s*(liked|loved|disliked|questioned|emphasized|laughed at|le gust[oó]|le encant[oó]|no le gust[oó]|j'aime|gef[äa]llt)\s*[“"«].*[”"»]\s*$`)
)

// strip takes quotations, copied headers, signatures and device lines off a
// text. nudge is the text of the message answered, when known.
//
// A line of attribution without marked lines under it makes all that follows
// a quotation: mail programs that do not mark put the answer on top. Marked
// lines come out one by one, so that answers between and below them stay.
func strip(s, nudge string) visible {
	s = strings.ReplaceAll(s, "\t", " ")
	all := strings.SplitN(s, "\n", maxLines+1)
	v := visible{}
	if len(all) > maxLines {
		all, v.cut = all[:maxLines], true
	}
	lines := make([]string, 0, 64)
	size, own := 0, 0
	for _, l := range all {
		l = strings.TrimRight(l, " ")
		if !isQuoted(l) {
			size += len(l) + 1
			if l != "" {
				own++
			}
			if size > maxStrip || own > maxOwn {
				v.cut = true
				break
			}
		} else {
			l = clip(l, 300)
		}
		lines = append(lines, l)
	}
	known := nudgeLines(nudge)
	var out []string
	for i := 0; i < len(lines); i++ {
		l := lines[i]
		t := strings.TrimSpace(l)
		short := clip(t, 500)
		if t == "" {
			out = append(out, "")
			continue
		}
		if isQuoted(l) {
			v.quoted = true
			continue
		}
		if known[foldLine(t)] {
			v.quoted = true
			continue
		}
		if n := attribution(lines, i); n > 0 {
			v.quoted = true
			if !marked(lines, i+n) {
				v.foot = lastParagraph(lines[i+n:])
				return v.finish(out)
			}
			i += n - 1
			continue
		}
		if len(t) < 2000 && mailMarks.match("attribution-run", short) {
			v.quoted = true
			return v.finish(out)
		}
		if len(t) < 120 && (mailMarks.match("original", short) || mailMarks.match("forwarded", short)) {
			v.quoted = true
			return v.finish(out)
		}
		if copiedHeader(lines, i) {
			v.quoted = true
			for len(out) > 0 && (out[len(out)-1] == "" || fence.MatchString(out[len(out)-1])) {
				out = out[:len(out)-1]
			}
			return v.finish(out)
		}
		if t == "--" || t == "—" || l == "-- " {
			// The signature runs to the quotation, where an answer below the
			// quotation may follow.
			for i+1 < len(lines) && !isQuoted(lines[i+1]) && attribution(lines, i+1) == 0 && !copiedHeader(lines, i+1) {
				i++
			}
			continue
		}
		if len(t) < 200 && mailMarks.match("device", strings.Trim(short, "*_ ")) {
			continue
		}
		if mailMarks.match("disclaimer", clip(t, 240)) {
			for i+1 < len(lines) && !isQuoted(lines[i+1]) && attribution(lines, i+1) == 0 && !copiedHeader(lines, i+1) {
				i++
			}
			continue
		}
		if tokenLine.MatchString(short) && hasTokenShape(short) {
			continue
		}
		if len(t) < 2000 {
			l = strings.TrimRight(tokenInLine.ReplaceAllStringFunc(l, func(w string) string {
				if hasTokenShape(w) {
					return ""
				}
				return w
			}), " ")
		}
		out = append(out, l)
	}
	return v.finish(out)
}

func (v visible) finish(out []string) visible {
	var b strings.Builder
	blank := 0
	for _, l := range out {
		l = strings.TrimSpace(l)
		if l == "" || fence.MatchString(l) {
			blank++
			continue
		}
		if b.Len() > 0 {
			b.WriteByte('\n')
			if blank > 0 {
				b.WriteByte('\n')
			}
		}
		blank = 0
		b.WriteString(l)
	}
	v.text = b.String()
	return v
}

// nudgeLines are the lines of a sent nudge that are long enough to be known
// again; a bare YES or NO among them is not.
func nudgeLines(nudge string) map[string]bool {
	if nudge == "" {
		return nil
	}
	known := map[string]bool{}
	for _, l := range strings.Split(clip(nudge, maxStrip), "\n") {
		if f := foldLine(l); len(strings.Fields(f)) >= 3 {
			known[f] = true
		}
	}
	return known
}

func foldLine(l string) string { return strings.ToLower(strings.Join(strings.Fields(l), " ")) }

// hasTokenShape asks of a long run of base32 letters what a word does not
// have: a digit, or 39 letters.
func hasTokenShape(s string) bool {
	return strings.ContainsAny(s, "234567") || len(s) >= 39 && !strings.Contains(strings.TrimSpace(s), " ")
}

// clip cuts s to at most n bytes at a rune's edge.
func clip(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && s[n]&0xC0 == 0x80 {
		n--
	}
	return s[:n]
}
