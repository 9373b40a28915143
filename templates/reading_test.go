package templates

import (
	"math"
	"testing"
)

// Kincaid et al. 1975. Worked from the printed formulas: 13 words with 24
// syllables in one sentence, and six words of one syllable.
func TestReadingFormulas(t *testing.T) {
	for _, tc := range []struct {
		r           reading
		grade, ease float64
	}{
		{reading{words: 13, sentences: 1, syllables: 24}, 11.2646, 37.4554},
		{reading{words: 6, sentences: 1, syllables: 6}, -1.45, 116.145},
	} {
		if g := tc.r.grade(); math.Abs(g-tc.grade) > 5e-5 {
			t.Errorf("%+v: grade %.4f, want %.4f", tc.r, g, tc.grade)
		}
		if e := tc.r.ease(); math.Abs(e-tc.ease) > 5e-5 {
			t.Errorf("%+v: ease %.4f, want %.4f", tc.r, e, tc.ease)
		}
	}
}

func TestMeasure(t *testing.T) {
	for text, want := range map[string]reading{
		"The cat sat on the mat.":                {6, 1, 6},
		"Stop. Go now! Why?":                     {4, 3, 4},
		"Hi Ana,\nYou are late\n\n- one\n- two.": {7, 4, 8},
		"Call 555-0100 now.":                     {2, 1, 2},
		"He said \"stop.\" Then he left.":        {6, 2, 6},
		"Two 22 words":                           {2, 1, 2},
		"":                                       {0, 0, 0},
		"... 12 -- !":                            {0, 0, 0},
	} {
		if got := measure(text); got != want {
			t.Errorf("measure(%q) = %+v, want %+v", text, got, want)
		}
	}
}

// Syllables as Merriam-Webster's dictionary divides these words [from memory].
func TestSyllables(t *testing.T) {
	for word, want := range map[string]int{
		"a": 1, "band": 1, "bands": 1, "please": 1, "made": 1, "takes": 1, "asked": 1, "eye": 1, "teeth": 1, "breathe": 1,
		"ready": 2, "table": 2, "little": 2, "after": 2, "brushes": 2, "rested": 2, "clinic": 2, "guardian": 3, "label": 2, "pharmacist": 3,
		"medicine": 3, "breakfast": 2, "tomorrow": 3, "aligner": 3, "orthodontist": 4, "question": 2, "station": 2, "science": 2,
		"area": 3, "being": 2, "trying": 2, "bedtime": 2, "e-mail": 2, "people": 2, "private": 2, "compliance": 3, "22": 0, "": 0,
	} {
		if got := syllables(word); got != want {
			t.Errorf("syllables(%q) = %d, want %d", word, got, want)
		}
	}
}
