package inbox

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

func TestAnswers(t *testing.T) {
	stopped, own := nudge(), nudge()
	stopped.Patient.Stopped = received.Add(-time.Hour)
	own.Outgoing.To.Stopped = received.Add(-time.Hour)
	stop := func(r *reply.Reading) { r.Stop = true }
	allergy := func(level string) func(*reply.Reading) { return func(r *reply.Reading) { r.Allergy = level } }
	both := func(r *reply.Reading) { r.Stop, r.Allergy = true, reply.Red }
	for _, tc := range []struct {
		name   string
		m      match
		from   string
		header string
		set    func(*reply.Reading)
		want   []string
	}{
		{"nothing", matched(nudge()), "ana@patients.test", "", func(*reply.Reading) {}, nil},
		{"stop", matched(nudge()), "ana@patients.test", "", stop, []string{"stopped"}},
		{"stop by Message-ID", match{how: byMessageID, asked: nudge()}, "ana@patients.test", "", stop, []string{"stopped"}},
		{"red", matched(nudge()), "ana@patients.test", "", allergy(reply.Red), []string{"emergency"}},
		{"yellow", matched(nudge()), "ana@patients.test", "", allergy(reply.Yellow), []string{"emergency-yellow"}},
		{"both, the alarm first", matched(nudge()), "ana@patients.test", "", both, []string{"emergency", "stopped"}},
		{"told before", matched(stopped), "ana@patients.test", "", both, []string{"emergency"}},
		{"this address told before", matched(own), "ana@patients.test", "", stop, nil},
		{"unmatched", match{how: byNothing}, "ana@patients.test", "", both, nil},
		{"self-harm", matched(nudge()), "ana@patients.test", "", func(r *reply.Reading) { r.Stop, r.NoAnswer = true, true }, nil},
		{"machine", matched(nudge()), "ana@patients.test", "", func(r *reply.Reading) { r.Stop, r.Kind = true, reply.KindAutoReply }, nil},
		// RFC 3834 section 2 and RFC 5321 section 4.5.5.
		{"null path", matched(nudge()), "", "", both, nil},
		{"Auto-Submitted", matched(nudge()), "ana@patients.test", "Auto-Submitted: auto-replied (vacation)", both, nil},
		{"Auto-Submitted no", matched(nudge()), "ana@patients.test", "Auto-Submitted: no", stop, []string{"stopped"}},
		{"list", matched(nudge()), "ana@patients.test", "List-Id: <x.patients.test>", both, nil},
		{"Precedence bulk", matched(nudge()), "ana@patients.test", "Precedence: bulk", both, nil},
		{"MAILER-DAEMON", matched(nudge()), "MAILER-DAEMON@patients.test", "", both, nil},
		{"owner-", matched(nudge()), "Owner-x@patients.test", "", both, nil},
		{"-request", matched(nudge()), "x-request@patients.test", "", both, nil},
		{"a name that only sounds like it", matched(nudge()), "homeowner-ana@patients.test", "", stop, []string{"stopped"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			rd := said()
			tc.set(&rd)
			raw := letter(ours, "text")
			if tc.header != "" {
				raw = letter(ours, "text", tc.header)
			}
			got := hear(plan.Inbound{From: tc.from, Received: received}, scan(raw), tc.m, rd).Answers
			if d := cmp.Diff(tc.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}
