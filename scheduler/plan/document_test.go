package plan

import (
	"strings"
	"testing"
	"time"
)

// Texts that are no JSON of RFC 8259: the place told is the octet at which it
// stops being so, or the end where it ends too early.
func TestTextThatIsNotJSON(t *testing.T) {
	for _, marked := range []string{
		"→", "   →", "{→", `{"trays"→`, `{"trays":→`, `{"trays":24→`, `{"trays":24,→`, `{"wear":[→`, `{"wear":[{}→`, `{"appliance":"ali→`, "nul→", `{"trays":2→`, "\"→",
	} {
		wantFaults(t, marked, "the JSON ends too early | missing comma, quote or bracket")
	}
	for _, tt := range [][2]string{
		{"{\n \"trays\": tru→}", "invalid character '}' in literal true (expecting 'e')"},
		{"{\n \"trays\" →24}", "invalid character '2' after object key"},
		{"{\"trays\":24\n →\"days_per_tray\":10}", `invalid character '"' after object key:value pair`},
		{"{\"trays\":24,→}", "invalid character '}' looking for beginning of object key string"},
		{"{\"wear\":[{},→]}", "invalid character ']' looking for beginning of value"},
		{"{\"wear\":[1 →2]}", "invalid character '2' after array element"},
		{"{\"trays\":0→1}", "invalid character '1' after object key:value pair"},
		{"{\"trays\":+→1}", ""}, {"{\"trays\":.→5}", ""}, {"{\"trays\":-→}", "invalid character '}' in numeric literal"},
		{"{\"bag\":\"a→\nb\"}", "invalid character '\\n' in string literal"},
		{"{\"bag\":\"a\\→x\"}", "invalid character 'x' in string escape code"},
		{"{\"quiet\":{\"from\":{\"x\":→'y'}}}", "invalid character '\\'' looking for beginning of value"},
		{"{→trays:24}", "invalid character 't' looking for beginning of object key string"},
		{"→// a plan\n{}", "invalid character '/' looking for beginning of value"},
		{"{→1:2}", "invalid character '1' looking for beginning of object key string"},
	} {
		marked, what := tt[0], tt[1]
		if what == "" { // the sign or point itself is the place
			c := marked[strings.Index(marked, mark)-1]
			marked = strings.Replace(marked, string(c)+mark, mark+string(c), 1)
			what = "invalid character '" + string(c) + "' looking for beginning of value"
		}
		wantFaults(t, marked, "this is not JSON: "+what+" | missing comma")
	}
}

func TestMoreThanOneValue(t *testing.T) {
	for _, text := range []string{`{` + least + `} {}`, `{` + least + `}}`, `{` + least + "}\n,", `{` + least + `} x`} {
		_, err := ReadPlan("plan.json", []byte(text))
		faults, _ := err.(Faults)
		if len(faults) != 1 || faults[0].What != "something follows the end of the JSON value" {
			t.Errorf("%s: %v", text, err)
		}
	}
	wantFaults(t, "{"+least+"}\n\t ")
}

func TestRootThatIsNoObject(t *testing.T) {
	for text, kind := range map[string]string{"→[]": "a list", " →null": "null", "→\n1": "a number", "→\"x\"": "a string", "→true": "true or false"} {
		if text == "→\n1" {
			text = "\n→1"
		}
		wantFaults(t, text, "must be an object, not "+kind)
	}
}

// RFC 8259 section 8.1: JSON is UTF-8. A file saved in Latin-1 or UTF-16 is
// refused, not read with holes.
func TestTextThatIsNotUTF8(t *testing.T) {
	wantFaults(t, "{"+least+",\n\"bands\":[{\"bag\":\"Ping→\xfcino\"}]}", "this is not UTF-8 text | save the file as UTF-8")
	wantFaults(t, "→\xff\xfe{\x00}\x00", "this is not UTF-8 text | save the file as UTF-8")
	// U+FFFD itself, written out, is a character like another.
	wantFaults(t, "{"+least+",→\"\uFFFD\":1}", "\uFFFD: no such key")
}

func TestDepth(t *testing.T) {
	nested := func(n int) []byte {
		return []byte(strings.Repeat("[", n) + strings.Repeat("]", n))
	}
	if _, err := ReadDocument("deep.json", nested(maxDepth+1)); err != nil {
		t.Errorf("%d brackets: %v", maxDepth+1, err)
	}
	if _, err := ReadDocument("deep.json", nested(maxDepth+2)); err == nil || !strings.Contains(err.Error(), "deep.json:1:34: nested deeper than 32 levels") {
		t.Errorf("%d brackets: %v", maxDepth+2, err)
	}
	if _, err := ReadDocument("deep.json", nested(1_000_000)); err == nil {
		t.Error("a million brackets are taken")
	}
}

// A record is a larger document that holds a plan: what Check finds is told at
// its place in the record.
func TestPlanInsideALargerDocument(t *testing.T) {
	text, places := unmark(`{"at":"2026-06-15T12:00:00-04:00", "seen":→"today", →"plans":0,
 "plan":{` + least + `, →"tray":1, "pauses":[{"from":"2026-07-05","to":→"2026-07-01"}]}}`)
	d, err := ReadDocument("record.json", text)
	if err != nil {
		t.Fatal(err)
	}
	o := d.Object(d.Root, "")
	if got := o.Time("at"); !got.Equal(time.Date(2026, 6, 15, 16, 0, 0, 0, time.UTC)) {
		t.Errorf("at: %v", got)
	}
	if !o.Time("seen").IsZero() || !o.Time("never").IsZero() {
		t.Error("what is no instant was read as one")
	}
	DecodePlan(o.Child("plan"))
	if o.Child("none") != nil {
		t.Error("a child that is absent was found")
	}
	o.Done()
	faults, _ := d.Err().(Faults)
	want := []string{`seen: "today" is not an instant`, "plans: no such key", "plan.tray: no such key", "plan.pauses[0].to: 2026-07-01 lies before its from, 2026-07-05"}
	if len(faults) != len(want) {
		t.Fatalf("got %v", faults)
	}
	for i, f := range faults {
		if f.Path+": "+f.What != want[i] || f.Line != places[i][0] || f.Col != places[i][1] {
			t.Errorf("got %v, want %v %s", f, places[i], want[i])
		}
	}
	// A place that was never read from is told at the nearest value around it.
	d.FaultAt("", Faults{{Path: "plan.pauses[0].from.hour", What: "is late"}, {Path: "elsewhere", What: "is lost"}})
	faults, _ = d.Err().(Faults)
	if f := faults[0]; f.What != "is lost" || f.Line != 1 || f.Col != 1 {
		t.Errorf("got %v", f)
	}
	if f := faults[len(faults)-2]; f.What != "is late" || f.Line != 2 {
		t.Errorf("got %v", f)
	}
}
