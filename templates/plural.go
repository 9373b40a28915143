package templates

import (
	"slices"
	"strconv"
	"strings"
)

// pluralRule is how a language counts: the categories a plural block needs,
// and which of them a number takes. Rules as in the plurals.xml of Unicode
// CLDR, for numbers under a million: Spanish, French, Italian and Portuguese have a
// further category "many" from there, which no count of ours reaches.
type pluralRule struct {
	categories []string
	of         func(number string) string
}

var oneOther = []string{"one", "other"}

// exactlyOne is "i = 1 and v = 0": 1 but not 1.0.
func exactlyOne(n string) string {
	if n == "1" {
		return "one"
	}
	return "other"
}

// valueOne is "n = 1": 1 and 1.0.
func valueOne(n string) string {
	if f, err := strconv.ParseFloat(n, 64); err == nil && f == 1 {
		return "one"
	}
	return "other"
}

// belowTwo is "i = 0,1": everything from 0 to under 2.
func belowTwo(n string) string {
	if whole, _, _ := strings.Cut(n, "."); whole == "0" || whole == "1" {
		return "one"
	}
	return "other"
}

var pluralRules = map[string]pluralRule{
	"en": {oneOther, exactlyOne},
	"de": {oneOther, exactlyOne},
	"it": {oneOther, exactlyOne},
	"nl": {oneOther, exactlyOne},
	"es": {oneOther, valueOne},
	"fr": {oneOther, belowTwo},
	"pt": {oneOther, belowTwo},
}

// pluralOf returns the rule of a language. One we know no rule for has only
// the category other, which every language has.
func pluralOf(lang string) pluralRule {
	if r, ok := pluralRules[baseLang(lang)]; ok {
		return r
	}
	return pluralRule{[]string{"other"}, func(string) string { return "other" }}
}

// isNumber reports whether s is a plain decimal number, 22 or 22.5, not below
// nought.
func isNumber(s string) bool {
	whole, fraction, point := strings.Cut(s, ".")
	digits := func(s string) bool {
		return s != "" && !slices.ContainsFunc([]byte(s), func(c byte) bool { return c < '0' || c > '9' })
	}
	return len(s) <= 12 && digits(whole) && (!point || digits(fraction))
}

// baseLang returns the language of a tag without region or script.
func baseLang(lang string) string {
	base, _, _ := strings.Cut(strings.ReplaceAll(lang, "_", "-"), "-")
	return strings.ToLower(base)
}

// direction returns ltr or rtl for the dir attribute.
func direction(lang string) string {
	switch baseLang(lang) {
	case "ar", "dv", "fa", "he", "ku", "ps", "sd", "ug", "ur", "yi":
		return "rtl"
	}
	return "ltr"
}
