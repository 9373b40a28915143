package reply

import (
	"regexp"
	"strconv"
	"strings"
)

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
