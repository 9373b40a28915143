package reply

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A labelled reply of testdata/corpus: what a careful reader at the clinic
// takes it to say. The labels were written from the words of the reply, before
// and apart from what the program made of it.
type labelled struct {
	file  string
	line  int
	want  map[string]string
	asked Asked
	raw   []byte
	text  string
}

var newYork = mustZone("America/New_York")

func mustZone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// corpus reads every file of testdata/corpus. A case is one line:
//
//	labels | kind meal [at=15:04] | text
//
// with \n for a new line. The first label is the value of changed; P says a
// person must look; the rest name fields, those not named being empty.
func corpus(t testing.TB) []labelled { return labelledIn(t, "corpus") }

// labelledIn reads the labelled replies of one directory of testdata.
func labelledIn(t testing.TB, dir string) []labelled {
	files, err := filepath.Glob("testdata/" + dir + "/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no corpus: %v", err)
	}
	var out []labelled
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			if strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#") {
				continue
			}
			part := strings.SplitN(line, "|", 3)
			if len(part) != 3 {
				t.Fatalf("%s:%d: want labels | nudge | text", f, i+1)
			}
			c := labelled{file: filepath.Base(f), line: i + 1, want: map[string]string{}, text: strings.TrimSpace(strings.ReplaceAll(part[2], `\n`, "\n"))}
			for n, l := range strings.Fields(part[0]) {
				k, v, ok := strings.Cut(l, "=")
				switch {
				case n == 0:
					c.want["changed"] = l
				case l == "P":
					c.want["person"] = "true"
				case l == "red" || l == "yellow":
					c.want["allergy"] = l
				case ok:
					c.want[k] = v
				default:
					c.want[l] = "true"
				}
			}
			sent := time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)
			at := time.Date(2026, 6, 15, 13, 10, 0, 0, newYork)
			for n, l := range strings.Fields(part[1]) {
				switch v, ok := strings.CutPrefix(l, "at="); {
				case ok:
					h, m, _ := strings.Cut(v, ":")
					hh, _ := strconv.Atoi(h)
					mm, _ := strconv.Atoi(m)
					at = time.Date(2026, 6, 15, hh, mm, 0, 0, newYork)
					if sent.After(at) {
						sent = at.Add(-25 * time.Minute)
					}
				case n == 0:
					c.asked.Kind = l
				case l != "-":
					c.asked.Meal = l
				}
			}
			c.asked.Sent = sent
			c.raw = []byte(fmt.Sprintf("From: Pat <pat@home.example>\r\nTo: nudge@clinic.example\r\nSubject: Re: Bands\r\nDate: %s\r\nMessage-ID: <%d@home.example>\r\nMIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n%s\r\n",
				at.UTC().Format(time.RFC1123Z), i, strings.ReplaceAll(c.text, "\n", "\r\n")))
			out = append(out, c)
		}
	}
	return out
}

// fieldsOf flattens a Reading into the corpus's labels.
func fieldsOf(r Reading) map[string]string {
	m := map[string]string{"changed": r.Changed}
	num := func(k string, f *float64) {
		if f != nil {
			m[k] = strconv.FormatFloat(*f, 'f', -1, 64)
		}
	}
	num("off", r.HoursOff)
	num("worn", r.HoursWorn)
	num("sore", r.Soreness)
	if r.OutOfBands {
		m["out"] = "true"
	}
	if r.Broken != nil {
		m["broken"] = *r.Broken
	}
	if r.Allergy != AllergyNone {
		m["allergy"] = r.Allergy
	}
	if r.Stop {
		m["stop"] = "true"
	}
	if r.Question != nil {
		m["q"] = *r.Question
	}
	if r.NeedsPerson {
		m["person"] = "true"
	}
	var spans []string
	for _, o := range r.Off {
		spans = append(spans, o.From+"-"+o.To)
	}
	if len(spans) > 0 {
		m["span"] = strings.Join(spans, ",")
	}
	return m
}

var scored = []string{"changed", "off", "worn", "span", "out", "broken", "sore", "allergy", "stop", "q", "person"}

// TestCorpus reads every labelled reply. A dangerous miss fails the test, and
// so does any field's score under its floor; the scores are logged.
func TestCorpus(t *testing.T) {
	cases := corpus(t)
	if len(cases) < 300 {
		t.Errorf("the corpus holds %d replies, want 300 or more", len(cases))
	}
	right := map[string]int{}
	whole, alarms, quiet := 0, 0, 0
	for _, c := range cases {
		r := Read(c.raw, c.asked)
		got := fieldsOf(r)
		at := fmt.Sprintf("%s:%d", c.file, c.line)
		if r.Kind != KindReply {
			t.Errorf("%s: kind %s (%s)", at, r.Kind, r.Why)
		}
		var wrong []string
		for _, f := range scored {
			if got[f] == c.want[f] {
				right[f]++
			} else {
				wrong = append(wrong, fmt.Sprintf("%s %q want %q", f, got[f], c.want[f]))
			}
		}
		if len(wrong) == 0 {
			whole++
		} else {
			t.Logf("%s: %q: %s (%s)", at, c.text, strings.Join(wrong, "; "), r.Why)
		}
		if c.want["person"] == "" {
			quiet++
			if got["person"] != "" {
				alarms++
			}
		}
		switch {
		case c.want["person"] != "" && got["person"] == "":
			t.Errorf("%s: dangerous: a needed look is missed: %q", at, c.text)
		case c.want["changed"] != Yes && got["changed"] == Yes:
			t.Errorf("%s: dangerous: false yes: %q", at, c.text)
		case c.want["allergy"] == Red && got["allergy"] != Red:
			t.Errorf("%s: dangerous: red sign missed: %q", at, c.text)
		case c.want["stop"] != "" && got["stop"] == "":
			t.Errorf("%s: dangerous: STOP missed: %q", at, c.text)
		}
		if len(r.Reports) == 0 {
			t.Errorf("%s: leaves no trace: %q", at, c.text)
		}
	}
	for _, f := range scored {
		share := float64(right[f]) / float64(len(cases))
		t.Logf("%-8s %5.1f %%", f, 100*share)
		if share < .97 {
			t.Errorf("%s is right in %.1f %% of the corpus, want 97 %%", f, 100*share)
		}
	}
	t.Logf("whole    %5.1f %% of %d; needless looks %d of %d", 100*float64(whole)/float64(len(cases)), len(cases), alarms, quiet)
	if float64(alarms) > .04*float64(quiet) {
		t.Errorf("%d needless looks among %d replies that need none, want under 4 %%", alarms, quiet)
	}
}
