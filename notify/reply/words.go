package reply

import (
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
