package plan

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// mark stands in the text of a test at each place a fault is to be told.
const mark = "→"

// unmark takes the marks out of a text and gives the line and column, in
// octets from 1, of each.
func unmark(marked string) (text []byte, places [][2]int) {
	for {
		before, after, found := strings.Cut(marked, mark)
		text = append(text, before...)
		if !found {
			return text, places
		}
		line := bytes.Count(text, []byte("\n")) + 1
		col := len(text) - bytes.LastIndexByte(text, '\n')
		places = append(places, [2]int{line, col})
		marked = after
	}
}

// wantFaults reads a marked text as a plan and compares every fault with
// "path: what" or "path: what | hint", in order of place. A mark written n
// times stands for n faults there.
func wantFaults(t *testing.T, marked string, want ...string) {
	t.Helper()
	text, places := unmark(marked)
	if len(places) != len(want) {
		t.Fatalf("the test has %d marks and %d faults:\n%s", len(places), len(want), marked)
	}
	_, err := ReadPlan("plan.json", text)
	var faults Faults
	if err != nil && !errors.As(err, &faults) {
		t.Fatalf("the error is a %T: %v", err, err)
	}
	for i, f := range faults {
		if i >= len(want) {
			t.Errorf("one fault more: %v\nin %s", f, text)
			continue
		}
		what, hint, _ := strings.Cut(want[i], " | ")
		got := f.What
		if f.Path != "" {
			got = f.Path + ": " + f.What
		}
		if got != what || f.Line != places[i][0] || f.Col != places[i][1] || f.File != "plan.json" {
			t.Errorf("got %s:%d:%d %s\nwant %d:%d %s\nin %s", f.File, f.Line, f.Col, got, places[i][0], places[i][1], what, text)
			return // those behind it would only be out of step
		}
		if hint != "" && !strings.Contains(f.Hint, hint) {
			t.Errorf("%s: the hint is %q, want %q in it", what, f.Hint, hint)
		}
	}
	for _, w := range want[min(len(faults), len(want)):] {
		t.Errorf("not told: %s\nin %s", w, text)
	}
}

func TestMarksStandWhereTheyAreRead(t *testing.T) {
	text, places := unmark("→{\n  é→x\n→}")
	if string(text) != "{\n  éx\n}" || len(places) != 3 || places[0] != [2]int{1, 1} || places[1] != [2]int{2, 5} || places[2] != [2]int{3, 1} {
		t.Errorf("%q %v", text, places)
	}
}

func TestFaultsAsText(t *testing.T) {
	fs := Faults{
		{File: "b.json", Line: 1, Col: 2, Path: "trays", What: "is missing"},
		{File: "a.json", Line: 9, Col: 1, What: "is late", Hint: "look before it"},
		{File: "a.json", Line: 2, Col: 7, What: "comes second"},
		{File: "a.json", Line: 2, Col: 3, What: "comes first"},
		{File: "a.json", What: "has no place"},
	}
	want := `a.json: has no place
a.json:2:3: comes first
a.json:2:7: comes second
a.json:9:1: is late
  hint: look before it
b.json:1:2: trays: is missing`
	if got := fs.Err().Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got := (Fault{Path: "x", What: "is wrong"}).String(); got != "x: is wrong" {
		t.Errorf("a fault of no file: %q", got)
	}
	if err := (Faults{}).Err(); err != nil {
		t.Errorf("no faults are %v", err)
	}
}

func TestClosest(t *testing.T) {
	keys := []string{"aligner_start", "bands_end", "bands_start", "meals", "quiet", "trays"}
	for word, want := range map[string]string{
		"alinger_start": "aligner_start", "band_start": "bands_start", "band_end": "bands_end", "meal": "meals", "maels": "meals",
		"quite": "quiet", "tray": "trays", "Trays": "trays", "": "", "x": "", "overjet": "", "zzzzz": "",
	} {
		if got := Closest(word, keys); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	// Five letters bear two slips, not three; two letters one, not two.
	for _, tt := range []struct{ word, of, want string }{{"abcde", "abcxy", "abcxy"}, {"abcde", "abxyz", ""}, {"ab", "ax", "ax"}, {"ab", "xy", ""}} {
		if got := Closest(tt.word, []string{tt.of}); got != tt.want {
			t.Errorf("%q of %q: %q", tt.word, tt.of, got)
		}
	}
	// Levenshtein's distance; kitten to sitting is the textbook example, 3.
	for _, tt := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"", "abc", 3}, {"abc", "", 3}, {"abc", "abc", 0}} {
		if got := distance(tt.a, tt.b); got != tt.want {
			t.Errorf("%s to %s: %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}
