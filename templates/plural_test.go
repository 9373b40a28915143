package templates

import "testing"

// CLDR 46, common/supplemental/plurals.xml: the integer and decimal samples of
// each category.
func TestPluralsAgainstCLDR(t *testing.T) {
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
