package reply

import (
	"strings"
	"testing"
)

// TestVocabularies lints every language file: no fault, no phrase twice in one
// section, and the sections that a language must have.
func TestVocabularies(t *testing.T) {
	must := []string{"yes", "no", "not", "filler", "red", "yellow", "stop", "stop-word", "part", "damage", "out-of-bands", "self-harm", "wrong-person", "ask"}
	whole := []string{"changed", "change", "same", "wearing", "is-off", "took-off", "forgot", "later", "doubt", "correct", "turn", "sarcasm", "one-side", "two", "if",
		"meal-PCM", "meal-PCD", "meal-PCV", "meal-HS", "since", "from", "to", "at", "hour", "minute", "half", "and-half", "running-low", "sore", "severe", "swelling", "ulcer", "fever", "jaw",
		"fewer", "start", "pause", "request", "rhetorical", "topic", "new-address", "plan-date", "cause", "elsewhere", "fixed", "cut", "subject", "copula"}
	for _, l := range langOrder {
		b, err := langFiles.ReadFile("lang/" + l + ".txt")
		if err != nil {
			t.Fatal(err)
		}
		v, faults := parseVocabulary(l, string(b))
		for _, f := range faults {
			t.Error(f)
		}
		have := map[string]bool{}
		for _, p := range v.patterns {
			have[p.concept] = true
			if p.concept == "topic" {
				known := false
				for _, n := range topics {
					known = known || n == p.value
				}
				if !known {
					t.Errorf("%s.txt:%d: unknown topic %q", l, p.line, p.value)
				}
			}
			if p.concept == "part" && !strings.Contains(" hook button bracket wire aligner molar-band ", " "+p.value+" ") {
				t.Errorf("%s.txt:%d: unknown part %q", l, p.line, p.value)
			}
		}
		for _, c := range must {
			if !have[c] {
				t.Errorf("%s.txt: section [%s] is missing", l, c)
			}
		}
		if l == "en" || l == "es" {
			for _, c := range whole {
				if !have[c] {
					t.Errorf("%s.txt: section [%s] is missing", l, c)
				}
			}
		}
	}
}

// TestVocabularyFaults shows that a translator hears of all faults at once,
// each with its line.
func TestVocabularyFaults(t *testing.T) {
	_, faults := parseVocabulary("xx", "stray\n[yes]\nja\n[nosuch]\nx\n[no]\n<missing> nein\n[number]\neins=one\n[alias]\nab\n[stop]\n... aus\n")
	want := []string{"xx.txt:1: phrase before", "xx.txt:4: unknown section", "xx.txt:7: class <missing>", "xx.txt:9: a number", "xx.txt:11: an alias", "xx.txt:13: a phrase neither"}
	if len(faults) != len(want) {
		t.Fatalf("%d faults, want %d:\n%s", len(faults), len(want), strings.Join(faults, "\n"))
	}
	for i := range want {
		if !strings.HasPrefix(faults[i], want[i]) {
			t.Errorf("fault %q, want %q", faults[i], want[i])
		}
	}
}

// TestMarks does the same for the expressions of mail programs.
func TestMarks(t *testing.T) {
	_, faults := parseMarks("[device]\n(\n")
	if len(faults) != len(markSections)+1 {
		t.Errorf("%d faults, want one bad expression and %d empty sections: %v", len(faults), len(markSections), faults)
	}
}

// TestPatterns shows what each sign of a phrase does.
func TestPatterns(t *testing.T) {
	tests := []struct {
		pattern, text string
		want          bool
	}{
		{"new bands", "put new bands in", true},
		{"new bands", "new, bands", false},
		{"new bands", "new. bands", false},
		{"swell*", "it swelled", true},
		{"=cambió", "cambió", true},
		{"=cambió", "cambio", false},
		{"cambió", "cambio", true},
		{"a|b_c", "b c", true},
		{"a|b_c", "b", false},
		{"my? lips", "lips", true},
		{"lips .. swollen", "lips are so swollen", true},
		{"lips .. swollen", "lips are so very swollen", false},
		{"lips ... swollen", "lips are so very swollen", true},
		{"lips .. swollen", "lips. swollen", false},
		{"# left", "3 left", true},
		{"^ ask", "please ask", false},
		{"^ ask", "please, ask", true},
		{"ran out $", "ran out of time", false},
		{"ran out $", "ran out", true},
		{"yes", "yesss", true},
	}
	for _, tt := range tests {
		elems, err := compile(tt.pattern, nil)
		if err != nil {
			t.Fatal(err)
		}
		p := &pattern{elems: elems}
		ws, _, _ := splitWords(tt.text)
		got := false
		for i := range ws {
			if _, ok := p.match(ws, i); ok {
				got = true
			}
		}
		if got != tt.want {
			t.Errorf("%q in %q: %v, want %v", tt.pattern, tt.text, got, tt.want)
		}
	}
}
