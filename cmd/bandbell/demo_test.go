package main

import (
	"bytes"
	"encoding/json"
	"testing"

	"bandbell/cmd/bandbell/demo"
	"bandbell/scheduler/plan"
)

// Four people live through ten days, over the clock change of 8 March 2026:
// what went in comes out again, nothing is late and nothing comes twice.
func TestDemoLivesFourPatients(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	var out, talk bytes.Buffer
	code := run(t.Context(), []string{"demo", "--once", "--days", "10", "--patients", "4", "--json"}, nil, &out, &talk)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, &talk)
	}
	var s demo.Summary
	if err := json.Unmarshal(out.Bytes(), &s); err != nil {
		t.Fatalf("not one JSON object: %v\n%s", err, &out)
	}
	if s.Days != 10 || s.Patients != 4 {
		t.Errorf("lived %d days with %d patients", s.Days, s.Patients)
	}
	if s.Late != 0 || s.Duplicates != 0 {
		t.Errorf("late %d, duplicates %d", s.Late, s.Duplicates)
	}
	for _, kind := range []plan.Kind{plan.BandChange, plan.WearStart, plan.Soreness} {
		n := s.Nudges[kind]
		if n.Accepted == 0 {
			t.Errorf("%s: none was accepted", kind)
		}
		if ended := n.Accepted + n.Lapsed + n.Failed + n.Suppressed + n.Uncertain; n.Planned != ended {
			t.Errorf("%s: %d put on file, %d ended", kind, n.Planned, ended)
		}
		if n.Failed+n.Uncertain > 0 {
			t.Errorf("%s: failed %d, uncertain %d, though nothing went wrong", kind, n.Failed, n.Uncertain)
		}
	}
	r := s.Replies
	if r.Received == 0 || r.Read == 0 || r.Unmatched != 0 {
		t.Errorf("replies: %+v", r)
	}
	if r.NeedsPerson == 0 {
		t.Error("the latex alarm reached nobody")
	}
	if s.DayRecords == 0 {
		t.Error("no day was recorded")
	}
	if s.Nudges[plan.BandChange].Lapsed == 0 {
		t.Error("the held patient's nudges did not lapse")
	}
}
