package templates

import (
	"strconv"
	"strings"
	"testing"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"pgregory.net/rapid"
)

// golang.org/x/text carries the rules of CLDR as tables; it is the outside
// judge of every language that has more than one category here.
func TestPluralsAgainstXText(t *testing.T) {
	names := map[plural.Form]string{plural.One: "one", plural.Other: "other"}
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.OneOf(rapid.IntRange(0, 20), rapid.IntRange(0, 999_999)).Draw(t, "whole")
		fraction := rapid.SampledFrom([]string{"", "0", "00", "1", "5", "50", "01"}).Draw(t, "fraction")
		number := strconv.Itoa(whole)
		if fraction != "" {
			number += "." + fraction
		}
		short := strings.TrimRight(fraction, "0")
		digits := func(s string) int {
			n, _ := strconv.Atoi("0" + s)
			return n
		}
		for lang := range pluralRules {
			form := plural.Cardinal.MatchPlural(language.MustParse(lang), whole, len(fraction), len(short), digits(fraction), digits(short))
			if got := pluralOf(lang).of(number); got != names[form] {
				t.Errorf("%s %s: %s, x/text says form %d", lang, number, got, form)
			}
		}
	})
}

// Samples of each category, worked from the rules beside pluralRules.
func TestPlurals(t *testing.T) {
	for _, tc := range []struct{ lang, number, want string }{
		{"en", "1", "one"}, {"en", "0", "other"}, {"en", "2", "other"}, {"en", "16", "other"}, {"en", "100", "other"}, {"en", "1.0", "other"}, {"en", "1.5", "other"},
		{"de", "1", "one"}, {"de", "1.0", "other"}, {"de", "2", "other"},
		{"es", "1", "one"}, {"es", "1.0", "one"}, {"es", "1.00", "one"}, {"es", "0", "other"}, {"es", "2", "other"}, {"es", "16", "other"}, {"es", "0.9", "other"}, {"es", "1.1", "other"}, {"es", "100000", "other"},
		{"fr", "0", "one"}, {"fr", "1", "one"}, {"fr", "0.0", "one"}, {"fr", "1.5", "one"}, {"fr", "2", "other"}, {"fr", "17", "other"},
		{"pt", "0", "one"}, {"pt", "1", "one"}, {"pt", "1.5", "one"}, {"pt", "2", "other"},
		{"es-MX", "1", "one"}, {"ja", "1", "other"}, {"ja", "5", "other"},
	} {
		if got := pluralOf(tc.lang).of(tc.number); got != tc.want {
			t.Errorf("%s %s: %s, want %s", tc.lang, tc.number, got, tc.want)
		}
	}
}

func TestIsNumber(t *testing.T) {
	for s, want := range map[string]bool{
		"0": true, "22": true, "22.5": true, "999999999999": true, "9999999999999": false,
		"": false, ".": false, "1.": false, ".5": false, "-1": false, "1e3": false, "1,5": false, "1 ": false, "٣": false, "1.2.3": false,
	} {
		if got := isNumber(s); got != want {
			t.Errorf("isNumber(%q) = %v, want %v", s, got, want)
		}
	}
}

func TestDirection(t *testing.T) {
	for lang, want := range map[string]string{"en": "ltr", "es-MX": "ltr", "ar": "rtl", "he-IL": "rtl", "ur": "rtl", "arn": "ltr"} {
		if got := direction(lang); got != want {
			t.Errorf("direction(%q) = %s, want %s", lang, got, want)
		}
	}
}
