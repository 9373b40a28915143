package reply

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// maxWords bounds the words that are looked at; more is a letter, and a person
// reads it.
const maxWords = 2500

// Breaks between words, by what a phrase may run across.
const (
	joined   = iota // nothing, or a mark that joins
	soft            // a comma, a bracket, a wrapped line
	sentence        // a full stop, a question mark, a new line
)

// word is one word, number or emoji of the text.
type word struct {
	// s is folded: lower case, no accents, no apostrophe, no drawn-out
	// letters. raw keeps the accents.
	s, raw string
	// start and end are byte offsets into the text.
	start, end int
	// brk is the break before the word, sep the characters of it.
	brk int
	sep string
	// num is the value of a figure or number word; isNum says there is one,
	// digits that it was written in figures.
	num           float64
	isNum, digits bool
	// clock is a written time: hour and minute.
	clock  bool
	hh, mm int
	// ofTen is true of "6/10"; num holds the 6.
	ofTen bool
	// half is "a" or "p" when am or pm is written behind the figure.
	half string
	// date is true of "3/14" and the like, junk of a telephone number.
	date, junk bool
	emoji      bool
	upper      bool // begins with a capital
}

// splitWords cuts a text into words.
func splitWords(text string) (ws []word, tail string, cut bool) {
	i, sepStart := 0, 0
	add := func(w word) {
		w.sep = text[sepStart:w.start]
		w.brk = breakOf(w.sep, text, sepStart)
		if len(ws) == 0 {
			w.brk = sentence
		}
		ws = append(ws, w)
		sepStart = w.end
	}
	for i < len(text) {
		if len(ws) >= maxWords {
			return ws, text[sepStart:], true
		}
		r, n := utf8.DecodeRuneInString(text[i:])
		switch {
		case r >= '0' && r <= '9':
			w, next := figure(text, i)
			add(w)
			i = next
			if k, half := halfDay(text, i); k > 0 && (w.isNum || w.clock) {
				ws[len(ws)-1].half = half
				ws[len(ws)-1].end = k
				i, sepStart = k, k
			}
		case r == '½' || r == '¼' || r == '¾':
			v := map[rune]float64{'½': .5, '¼': .25, '¾': .75}[r]
			if len(ws) > 0 && ws[len(ws)-1].end == i && ws[len(ws)-1].digits {
				ws[len(ws)-1].num += v
				ws[len(ws)-1].end = i + n
				sepStart = i + n
			} else {
				add(word{s: "half", raw: string(r), start: i, end: i + n, num: v, isNum: true})
			}
			i += n
		case unicode.IsLetter(r):
			j := i
			for j < len(text) {
				r, n := utf8.DecodeRuneInString(text[j:])
				if unicode.IsLetter(r) || unicode.IsMark(r) || r >= '0' && r <= '9' && j > i {
					j += n
					continue
				}
				if (r == '\'' || r == '’' || r == '‘' || r == '`' || r == '´') && j+n < len(text) {
					if q, _ := utf8.DecodeRuneInString(text[j+n:]); unicode.IsLetter(q) {
						j += n
						continue
					}
				}
				break
			}
			for _, w := range letters(text, i, j) {
				if len(ws) > 0 && w.start == ws[len(ws)-1].end {
					sepStart = w.start
				}
				add(w)
			}
			i = j
		case isEmoji(r):
			if len(ws) > 0 && ws[len(ws)-1].emoji && ws[len(ws)-1].s == string(r) {
				ws[len(ws)-1].end = i + n
				sepStart = i + n
			} else {
				add(word{s: string(r), raw: string(r), start: i, end: i + n, emoji: true})
			}
			i += n
		default:
			i += n
		}
	}
	return ws, text[sepStart:], false
}

// breakOf says how strongly sep parts what stands on its two sides.
func breakOf(sep, text string, at int) int {
	if strings.ContainsAny(sep, ".!?;…¡¿•") || strings.Contains(sep, "\n\n") {
		return sentence
	}
	if i := strings.IndexByte(sep, '\n'); i >= 0 {
		// A long line that ended without a stop was wrapped by a program.
		from := strings.LastIndexByte(text[:at], '\n') + 1
		if at-from >= 58 {
			return joined
		}
		return sentence
	}
	if strings.ContainsAny(sep, ",()[]—–:|~*") || strings.Contains(sep, " - ") || strings.Contains(sep, "--") {
		return soft
	}
	return joined
}

// letters turns one written word into one or two words: "I'll" is "i will".
func letters(text string, i, j int) []word {
	src := text[i:j]
	raw := strings.ToLower(src)
	raw = strings.Map(func(r rune) rune {
		switch r {
		case '’', '‘', '`', '´':
			return '\''
		}
		return r
	}, raw)
	first, _ := utf8.DecodeRuneInString(src)
	up := unicode.IsUpper(first)
	if k := strings.LastIndexByte(raw, '\''); k > 0 {
		head, tail := raw[:k], raw[k+1:]
		full := map[string]string{"ll": "will", "re": "are", "m": "am", "ve": "have", "d": "would", "s": "s"}[tail]
		if full != "" {
			mid := i + len(src) - len(tail)
			if tail == "s" {
				w := mkWord(head, i, j, up)
				return []word{w}
			}
			return []word{mkWord(head, i, mid, up), mkWord(full, mid, j, false)}
		}
		if elided[head] {
			// "n'arrive" is two words.
			mid := i + len(src) - len(tail)
			return []word{mkWord(head, i, mid, up), mkWord(tail, mid, j, false)}
		}
		raw = strings.ReplaceAll(raw, "'", "")
	}
	if two, ok := contracted[raw]; ok {
		// "im", "theyre": the apostrophe is only left out.
		mid := j - 1
		return []word{mkWord(two[0], i, mid, up), mkWord(two[1], mid, j, false)}
	}
	// a.m. and p.m. are put together by the figures before them.
	return []word{mkWord(raw, i, j, up)}
}

// contracted are two words written as one; text and vocabularies are both read
// with them apart.
var contracted = map[string][2]string{
	"im": {"i", "am"}, "iam": {"i", "am"}, "ive": {"i", "have"}, "theyre": {"they", "are"}, "theyve": {"they", "have"},
	"youre": {"you", "are"}, "weve": {"we", "have"}, "youve": {"you", "have"},
}

// elided are the short French words that lose their vowel before another.
var elided = map[string]bool{"n": true, "l": true, "j": true, "d": true, "m": true, "s": true, "t": true, "c": true, "qu": true}

func mkWord(raw string, i, j int, up bool) word {
	raw = strings.ReplaceAll(raw, "'", "")
	return word{s: fold(raw), raw: raw, start: i, end: j, upper: up}
}

// fold takes accents off and shortens runs of three or more equal letters to
// one ("yesss", "nooo").
func fold(s string) string {
	s = strings.ToLower(s)
	ascii := true
	for i := 0; i < len(s); i++ {
		if s[i] >= 0x80 {
			ascii = false
			break
		}
	}
	if !ascii {
		s = strings.Map(func(r rune) rune {
			switch {
			case unicode.Is(unicode.Mn, r):
				return -1
			case r == 'ß':
				return 's'
			case r == 'ø':
				return 'o'
			case r == 'ł':
				return 'l'
			}
			return r
		}, norm.NFD.String(s))
	}
	run := false
	for i := 2; i < len(s); i++ {
		if s[i] == s[i-1] && s[i] == s[i-2] {
			run = true
			break
		}
	}
	if !run {
		return s
	}
	rs := []rune(s)
	out := rs[:0]
	for i := 0; i < len(rs); {
		j := i
		for j < len(rs) && rs[j] == rs[i] {
			j++
		}
		out = append(out, rs[i])
		if j-i == 2 {
			out = append(out, rs[i])
		}
		i = j
	}
	return string(out)
}

// figure reads what begins with a digit: a number, a time, a score of ten, a
// date, or a telephone number.
func figure(text string, i int) (word, int) {
	j := i
	for j < len(text) && text[j] >= '0' && text[j] <= '9' {
		j++
	}
	digits := text[i:j]
	w := word{start: i, end: j, isNum: true, digits: true}
	at := func(k int) byte {
		if k < len(text) {
			return text[k]
		}
		return 0
	}
	isD := func(k int) bool { c := at(k); return c >= '0' && c <= '9' }
	value := func(s string) float64 { f, _ := strconv.ParseFloat(clip(s, 15), 64); return f }
	// Telephone numbers and the like: groups of figures, seven or more.
	k, total, groups := j, len(digits), 1
	for k < len(text) && (text[k] == '-' || text[k] == '.' || text[k] == ' ' || text[k] == ')') {
		m := k + 1
		for at(m) == ' ' || at(m) == '-' {
			m++
		}
		q := m
		for isD(q) {
			q++
		}
		if q-m < 3 || groups > 5 {
			break
		}
		total += q - m
		groups++
		k = q
	}
	if total >= 7 && (groups > 1 || len(digits) >= 7) {
		w.junk, w.isNum, w.digits = true, false, false
		w.s, w.raw, w.end = "#phone", "#phone", k
		return w, k
	}
	switch c := at(j); {
	case (c == ':' || c == 'h' || c == 'H') && isD(j+1) && isD(j+2) && !isD(j+3) && len(digits) <= 2:
		w.hh, _ = strconv.Atoi(digits)
		w.mm, _ = strconv.Atoi(text[j+1 : j+3])
		w.clock = w.hh <= 24 && w.mm < 60
		w.end = j + 3
		if at(j+3) == ':' && isD(j+4) && isD(j+5) {
			w.end = j + 6
		}
		w.isNum, w.digits = false, false
	case (c == '.' || c == ',') && isD(j+1):
		k := j + 1
		for isD(k) {
			k++
		}
		w.num = value(digits + "." + text[j+1:k])
		w.end = k
		if k-j == 3 && len(digits) <= 2 {
			w.hh, _ = strconv.Atoi(digits)
			w.mm, _ = strconv.Atoi(text[j+1 : k])
		}
	case c == '/' && isD(j+1):
		k := j + 1
		for isD(k) {
			k++
		}
		a, b := value(digits), value(text[j+1:k])
		w.end = k
		switch {
		case b == 10:
			w.num, w.ofTen = a, true
		case a == 24 && b == 7:
			w.junk, w.isNum, w.digits = true, false, false
		case a < b && b <= 4 && a > 0:
			w.num = a / b
		default:
			w.date, w.isNum, w.digits = true, false, false
		}
		if at(k) == '/' && isD(k+1) {
			for k++; isD(k); k++ {
			}
			w.end, w.date, w.isNum, w.digits, w.ofTen = k, true, false, false, false
		}
	case at(j) == 0xEF && strings.HasPrefix(text[j:], "\uFE0F\u20E3"):
		w.num, w.end = value(digits), j+len("\uFE0F\u20E3")
	default:
		w.num = value(digits)
	}
	w.s = strings.ToLower(text[w.start:w.end])
	w.raw = w.s
	return w, w.end
}

var halfDayMark = regexp.MustCompile(`^\s?(?i:([ap])\.?\s?m\b\.?|([ap])\b)`)

// halfDay reads "am", "p.m." or "p" behind a figure and returns where it ends.
func halfDay(text string, i int) (int, string) {
	m := halfDayMark.FindStringSubmatchIndex(clipAt(text, i, 8))
	if m == nil {
		return 0, ""
	}
	for _, g := range []int{2, 4} {
		if m[g] >= 0 {
			if g == 4 && m[4] > 0 {
				return 0, "" // "3 a day": a letter apart is a word
			}
			return i + m[1], strings.ToLower(text[i+m[g] : i+m[g+1]])
		}
	}
	return 0, ""
}

func clipAt(s string, i, n int) string { return clip(s[i:], n) }

// isEmoji is true of pictures and the marks used like them.
func isEmoji(r rune) bool {
	switch {
	case r >= 0x1F3FB && r <= 0x1F3FF:
		return false
	case r >= 0x1F300 && r <= 0x1FAFF, r >= 0x2600 && r <= 0x27BF, r >= 0x1F1E6 && r <= 0x1F1FF, r == 0x2B50, r == 0x2B55, r >= 0x1F000 && r < 0x1F300:
		return true
	}
	return false
}

func isEmojiText(s string) bool {
	found := false
	for _, r := range s {
		if isEmoji(r) {
			found = true
		} else if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return false
		}
	}
	return found && len(s) < 40
}
