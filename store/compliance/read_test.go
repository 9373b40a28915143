package compliance

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bandbell/scheduler/plan"
)

// full is a record with every key.
const full = `{"zone":"Europe/Berlin", "as_of":"2026-10-26T12:00:00+01:00",
 "window":{"from":"2026-10-20","to":"2026-10-26"},
 "plan":{"appliance":"aligners","aligner_start":"2026-10-05","days_per_tray":7,"trays":30,"planned_end":null,
   "bands_start":"2026-10-20","bands_end":"2027-05-01","hours_per_day":20,"changes_per_day":3,
   "wear":[{"from":"2027-02-01","hours_per_day":10,"changes_per_day":1,"nights":true}],
   "meals":[{"code":"PCM","at":"07:00"},{"code":"PCV","at":"19:00","minutes":45,"days":["sat","sun"]},{"code":"HS","at":"21:30"}],
   "quiet":{"from":"22:00","to":"06:30"},"notice_at":"09:00","evening_at":"18:00","useful_min":60,
   "restarts":["2026-10-25"],"pauses":[{"from":"2026-12-24","to":"2026-12-26"}],"cadence":[{"from":"2026-11-20","level":2}],
   "bands":[{"from":"2026-10-20","to":null,"side":"left","pattern":"class-2","upper":[23],"lower":[{"tooth":36,"surface":"cheek","kind":"button"}],"lumen_mm":4.7625,"force_oz":3.5,"latex":false,"bag":"Heron"}],
   "bags":[{"date":"2026-10-19","count":50}]},
 "flags":[{"at":"2026-10-24T09:00:00+02:00","slot":"2026-10-24/PCM","what":"allergy","level":"yellow","closed":"2026-10-24T10:00:00+02:00"},
          {"at":"2026-10-25T09:00:00+01:00","slot":null,"what":"question","level":null,"closed":null}],
 "nudges":[{"kind":"band-change","slot":"2026-10-24/PCM","due":"2026-10-24T07:30:00+02:00","until":"2026-10-24T08:30:00+02:00","outcome":"accepted"},
           {"kind":"wear-start","slot":"d0","due":"2026-10-20T09:00:00+02:00","until":"2026-10-20T22:00:00+02:00","outcome":"lapsed"}],
 "reports":[{"at":"2026-10-24T07:40:00.5+02:00","slot":"2026-10-24/PCM","what":"on","fresh":true},
            {"at":"2026-10-24T14:00:00+02:00","what":"off"},
            {"at":"2026-10-25T03:30:00+01:00","what":"off","since":"2026-10-25T02:30:00+02:00"},
            {"at":"2026-10-25T12:00:00Z","what":"off-span","from":"2026-10-25T09:00:00+01:00","to":"2026-10-25T10:00:00+01:00"},
            {"at":"2026-10-25T20:00:00+01:00","what":"worn-total","day":"2026-10-25","hours":18.5},
            {"at":"2026-10-25T20:00:00+01:00","slot":null,"what":"soreness","value":0}],
 "visits":[{"date":"2026-10-20","overjet_mm":4,"left_mm":null,"right_mm":-0.5,"sd_mm":1},{"date":"2026-10-22"}],
 "settings":{"carry_min":800,"ramp_min":200,"grace_min":50,"prior_wear":0.6,"prior_answer":0.9,"rate_mm_per_100h":0.06,"rate_sd":0.02,"measure_sd_mm":0.4,"tolerance_mm":0.3}}`

// least is a record with nothing but what is required.
const least = `{"zone":"UTC","as_of":"2026-06-15T12:00:00Z","window":{"from":"2026-06-01","to":"2026-06-14"},
 "plan":{"aligner_start":"2026-05-18","days_per_tray":10,"trays":24}}`

// same compares records: zones by name, instants by moment.
var same = cmp.Options{cmpopts.EquateEmpty(), cmp.Comparer(func(a, b *Record) bool { return a == b }), cmp.Transformer("zone", func(r Record) any {
	type bare Record
	c := bare(r)
	c.Zone = nil
	return struct {
		Name string
		Rest bare
	}{r.Zone.String(), c}
})}

func read(t testing.TB, text string) *Record {
	t.Helper()
	r, err := ReadRecord("record.json", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestReadDefaults(t *testing.T) {
	r := read(t, least)
	if diff := cmp.Diff(DefaultSettings(), r.Settings); diff != "" {
		t.Errorf("settings: -want +got\n%s", diff)
	}
	want := Settings{840, 240, 60, 0.7, 0.8, 0.0523, 0.03, 0.5, 0.5}
	if r.Settings != want {
		t.Errorf("got %v, want %v", r.Settings, want)
	}
	if r.Plan.Start() != date(t, "2026-06-01") || r.Plan.HoursPerDay != 22 || r.Plan.ChangesPerDay != 4 {
		t.Errorf("plan: %+v", r.Plan)
	}
}

func TestReadEveryKey(t *testing.T) {
	r := read(t, full)
	if want := (Settings{800, 200, 50, 0.6, 0.9, 0.06, 0.02, 0.4, 0.3}); r.Settings != want {
		t.Errorf("settings %v, want %v", r.Settings, want)
	}
	at := func(s string) string { return s }
	for _, c := range []struct{ what, got, want string }{
		{"zone", r.Zone.String(), "Europe/Berlin"},
		{"as_of", r.AsOf.UTC().Format("2006-01-02T15:04:05"), at("2026-10-26T11:00:00")},
		{"fraction", r.Reports[0].At.UTC().Format("15:04:05.0"), "05:40:00.5"},
		{"since", r.Reports[2].Since.UTC().Format("15:04"), "00:30"},
		{"span", r.Reports[3].From.UTC().Format("15:04") + r.Reports[3].To.UTC().Format(" 15:04"), "08:00 09:00"},
		{"total", r.Reports[4].Day.String(), "2026-10-25"},
		{"flag", string(r.Flags[0].What) + " " + string(r.Flags[0].Level) + " " + r.Flags[0].Slot, "allergy yellow 2026-10-24/PCM"},
		{"closed", r.Flags[0].Closed.UTC().Format("15:04"), "08:00"},
		{"outcome", string(r.Nudges[1].Outcome) + " " + string(r.Nudges[1].Kind), "lapsed wear-start"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %s, want %s", c.what, c.got, c.want)
		}
	}
	if r.Reports[4].Hours != 18.5 || !r.Reports[0].Fresh || r.Visits[0].Left != nil || *r.Visits[0].Right != -0.5 || *r.Visits[0].SD != 1 {
		t.Errorf("reports %v, visits %v", r.Reports, r.Visits)
	}
}

func TestWriteThenRead(t *testing.T) {
	for _, text := range []string{full, least} {
		r := read(t, text)
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		again := read(t, string(b))
		if diff := cmp.Diff(*r, *again, same); diff != "" {
			t.Errorf("-first +again\n%s", diff)
		}
		c, err := json.Marshal(again)
		if err != nil || string(b) != string(c) {
			t.Errorf("written twice: %v\n%s\n%s", err, b, c)
		}
	}
	if _, err := json.Marshal(Record{}); err == nil {
		t.Error("a record without a zone was written")
	}
}

// All faults of a file are told at once, each with line and column.
func TestReadFaults(t *testing.T) {
	text := `{"zone":"America/New_Yrok",
"as_of":"yesterday",
"window":{"from":"2026-06-14","to":"2026-06-01"},
"plan":{"aligner_start":"2026-05-18","trays":24,"days_per_tray":10,"hours_per_day":25},
"flags":[{"at":"2026-06-01T00:00:00Z","what":"allergy"},
 {"at":"2026-06-01T00:00:00Z","what":"broken","level":"red"},
 {"at":"2026-06-02T00:00:00Z","what":"jaw","closed":"2026-06-01T00:00:00Z"}],
"nudges":[{"kind":"band-chaneg","slot":"s","due":"2026-06-02T00:00:00Z","until":"2026-06-01T00:00:00Z","outcome":"accepted"}],
"reports":[{"at":"2026-06-01T00:00:00Z","what":"on","since":"2026-06-01T00:00:00Z"},
 {"at":"2026-06-01T00:00:00Z","what":"off","since":"2026-06-01T00:00:01Z"},
 {"at":"2026-06-01T00:00:00Z","what":"off-span","from":"2026-06-01T00:00:00Z"},
 {"at":"2026-06-01T00:00:00Z","what":"off-span","from":"2026-06-02T00:00:00Z","to":"2026-06-01T00:00:00Z"},
 {"at":"2026-06-01T00:00:00Z","what":"worn-total","day":"2026-06-01","hours":25.1},
 {"at":"2026-06-01T00:00:00Z","what":"soreness","value":11},
 {"what":"soreness","value":1.5}],
"visits":[{"date":"2026-06-31","overjet_mm":"4"}],
"settings":{"prior_wear":1.1,"rate_sd":0,"grace":60},
"colour":"red"}`
	_, err := ReadRecord("r.json", []byte(text))
	var faults plan.Faults
	if !errors.As(err, &faults) {
		t.Fatalf("got %v", err)
	}
	want := []string{
		`r.json:1:9: zone: "America/New_Yrok" is not a time zone`,
		`r.json:2:9: as_of: "yesterday" is not an instant`,
		`r.json:3:36: window.to: 2026-06-01 lies before its from, 2026-06-14`,
		`r.json:4:84: plan.hours_per_day: 25 is out of range`,
		`r.json:5:10: flags[0].level: is missing`,
		`r.json:6:55: flags[1].level: goes with allergy only`,
		`r.json:7:53: flags[2].closed: lies before the flag was raised`,
		`r.json:8:19: nudges[0].kind: "band-chaneg" is not known here`,
		`r.json:8:81: nudges[0].until: lies before the nudge is due`,
		`r.json:9:61: reports[0].since: has no place in a report of "on"`,
		`r.json:10:52: reports[1].since: lies after the report's at`,
		`r.json:11:2: reports[2].to: is missing`,
		`r.json:12:84: reports[3].to: lies before the span's from`,
		`r.json:13:78: reports[4].hours: 25.1 is out of range`,
		`r.json:14:57: reports[5].value: 11 is out of range`,
		`r.json:15:2: reports[6].at: is missing`,
		`r.json:15:29: reports[6].value: must be a whole number`,
		`r.json:16:19: visits[0].date: "2026-06-31" is not a date; write it as YYYY-MM-DD`,
		`r.json:16:45: visits[0].overjet_mm: must be a number, not a string`,
		`r.json:17:26: settings.prior_wear: 1.1 is out of range`,
		`r.json:17:40: settings.rate_sd: 0 is out of range`,
		`r.json:17:42: settings.grace: no such key`,
		`r.json:18:1: colour: no such key`,
	}
	var got []string
	for _, f := range faults {
		first, _, _ := strings.Cut(f.String(), "\n")
		got = append(got, first)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}

func TestReadWhatIsMissing(t *testing.T) {
	_, err := ReadRecord("r.json", []byte(`{}`))
	for _, key := range []string{"zone", "as_of", "window", "plan"} {
		if err == nil || !strings.Contains(err.Error(), key+": is missing") {
			t.Errorf("%s is not missed: %v", key, err)
		}
	}
	if _, err := ReadRecord("r.json", []byte(`[]`)); err == nil {
		t.Error("a list was read as a record")
	}
	for _, zone := range []string{"", "Local", "../etc"} {
		if _, err := ReadRecord("r.json", []byte(strings.Replace(least, "UTC", zone, 1))); err == nil {
			t.Errorf("zone %q was taken", zone)
		}
	}
}

func TestWindowLength(t *testing.T) {
	for _, tt := range []struct {
		to string
		ok bool
	}{{"2046-05-31", true}, {"2046-06-01", false}} { // 7305 days from 2026-06-01 end on 2046-05-31
		_, err := ReadRecord("r.json", []byte(strings.Replace(least, "2026-06-14", tt.to, 1)))
		if (err == nil) != tt.ok {
			t.Errorf("to %s: %v", tt.to, err)
		}
	}
}

// FuzzReadRecord holds that nothing read panics, that what was read is written
// and read again as the same, and that its figures can be computed and written.
func FuzzReadRecord(f *testing.F) {
	for _, seed := range []string{full, least, `{}`, `[`, `{"zone":1}`,
		strings.Replace(least, "UTC", "Pacific/Apia", 1),
		strings.Replace(least, `"trays":24`, `"trays":24,"hours_per_day":1e-300`, 1),
		strings.Replace(full, `"appliance":"aligners"`, `"appliance":"braces"`, 1)} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := ReadRecord("fuzz", b)
		if err != nil {
			return
		}
		out, err := json.Marshal(r)
		if err != nil {
			return // a year that RFC 3339 cannot say
		}
		again, err := ReadRecord("again", out)
		if err != nil {
			t.Fatalf("written and not read again: %v\n%s", err, out)
		}
		if diff := cmp.Diff(*r, *again, same); diff != "" {
			t.Fatalf("-first +again\n%s", diff)
		}
		if r.Window.To.DaysSince(r.Window.From) > 60 {
			return
		}
		figures, err := Compute(r)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(figures); err != nil {
			t.Fatal(err)
		}
	})
}
