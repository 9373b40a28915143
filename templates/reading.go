package templates

import (
	"strings"
	"unicode"
)

// MaxGrade is the highest Flesch-Kincaid grade of an English message: the sixth
// school year that the American Medical Association advises for patients.
const MaxGrade = 6.0

// reading counts what the Flesch-Kincaid formula asks for.
type reading struct{ words, sentences, syllables int }

// grade is the Flesch-Kincaid grade level (Kincaid et al. 1975, Navy Research
// Branch Report 8-75).
func (r reading) grade() float64 {
	return 0.39*float64(r.words)/float64(r.sentences) + 11.8*float64(r.syllables)/float64(r.words) - 15.59
}

// ease is the Flesch reading ease, as restated in the same report.
func (r reading) ease() float64 {
	return 206.835 - 1.015*float64(r.words)/float64(r.sentences) - 84.6*float64(r.syllables)/float64(r.words)
}

// measure counts English text. A line end ends a sentence, for list items and
// greetings have no full stop. Only words with a letter count: a phone number
// is not read as prose. Common practice, no source.
func measure(text string) reading {
	var r reading
	open := 0 // words since the last sentence end
	end := func() {
		if open > 0 {
			r.sentences++
		}
		open = 0
	}
	for _, line := range strings.Split(text, "\n") {
		for _, token := range strings.Fields(line) {
			word := strings.TrimFunc(token, func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) })
			if n := syllables(word); n > 0 {
				r.words++
				r.syllables += n
				open++
			}
			if last := strings.TrimRight(token, `"')]}”’`); strings.HasSuffix(last, ".") || strings.HasSuffix(last, "!") ||
				strings.HasSuffix(last, "?") || strings.HasSuffix(last, ":") {
				end()
			}
		}
		end()
	}
	return r
}

// syllables counts the sounded vowel groups of an English word, nought for a
// word without a letter. It follows the usual spelling rules and is right for
// most words and near for the rest; common practice, no source.
func syllables(word string) int {
	word = strings.ToLower(word)
	if strings.ContainsAny(word, "-/") { // each half of a compound is a word
		n := 0
		for _, half := range strings.FieldsFunc(word, func(r rune) bool { return r == '-' || r == '/' }) {
			n += syllables(half)
		}
		return n
	}
	var letters []rune
	for _, r := range word {
		if unicode.IsLetter(r) {
			letters = append(letters, r)
		}
	}
	if len(letters) == 0 {
		return 0
	}
	w := string(letters)
	vowel := func(r rune) bool { return strings.ContainsRune("aeiouyáéíóú", r) }
	n := 0
	for i, r := range letters {
		if vowel(r) && (i == 0 || !vowel(letters[i-1])) {
			n++
		}
	}
	// Two vowels that are said apart: li-on, sci-ence, du-al; but not na-tion.
	for _, apart := range []string{"ia", "io", "iu", "ua", "uou", "eo", "ying", "eing", "scien", "area", "idea"} {
		if strings.Contains(w, apart) {
			n++
		}
	}
	for _, together := range []string{"tion", "sion", "cial", "tial", "cious", "gion", "qua", "gua", "people"} {
		if strings.Contains(w, together) {
			n--
		}
	}
	switch {
	case strings.HasSuffix(w, "le") && len(letters) > 2 && !vowel(letters[len(letters)-3]):
	case strings.HasSuffix(w, "e") && len(letters) > 2 && !vowel(letters[len(letters)-2]):
		n-- // the silent e of made
	case strings.HasSuffix(w, "es") && len(letters) > 3 && !vowel(letters[len(letters)-3]) && !sibilant(w[:len(w)-2]):
		n-- // takes, but not brushes
	case strings.HasSuffix(w, "ed") && len(letters) > 3 && !vowel(letters[len(letters)-3]) && w[len(w)-3] != 't' && w[len(w)-3] != 'd':
		n-- // asked, but not rested
	}
	return max(n, 1)
}

func sibilant(stem string) bool {
	for _, s := range []string{"s", "x", "z", "ch", "sh", "c", "g"} {
		if strings.HasSuffix(stem, s) {
			return true
		}
	}
	return false
}
