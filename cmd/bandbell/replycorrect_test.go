package main

import (
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"
)

func zoneOf(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func TestTimesAsStaffWriteThem(t *testing.T) {
	zone := zoneOf(t, "America/New_York")
	received := time.Date(2026, 6, 2, 15, 0, 0, 0, zone)
	// On 8 March 2026 the clocks there go from 2 to 3 (IANA zone data).
	spring := time.Date(2026, 3, 8, 12, 0, 0, 0, zone)
	for _, c := range []struct {
		written  string
		received time.Time
		want     string // empty: refused
	}{
		{"15:00", received, "2026-06-02T15:00:00-04:00"},
		{"15:01", received, "2026-06-01T15:01:00-04:00"},
		{"00:00", received, "2026-06-02T00:00:00-04:00"},
		{"02:30", spring, "2026-03-08T03:00:00-04:00"},
		{"2026-06-01T07:05", received, "2026-06-01T07:05:00-04:00"},
		{"2026-06-01T11:05:00Z", received, "2026-06-01T07:05:00-04:00"},
		{"2026-06-01T07:05:00+02:00", received, "2026-06-01T01:05:00-04:00"},
		{"24:01", received, ""}, {"3pm", received, ""}, {"2026-06-31T07:05", received, ""}, {"2026-06-01", received, ""}, {"T07:05", received, ""}, {"", received, ""},
	} {
		got, ok := momentOf(c.written, c.received)
		if ok != (c.want != "") || ok && got.Format(time.RFC3339) != c.want {
			t.Errorf("%q: %v, %v, want %q", c.written, got, ok, c.want)
		}
	}
	for written, want := range map[string]string{
		"13:00-15:00":                       "2026-06-02T13:00 2026-06-02T15:00",
		"23:00-01:00":                       "2026-06-01T23:00 2026-06-02T01:00",
		"16:00-17:00":                       "2026-06-01T16:00 2026-06-01T17:00",
		"13:00/15:00":                       "2026-06-02T13:00 2026-06-02T15:00",
		"2026-05-30T13:00/2026-05-31T07:00": "2026-05-30T13:00 2026-05-31T07:00",
		"3-5":                               "", "13:00": "", "13:00-": "", "2026-05-30T13:00-2026-05-31T07:00": "",
	} {
		o, ok := stretchOf(written, received)
		if got := o.From.Format("2006-01-02T15:04 ") + o.To.Format("2006-01-02T15:04"); ok != (want != "") || ok && got != want {
			t.Errorf("%q: %s, %v, want %q", written, got, ok, want)
		}
	}
}

func TestACorrectionFromItsFlags(t *testing.T) {
	received := time.Date(2026, 6, 2, 15, 0, 0, 0, zoneOf(t, "America/New_York"))
	for name, c := range map[string]struct {
		flags  correctionFlags
		faults string // their flags
	}{
		"a yes":                       {correctionFlags{changed: "yes", by: "Ana"}, ""},
		"everything":                  {correctionFlags{changed: "no", at: "14:00", since: "13:00", off: []string{"08:00-09:00"}, worn: "20", day: "2026-06-02", sore: "10", flags: []string{"allergy:red", "jaw"}, by: "Ana"}, ""},
		"nothing counts":              {correctionFlags{none: true, by: "Ana"}, ""},
		"nobody":                      {correctionFlags{changed: "yes"}, "--by"},
		"a name that steers":          {correctionFlags{changed: "yes", by: "A\x1b[2J"}, "--by"},
		"no answer":                   {correctionFlags{at: "14:00", by: "Ana"}, "--changed"},
		"unreadable is told once":     {correctionFlags{changed: "no", since: "noon", off: []string{"x", "y"}, by: "Ana"}, "--since --off --off"},
		"a total without a day":       {correctionFlags{changed: "none", worn: "20", by: "Ana"}, "--day"},
		"a day without a total":       {correctionFlags{changed: "none", day: "2026-06-02", by: "Ana"}, "--day"},
		"25 hours":                    {correctionFlags{changed: "none", worn: "25", day: "2026-06-02", by: "Ana"}, ""},
		"more than 25":                {correctionFlags{changed: "none", worn: "25.1", day: "2026-06-02", by: "Ana"}, "--worn-total"},
		"no number at all":            {correctionFlags{changed: "none", worn: "NaN", day: "2026-06-02", by: "Ana"}, "--worn-total"},
		"a total of tomorrow":         {correctionFlags{changed: "none", worn: "20", day: "2026-06-03", by: "Ana"}, "--day"},
		"sore 11":                     {correctionFlags{changed: "none", sore: "11", by: "Ana"}, "--soreness"},
		"sore under 0":                {correctionFlags{changed: "none", sore: "-1", by: "Ana"}, "--soreness"},
		"since after at":              {correctionFlags{changed: "no", at: "13:00", since: "13:00", by: "Ana"}, "--since"},
		"at of a message saying none": {correctionFlags{changed: "none", at: "13:00", by: "Ana"}, "--at"},
		"in the future":               {correctionFlags{changed: "yes", at: "2026-06-02T15:01", off: []string{"2026-06-02T14:00/2026-06-02T15:01"}, by: "Ana"}, "--at --off"},
		"a flag twice":                {correctionFlags{changed: "none", flags: []string{"jaw", "jaw"}, by: "Ana"}, "--flag"},
		"an allergy of no level":      {correctionFlags{changed: "none", flags: []string{"allergy"}, by: "Ana"}, "--flag"},
		"an allergy of another":       {correctionFlags{changed: "none", flags: []string{"allergy:green"}, by: "Ana"}, "--flag"},
		"none and something":          {correctionFlags{none: true, sore: "3", by: "Ana"}, "--none"},
	} {
		_, _, fs := c.flags.correction(received)
		var paths []string
		for _, f := range fs {
			paths = append(paths, f.Path)
		}
		if got := strings.Join(paths, " "); got != c.faults {
			t.Errorf("%s: faults at %q, want %q\n%v", name, got, c.faults, fs)
		}
	}
}

func TestLabelsOfAReply(t *testing.T) {
	zone := zoneOf(t, "America/New_York")
	at := func(h, m int) time.Time { return time.Date(2026, 6, 1, h, m, 0, 0, zone) }
	lunch := plan.Nudge{Kind: plan.BandChange, Slot: "2026-06-01/PCD"}
	fact := func(r plan.Report) store.Fact { return store.Fact{Stated: plan.Stated{Report: r}, Correction: 1} }
	read := `{"changed":"yes","hours_off":2,"off":[{"from":"15:00","to":"17:00"}],"broken":"hook","soreness":3,"allergy":"none","question":"pain"}`
	once := []store.Corrected{{ID: 1, Changed: plan.ChangeNone}}
	as := func(c plan.Change) []store.Corrected { return []store.Corrected{{ID: 1, Changed: c}} }
	for name, c := range map[string]struct {
		reply store.Reply
		facts store.Facts
		want  string
	}{
		"as it was read": {store.Reply{NeedsPerson: true}, store.Facts{Nudge: lunch}, "yes P broken=hook sore=3 off=2 span=15:00-17:00 q=pain"},
		"a no": {store.Reply{}, store.Facts{Nudge: lunch, Corrections: as(plan.ChangeNo),
			Reports: []store.Fact{fact(plan.Report{What: plan.ReportOff, At: at(15, 0), Since: at(13, 0)})}}, "no off=2"},
		"of an hour and 20 minutes": {store.Reply{}, store.Facts{Nudge: lunch, Corrections: as(plan.ChangeYes),
			Reports: []store.Fact{fact(plan.Report{What: plan.ReportOn, At: at(15, 0)}), fact(plan.Report{What: plan.ReportOffSpan, From: at(8, 0), To: at(9, 20)})}}, "yes off=1.33 span=08:00-09:20"},
		"what was superseded is out": {store.Reply{}, store.Facts{Nudge: lunch, Corrections: as(plan.ChangeYes),
			Reports: []store.Fact{{Stated: plan.Stated{Report: plan.Report{What: plan.ReportSoreness, Value: 9}}, Superseded: 1}},
			Flags:   []store.Raised{{Flag: plan.Flag{What: plan.FlagJaw}, Superseded: 1}}}, "yes"},
		"the question left open":   {store.Reply{}, store.Facts{Nudge: lunch, Corrections: once}, "unclear P"},
		"a sore week's number":     {store.Reply{}, store.Facts{Nudge: plan.Nudge{Kind: plan.Soreness, Slot: "s3"}, Corrections: once, Reports: []store.Fact{fact(plan.Report{What: plan.ReportSoreness, Value: 6})}}, "none sore=6"},
		"a sore week's alarm":      {store.Reply{}, store.Facts{Nudge: plan.Nudge{Kind: plan.Soreness, Slot: "s3"}, Corrections: once, Reports: []store.Fact{fact(plan.Report{What: plan.ReportSoreness, Value: 7})}}, "none P sore=7"},
		"a total of the whole day": {store.Reply{}, store.Facts{Nudge: plan.Nudge{Kind: plan.BandChange, Slot: "2026-06-01/HS", Whole: true}, Corrections: once, Reports: []store.Fact{fact(plan.Report{What: plan.ReportWornTotal, Hours: 21.5})}}, "unclear worn=21.5"},
		"flags": {store.Reply{Stop: true}, store.Facts{Nudge: lunch, Corrections: as(plan.ChangeYes), Flags: []store.Raised{{Flag: plan.Flag{What: plan.FlagAllergy, Level: plan.Red}},
			{Flag: plan.Flag{What: plan.FlagOutOfBands}}, {Flag: plan.Flag{What: plan.FlagBroken}}, {Flag: plan.Flag{What: plan.FlagQuestion}}}}, "yes P red stop out broken=hook q=pain"},
	} {
		c.reply.Reading = []byte(read)
		w := whole{Reply: c.reply, facts: c.facts, zone: zone}
		if got := w.labels(); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	w := whole{Reply: store.Reply{Reading: []byte(`{}`), Received: at(13, 5)}, zone: zone,
		facts: store.Facts{Corrections: as(plan.ChangeNo), Flags: []store.Raised{{Flag: plan.Flag{What: plan.FlagBroken}}, {Flag: plan.Flag{What: plan.FlagQuestion}}}}}
	if got := w.labels(); got != "no P broken=? q=?" {
		t.Errorf("what nobody knows: %q", got)
	}
	for _, c := range []struct {
		n    plan.Nudge
		want string
	}{{lunch, "band-change PCD at=13:05"}, {plan.Nudge{Kind: plan.BandChange, Slot: "2026-06-01/HS", Whole: true}, "band-change day at=13:05"},
		{plan.Nudge{Kind: plan.WearStart, Slot: "b/2026-06-01"}, "wear-start - at=13:05"}, {plan.Nudge{Kind: plan.Soreness, Slot: "2026-06-01/s1"}, "soreness - at=13:05"}, {plan.Nudge{}, "band-change - at=13:05"}} {
		if w.facts.Nudge = c.n; w.nudge() != c.want {
			t.Errorf("%q, want %q", w.nudge(), c.want)
		}
	}
}
