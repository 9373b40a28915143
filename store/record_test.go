package store

import (
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/google/go-cmp/cmp"
)

// recordOf is a record with its nudges' outcomes in a word each.
type recordOf struct {
	*compliance.Record
	outcomes string
}

func recordAt(db *DB, ref string, at time.Time) (recordOf, error) {
	r, err := db.PatientRecord(ctx, ref, at, nil)
	if err != nil {
		return recordOf{}, err
	}
	var words []string
	for _, n := range r.Nudges {
		words = append(words, string(n.Outcome))
	}
	return recordOf{r, strings.Join(words, " ")}, nil
}

func TestOutcomeOfAMessage(t *testing.T) {
	for _, c := range []struct {
		state          plan.State
		ended, bounced bool
		want           compliance.Outcome
	}{
		{plan.Planned, false, false, compliance.OutcomePlanned},
		{plan.Claimed, false, false, compliance.OutcomePlanned},
		{plan.DotSent, false, false, compliance.OutcomePlanned},
		{plan.Retry, false, false, compliance.OutcomePlanned},
		{plan.Uncertain, false, false, compliance.OutcomePlanned},
		{plan.Uncertain, true, false, compliance.OutcomeFailed},
		{plan.Suppressed, true, false, compliance.OutcomeFailed},
		{plan.Failed, true, false, compliance.OutcomeFailed},
		{plan.Lapsed, true, false, compliance.OutcomeLapsed},
		{plan.Accepted, true, false, compliance.OutcomeAccepted},
		{plan.Accepted, true, true, compliance.OutcomeBounced},
		{plan.Uncertain, true, true, compliance.OutcomeBounced},
	} {
		if got := outcome(c.state, c.ended, c.bounced); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

func TestThePatientsOwnMessageDecidesTheOutcome(t *testing.T) {
	guardian := plan.Recipient{Role: plan.RoleGuardian, Name: "Otto", Address: "otto@patients.example.org", Consent: agreed(noon)}
	second := guardian
	second.Address = "ada@patients.example.org"
	for name, c := range map[string]struct {
		people []plan.Recipient
		fail   plan.Address // refused for good; the others are accepted
		want   string
	}{
		"the patient's is refused":            {[]plan.Recipient{guardian, somebody(1).Recipients[0]}, "nora1@patients.example.org", "failed"},
		"the guardian's is refused":           {[]plan.Recipient{guardian, somebody(1).Recipients[0]}, "otto@patients.example.org", "accepted"},
		"one of two guardians', no patient's": {[]plan.Recipient{guardian, second}, "otto@patients.example.org", "accepted"},
	} {
		t.Run(name, func(t *testing.T) {
			db := open(t)
			p := somebody(1)
			p.Recipients = c.people
			p = enrol(t, db, p, "")
			owe(t, db, p, noon, change(today, "PCD", noon))
			for _, j := range must[[]plan.Job](t)(db.Claim(ctx, noon, 5)) {
				if j.To.Address == c.fail {
					ok(t, db.Fail(ctx, j.ID, "550", noon))
				} else {
					send(t, db, j, noon)
				}
			}
			if r := must[recordOf](t)(recordAt(db, p.Ref, noon)); r.outcomes != c.want {
				t.Errorf("got %q", r.outcomes)
			}
		})
	}
}

func TestPatientRecord(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	n := change(today, "PCD", noon)
	j := sent(t, db, p, n)
	on := plan.Report{At: noon.Add(5 * time.Minute), Slot: n.Slot, What: plan.ReportOn, Fresh: true}
	off := plan.Report{At: noon.Add(7 * time.Minute), What: plan.ReportOff, Since: noon.Add(-3 * time.Hour)}
	span := plan.Report{At: noon.Add(7 * time.Minute), What: plan.ReportOffSpan, From: noon.Add(-5 * time.Hour), To: noon.Add(-4 * time.Hour)}
	total := plan.Report{At: noon.Add(8 * time.Minute), What: plan.ReportWornTotal, Day: today.AddDays(-1), Hours: 18.5}
	sore := plan.Report{At: noon.Add(9 * time.Minute), What: plan.ReportSoreness, Value: 6}
	late := plan.Report{At: noon.Add(3 * time.Hour), What: plan.ReportOn}
	flag := plan.Flag{At: noon.Add(9 * time.Minute), Slot: n.Slot, What: plan.FlagAllergy, Level: plan.Yellow}
	h := plan.Heard{At: noon.Add(9 * time.Minute), Kind: "reply", How: "token", PatientID: p.ID, OutgoingID: j.ID, Slot: n.Slot, Flags: []plan.Flag{flag}}
	for _, r := range []plan.Report{on, off, span, total, sore, late} {
		h.Reports = append(h.Reports, stated(r))
	}
	hear(t, db, h)

	asOf := noon.Add(time.Hour)
	r := must[recordOf](t)(recordAt(db, p.Ref, asOf))
	want := []plan.Report{on, off, span, total, sore} // the one after asOf is as if absent
	if d := cmp.Diff(want, r.Reports); d != "" {
		t.Errorf("reports (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]plan.Flag{flag}, r.Flags); d != "" {
		t.Errorf("flags (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]compliance.Nudge{{Kind: plan.BandChange, Slot: n.Slot, Due: n.Due, Until: n.Until, Outcome: compliance.OutcomeAccepted}}, r.Nudges); d != "" {
		t.Errorf("nudges (-want +got):\n%s", d)
	}
	if r.Zone.String() != "America/New_York" || !r.AsOf.Equal(asOf) || r.Settings != compliance.DefaultSettings() {
		t.Errorf("got %v, %v, %+v", r.Zone, r.AsOf, r.Settings)
	}
	if _, err := compliance.Compute(r.Record); err != nil {
		t.Errorf("no figures can be computed from it: %v", err)
	}

	must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, `,"hours_per_day":20`), today.AddDays(2), "desk:ines", asOf))
	for _, c := range []struct {
		at    time.Time
		hours float64
		from  plan.Date
		to    plan.Date
	}{
		{noon.AddDate(0, 0, -1), 22, today.AddDays(-1), today.AddDays(-1)}, // before wear that day alone
		{noon, 22, today, today},
		{noon.AddDate(0, 0, 1), 22, today, today.AddDays(1)},
		{noon.AddDate(0, 0, 2), 20, today, today.AddDays(2)},
	} {
		r := must[recordOf](t)(recordAt(db, p.Ref, c.at))
		if r.Plan.HoursPerDay != c.hours || r.Window != (compliance.Window{From: c.from, To: c.to}) {
			t.Errorf("at %v: %v h, window %v", c.at, r.Plan.HoursPerDay, r.Window)
		}
	}
	window := compliance.Window{From: today, To: today}
	if r := must[*compliance.Record](t)(db.PatientRecord(ctx, p.Ref, noon.AddDate(0, 0, 5), &window)); r.Window != window {
		t.Errorf("window %v", r.Window)
	}
}
