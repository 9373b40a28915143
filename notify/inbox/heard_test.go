package inbox

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// said is a person's reading with the given reports.
func said(reports ...reply.Report) reply.Reading {
	return reply.Reading{
		Kind: reply.KindReply, Text: "text", Lang: "en", Changed: reply.None, Allergy: reply.AllergyNone, Why: "the reader's reason",
		At: received.Add(-time.Minute), Reports: reports, Envelope: reply.Envelope{From: "ana@patients.test"},
	}
}

func matched(a plan.Asked) match { return match{how: byToken, asked: a} }

func heardOf(m match, rd reply.Reading) plan.Heard {
	in := plan.Inbound{ID: 1, From: "ana@patients.test", Received: received}
	return hear(in, scan(letter(ours, "text")), m, rd)
}

func TestReports(t *testing.T) {
	at, since := received.Add(-30*time.Minute), received.Add(-3*time.Hour)
	slot := "2026-06-01/PCD"
	msg := received.Add(-time.Minute)
	day := plan.NewDate(2026, 6, 1)
	for _, tc := range []struct {
		name string
		r    reply.Report
		want plan.Report
	}{
		{"fresh at a stated time", reply.Report{What: reply.On, At: at, Fresh: true}, plan.Report{At: at, What: plan.ReportOn, Fresh: true}},
		{"fresh at no stated time: the message's", reply.Report{What: reply.On, Fresh: true}, plan.Report{At: msg, What: plan.ReportOn, Fresh: true}},
		{"old set back on", reply.Report{What: reply.On, At: at}, plan.Report{At: at, What: plan.ReportOn}},
		{"a moment ahead is now", reply.Report{What: reply.On, At: received.Add(time.Second), Fresh: true}, plan.Report{At: received, What: plan.ReportOn, Fresh: true}},
		{"the moment of receipt", reply.Report{What: reply.On, At: received, Fresh: true}, plan.Report{At: received, What: plan.ReportOn, Fresh: true}},
		{"off", reply.Report{What: reply.Off, At: at}, plan.Report{At: at, What: plan.ReportOff}},
		{"off since", reply.Report{What: reply.Off, At: at, Since: since}, plan.Report{At: at, What: plan.ReportOff, Since: since}},
		{"off since later than off is not stated", reply.Report{What: reply.Off, At: at, Since: at.Add(time.Minute)}, plan.Report{At: at, What: plan.ReportOff}},
		{"off span", reply.Report{What: reply.OffSpan, At: at, From: since, To: at}, plan.Report{At: at, What: plan.ReportOffSpan, From: since, To: at}},
		{"worn total", reply.Report{What: reply.WornTotal, At: at, Day: "2026-06-01", Hours: 21}, plan.Report{At: at, What: plan.ReportWornTotal, Day: day, Hours: 21}},
		{"worn total of the long day", reply.Report{What: reply.WornTotal, At: at, Day: "2026-06-01", Hours: 25}, plan.Report{At: at, What: plan.ReportWornTotal, Day: day, Hours: 25}},
		{"soreness", reply.Report{What: reply.Sore, At: at, Value: 6.5}, plan.Report{At: at, What: plan.ReportSoreness, Value: 7}},
		{"soreness 10", reply.Report{What: reply.Sore, At: at, Value: 10}, plan.Report{At: at, What: plan.ReportSoreness, Value: 10}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			tc.r.Span, tc.r.Certainty = [2]int{1, 3}, 0.8
			tc.want.Slot = slot
			got := heardOf(matched(nudge()), said(tc.r))
			want := plan.Heard{
				At: received, Kind: "reply", How: "token", PatientID: 7, OutgoingID: 700, Slot: slot,
				Text: "text", Lang: "en", Why: "the reader's reason",
				Reports: []plan.Stated{{Report: tc.want, Span: [2]int{1, 3}, Certainty: 0.8}},
			}
			if d := cmp.Diff(want, got, cmpopts.IgnoreFields(plan.Heard{}, "Reading")); d != "" {
				t.Error(d)
			}
		})
	}
}

// What a record cannot hold is left out and shown to a person.
func TestImpossible(t *testing.T) {
	for name, r := range map[string]reply.Report{
		"span backwards": {What: reply.OffSpan, From: received, To: received.Add(-time.Minute)},
		"span of none":   {What: reply.OffSpan, From: received, To: received},
		"span unbounded": {What: reply.OffSpan, To: received},
		"26 hours":       {What: reply.WornTotal, Day: "2026-06-01", Hours: 26},
		"minus 1 hour":   {What: reply.WornTotal, Day: "2026-06-01", Hours: -1},
		"no day":         {What: reply.WornTotal, Hours: 5},
		"soreness 11":    {What: reply.Sore, Value: 11},
		"soreness -1":    {What: reply.Sore, Value: -1},
	} {
		got := heardOf(matched(nudge()), said(r))
		if len(got.Reports) != 0 || !got.NeedsPerson || len(got.Flags) != 1 {
			t.Errorf("%s: %d reports, %d flags, person %v", name, len(got.Reports), len(got.Flags), got.NeedsPerson)
		}
	}
}

func TestFlags(t *testing.T) {
	at := received.Add(-time.Minute)
	var reports []reply.Report
	var want []plan.Flag
	for _, what := range plan.AllFlags {
		r := reply.Report{What: string(what)}
		f := plan.Flag{At: at, Slot: "2026-06-01/PCD", What: what}
		if what == plan.FlagAllergy {
			r.Level, f.Level = reply.Yellow, plan.Yellow
		}
		reports, want = append(reports, r), append(want, f)
	}
	reports = append(reports, reply.Report{What: reply.FlagAllergy, Level: reply.Red}, reply.Report{What: reply.FlagAllergy}, reply.Report{What: "something new"})
	want = append(want,
		plan.Flag{At: at, Slot: "2026-06-01/PCD", What: plan.FlagAllergy, Level: plan.Red},
		plan.Flag{At: at, Slot: "2026-06-01/PCD", What: plan.FlagAllergy, Level: plan.Red},
		plan.Flag{At: at, Slot: "2026-06-01/PCD", What: plan.FlagOther})
	if d := cmp.Diff(want, heardOf(matched(nudge()), said(reports...)).Flags); d != "" {
		t.Error(d)
	}
}

// A person's answer always leaves a trace; a machine's never does.
func TestTrace(t *testing.T) {
	other := []plan.Flag{{At: received, Slot: "2026-06-01/PCD", What: plan.FlagOther}}
	for kind, want := range map[string][]plan.Flag{
		reply.KindReply: other, reply.KindUnreadable: other,
		reply.KindAutoReply: nil, reply.KindLoop: nil, reply.KindBounce: nil,
	} {
		rd := said()
		rd.Kind = kind
		got := heardOf(matched(nudge()), rd)
		if d := cmp.Diff(want, got.Flags); d != "" || got.Kind != kind {
			t.Errorf("%s: %s %s", kind, got.Kind, d)
		}
		if (kind == reply.KindUnreadable) != got.NeedsPerson {
			t.Errorf("%s: needs a person: %v", kind, got.NeedsPerson)
		}
	}
}

// A machine states nothing, whatever its words hold; a complaint it passes on
// is a stop (RFC 5965) where the token proves it.
func TestMachine(t *testing.T) {
	for _, kind := range []string{reply.KindAutoReply, reply.KindLoop, reply.KindBounce} {
		rd := said(reply.Report{What: reply.On, Fresh: true}, reply.Report{What: reply.FlagAllergy, Level: reply.Red})
		rd.Kind, rd.Stop, rd.Wish, rd.Allergy = kind, true, "start", reply.Red
		for _, how := range []string{byToken, byMessageID} {
			got := heardOf(match{how: how, asked: nudge()}, rd)
			if len(got.Reports)+len(got.Flags)+len(got.Answers) != 0 || got.Start || got.Mismatch {
				t.Errorf("%s has an effect: %+v", kind, got)
			}
			if got.Stop != (kind == reply.KindAutoReply && how == byToken) {
				t.Errorf("%s by %s: stop %v", kind, how, got.Stop)
			}
		}
	}
}

func TestUnmatched(t *testing.T) {
	none := match{how: byNothing}
	for kind, want := range map[string]string{
		reply.KindReply: "unmatched", reply.KindAutoReply: reply.KindAutoReply, reply.KindLoop: reply.KindLoop,
		reply.KindBounce: reply.KindBounce, reply.KindUnreadable: reply.KindUnreadable,
	} {
		rd := said(reply.Report{What: reply.On, Fresh: true}, reply.Report{What: reply.FlagAllergy, Level: reply.Red})
		rd.Kind, rd.Stop, rd.Allergy = kind, true, reply.Red
		rd.Bounce = &reply.Bounce{Recipient: "ana@patients.test", Class: "permanent", Status: "5.1.1", Cause: reply.CauseAddress}
		got := heardOf(none, rd)
		if got.Kind != want || got.How != "none" {
			t.Errorf("%s became %s, %s", kind, got.Kind, got.How)
		}
		// RFC 3464 section 4.1: a report of a bounce is easily forged.
		if got.PatientID != 0 || got.OutgoingID != 0 || len(got.Reports)+len(got.Flags)+len(got.Answers) != 0 || got.Stop || got.Bounce != nil {
			t.Errorf("%s has an effect: %+v", kind, got)
		}
		if person := kind == reply.KindReply || kind == reply.KindUnreadable; got.NeedsPerson != person {
			t.Errorf("%s: needs a person: %v", kind, got.NeedsPerson)
		}
	}
	if got := heardOf(match{how: byNothing, two: true}, said()); got.Kind != "unmatched" || !got.NeedsPerson {
		t.Errorf("two patients: %+v", got)
	}
}

func TestBounce(t *testing.T) {
	for _, tc := range []struct {
		name          string
		how           string
		b             reply.Bounce
		class, status string // empty class: no bounce on record
	}{
		{"dead address", byToken, reply.Bounce{Class: "permanent", Status: "5.1.1", Cause: reply.CauseAddress}, "permanent", "5.1.1"},
		{"dead address in words alone", byToken, reply.Bounce{Class: "permanent", Cause: reply.CauseAddress}, "permanent", "5.1.1"},
		{"for a time", byToken, reply.Bounce{Class: "temporary", Cause: reply.CauseAddress}, "temporary", ""},
		{"code of an address, words of a policy", byToken, reply.Bounce{Class: "permanent", Status: "5.1.8", Cause: reply.CausePolicy}, "permanent", "5.7.0"},
		{"policy in words alone", byToken, reply.Bounce{Class: "permanent", Cause: reply.CausePolicy}, "permanent", "5.7.0"},
		{"policy for a time", byToken, reply.Bounce{Class: "temporary", Status: "4.7.1", Cause: reply.CausePolicy}, "temporary", "4.7.1"},
		{"code of an address, words of a full mailbox", byToken, reply.Bounce{Class: "permanent", Status: "5.1.1", Cause: reply.CauseMailbox}, "permanent", "5.0.0"},
		{"cause unknown", byToken, reply.Bounce{Class: "permanent", Status: "5.1.1"}, "permanent", "5.1.1"},
		{"policy", byToken, reply.Bounce{Class: "permanent", Status: "5.7.1", Cause: reply.CausePolicy}, "permanent", "5.7.1"},
		{"mailbox full", byToken, reply.Bounce{Class: "permanent", Status: "5.2.2", Cause: reply.CauseMailbox}, "permanent", "5.2.2"},
		{"Message-ID alone", byMessageID, reply.Bounce{Class: "permanent", Status: "5.1.1", Cause: reply.CauseAddress}, "", ""},
	} {
		rd := said()
		rd.Kind, rd.Bounce = reply.KindBounce, &tc.b
		got := heardOf(match{how: tc.how, asked: nudge()}, rd)
		switch {
		case tc.class == "" && got.Bounce != nil:
			t.Errorf("%s: %+v", tc.name, got.Bounce)
		case tc.class != "" && (got.Bounce == nil || got.Bounce.Class != tc.class || got.Bounce.Status != tc.status):
			t.Errorf("%s: %+v, want %s %q", tc.name, got.Bounce, tc.class, tc.status)
		}
	}
}

// The token says whom a reply is about; an address nobody gave us may not
// state wear, and what protects the patient counts from anybody.
func TestMismatch(t *testing.T) {
	for _, tc := range []struct {
		from             string
		mismatch, strict bool
	}{
		{"ana@patients.test", false, false},
		{"Ana@Patients.Test", false, false},
		{"ana+school@patients.test", false, false},
		{"rosa@patients.test", true, false}, // her mother, whose address is on file
		{"brother@patients.test", true, true},
		{"ana@patients.test.example.org", true, true},
		{"", false, false}, // the envelope names her
	} {
		rd := said(reply.Report{What: reply.On, Fresh: true}, reply.Report{What: reply.Sore, Value: 7}, reply.Report{What: reply.Sore, Value: 8},
			reply.Report{What: reply.FlagBroken})
		rd.Envelope.From, rd.Stop, rd.Wish = tc.from, true, "start"
		got := heardOf(matched(nudge()), rd)
		reports := 3
		if tc.strict {
			reports = 1 // soreness of 8, which holds nudges
		}
		if got.Mismatch != tc.mismatch || got.NeedsPerson != tc.strict || len(got.Reports) != reports || len(got.Flags) != 1 || !got.Stop || got.Start == tc.strict || got.PatientID != 7 {
			t.Errorf("from %q: mismatch %v, person %v, %d reports, %d flags, stop %v, start %v, patient %d", tc.from,
				got.Mismatch, got.NeedsPerson, len(got.Reports), len(got.Flags), got.Stop, got.Start, got.PatientID)
		}
	}
}

// Once the plan is over or the patient has stopped, a reply is told and
// changes nothing; a stop and an alarm still count.
func TestPast(t *testing.T) {
	ended := func(d plan.Date) plan.Asked { a := nudge(); a.Plan.BandsEnd = d; return a }
	stopped := nudge()
	stopped.Patient.Stopped = received.Add(-time.Hour)
	today := plan.NewDate(2026, 6, 1)
	for _, tc := range []struct {
		name string
		a    plan.Asked
		past bool
	}{
		{"plan open", nudge(), false},
		{"last day is today", ended(today), false},
		{"last day was yesterday", ended(today.AddDays(-1)), false},
		{"last day was the day before", ended(today.AddDays(-2)), true},
		{"stopped", stopped, true},
	} {
		rd := said(reply.Report{What: reply.On, Fresh: true}, reply.Report{What: reply.FlagAllergy, Level: reply.Red})
		rd.Stop, rd.Wish, rd.Allergy = true, "fewer", reply.Red
		got := heardOf(matched(tc.a), rd)
		if (len(got.Reports) == 0) != tc.past || got.Fewer == tc.past || got.NeedsPerson != tc.past || !got.Stop || len(got.Flags) != 1 || got.PatientID != 7 {
			t.Errorf("%s: %d reports, fewer %v, person %v, stop %v, %d flags", tc.name, len(got.Reports), got.Fewer, got.NeedsPerson, got.Stop, len(got.Flags))
		}
	}
	rd := said()
	rd.Wish = "start"
	if got := heardOf(matched(stopped), rd); !got.Start {
		t.Error("START after STOP is lost")
	}
}

func TestStaffAndConsent(t *testing.T) {
	staff := plan.Asked{Outgoing: plan.Outgoing{ID: 9, Cause: plan.CauseDigest}}
	if got := heardOf(matched(staff), said(reply.Report{What: reply.On, Fresh: true})); len(got.Reports)+len(got.Flags)+len(got.Answers) != 0 || !got.NeedsPerson || got.OutgoingID != 9 {
		t.Errorf("reply to a digest: %+v", got)
	}
	consent := nudge()
	consent.Nudge = plan.Nudge{}
	consent.Outgoing.Cause = plan.CauseConsent
	if got := heardOf(matched(consent), said()); !got.NeedsPerson || got.Slot != "" || len(got.Reports) != 0 {
		t.Errorf("reply to the consent request: %+v", got)
	}
}
