package plan

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestFactsOfACorrection(t *testing.T) {
	received := time.Date(2026, 6, 1, 20, 0, 0, 0, time.UTC)
	ago := func(h int) time.Time { return received.Add(-time.Duration(h) * time.Hour) }
	const slot = "2026-06-01/PCV"
	meals := []time.Time{ago(12), ago(8), received, received.Add(time.Minute)}
	three := 3
	for name, c := range map[string]struct {
		said    Correction
		meals   []time.Time
		reports []Report
		flags   []Flag
	}{
		"yes":            {Correction{Changed: ChangeYes}, nil, []Report{{At: received, Slot: slot, What: ReportOn, Fresh: true}}, nil},
		"yes, at":        {Correction{Changed: ChangeYes, At: ago(1)}, nil, []Report{{At: ago(1), Slot: slot, What: ReportOn, Fresh: true}}, nil},
		"yes all day":    {Correction{Changed: ChangeYes}, meals, []Report{{At: ago(12), Slot: slot, What: ReportOn, Fresh: true}, {At: ago(8), Slot: slot, What: ReportOn, Fresh: true}, {At: received, Slot: slot, What: ReportOn, Fresh: true}}, nil},
		"all day, at":    {Correction{Changed: ChangeYes, At: ago(1)}, meals, []Report{{At: ago(1), Slot: slot, What: ReportOn, Fresh: true}}, nil},
		"no meal yet":    {Correction{Changed: ChangeYes}, meals[3:], []Report{{At: received, Slot: slot, What: ReportOn, Fresh: true}}, nil},
		"no":             {Correction{Changed: ChangeNo, Since: ago(2)}, meals, []Report{{At: received, Slot: slot, What: ReportOff, Since: ago(2)}}, nil},
		"nothing said":   {Correction{Changed: ChangeNone}, nil, nil, []Flag{{At: received, Slot: slot, What: FlagOther, Closed: received}}},
		"nothing at all": {Correction{}, nil, nil, nil},
		"numbers": {Correction{Changed: ChangeNone, Off: []OffSpan{{ago(3), ago(2)}}, Worn: &Total{NewDate(2026, 6, 1), 20}, Sore: &three}, nil, []Report{
			{At: received, Slot: slot, What: ReportOffSpan, From: ago(3), To: ago(2)}, {At: received, Slot: slot, What: ReportWornTotal, Day: NewDate(2026, 6, 1), Hours: 20},
			{At: received, Slot: slot, What: ReportSoreness, Value: 3}}, nil},
		"a flag": {Correction{Changed: ChangeNone, Flags: []Flag{{What: FlagAllergy, Level: Red}}}, nil, nil, []Flag{{At: received, Slot: slot, What: FlagAllergy, Level: Red}}},
	} {
		if fs := c.said.Check(received); len(fs) > 0 {
			t.Errorf("%s: refused: %v", name, fs)
		}
		reports, flags := c.said.Facts(slot, received, c.meals)
		if d := cmp.Diff(c.reports, reports); d != "" {
			t.Errorf("%s: reports (-want +got):\n%s", name, d)
		}
		if d := cmp.Diff(c.flags, flags); d != "" {
			t.Errorf("%s: flags (-want +got):\n%s", name, d)
		}
	}
}

func TestACorrectionTellsOfNothingAfterItsReply(t *testing.T) {
	// 03:30 UTC on the 2nd is still the 1st in New York.
	ny, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	received := time.Date(2026, 6, 2, 3, 30, 0, 0, time.UTC).In(ny)
	for _, c := range []struct {
		said   Correction
		faults int
	}{
		{Correction{Changed: ChangeYes, At: received}, 0},
		{Correction{Changed: ChangeYes, At: received.Add(time.Millisecond)}, 1},
		{Correction{Off: []OffSpan{{received.Add(-1), received}}}, 0},
		{Correction{Off: []OffSpan{{received, received.Add(1)}}}, 1},
		{Correction{Off: []OffSpan{{received, received}}}, 1},
		{Correction{Worn: &Total{NewDate(2026, 6, 1), 0}}, 0},
		{Correction{Worn: &Total{NewDate(2026, 6, 2), 0}}, 1},
		{Correction{Worn: &Total{NewDate(2026, 6, 1), -0.5}}, 1},
		{Correction{Changed: ChangeNo, Since: received.Add(-1)}, 0},
		{Correction{Changed: ChangeNo, Since: received}, 1},
	} {
		if fs := c.said.Check(received); len(fs) != c.faults {
			t.Errorf("%+v: %v", c.said, fs)
		}
	}
}
