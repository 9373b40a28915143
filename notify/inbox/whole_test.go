package inbox

import (
	"fmt"
	"net/smtp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// gist is what a message came to, short enough to write down by hand.
type gist struct {
	Kind, How string
	Patient   int64
	Person    bool
	Reports   []string
	Flags     []string
	Stop      bool
	Bounce    string
	Answers   []string
	Holds     bool
}

func gistOf(h plan.Heard) gist {
	g := gist{Kind: h.Kind, How: h.How, Patient: h.PatientID, Person: h.NeedsPerson, Stop: h.Stop, Answers: h.Answers}
	for _, r := range h.Reports {
		s := fmt.Sprintf("%s %s", r.What, r.At.Format("15:04"))
		if r.Fresh {
			s += " fresh"
		}
		if !r.Since.IsZero() {
			s += " since " + r.Since.Format("15:04")
		}
		if r.What == plan.ReportOffSpan {
			s = fmt.Sprintf("off-span %s-%s", r.From.Format("15:04"), r.To.Format("15:04"))
		}
		if r.What == plan.ReportWornTotal {
			s = fmt.Sprintf("worn-total %s %g", r.Day, r.Hours)
		}
		if r.What == plan.ReportSoreness {
			s = fmt.Sprintf("soreness %d", r.Value)
		}
		g.Reports = append(g.Reports, s)
	}
	for _, f := range h.Flags {
		g.Flags = append(g.Flags, strings.TrimSpace(string(f.What)+" "+string(f.Level)))
		g.Holds = g.Holds || f.Holds()
	}
	if h.Bounce != nil {
		g.Bounce = h.Bounce.Class + " " + h.Bounce.Status
	}
	return g
}

// dsn is a report of a bounce in the form of RFC 3464.
func dsn(to, status string) []byte {
	return []byte(strings.Join([]string{
		"From: Mail Delivery System <MAILER-DAEMON@patients.test>",
		"To: " + to,
		"Subject: Undelivered Mail Returned to Sender",
		"Auto-Submitted: auto-replied",
		"MIME-Version: 1.0",
		`Content-Type: multipart/report; report-type=delivery-status; boundary="b1"`,
		"", "--b1", "Content-Type: text/plain", "", "The mail system could not deliver your message.", "",
		"--b1", "Content-Type: message/delivery-status", "",
		"Reporting-MTA: dns; mail.patients.test", "",
		"Final-Recipient: rfc822; ana@patients.test", "Action: failed", "Status: " + status,
		"Diagnostic-Code: smtp; 550 " + status + " <ana@patients.test>: Recipient address rejected: User unknown", "",
		"--b1--", "",
	}, "\r\n"))
}

// From the wire to the record, with the reader that the product uses. Times
// are UTC: the message's Date is 13:09 in New York, 17:09 UTC, and the
// interval of the fourth case is stated in the patient's own time.
func TestWhole(t *testing.T) {
	a := nudge()
	here := address(t, a)
	consent := nudge()
	consent.Outgoing.ID, consent.Outgoing.Key, consent.Outgoing.Cause = 702, "consent/k7m2qd", plan.CauseConsent
	consent.Outgoing.MessageID = "bb112233445566778899aabbccddeeff@clinic.test"
	consent.Nudge = plan.Nudge{}
	reports := func(s ...string) gist { return gist{Kind: "reply", How: byToken, Patient: 7, Reports: s} }
	for _, tc := range []struct {
		name, from, to string
		raw            []byte
		want           gist
	}{
		{"yes", "ana@patients.test", here, letter(here, "Yes"), reports("on 17:09 fresh")},
		{"yes, the address in capitals", "ana@patients.test", strings.ToUpper(here), letter(ours, "yup done"), reports("on 17:09 fresh")},
		{"no", "ana@patients.test", here, letter(here, "No"), reports("off 17:09")},
		{"stated interval", "ana@patients.test", here, letter(here, "Yes. They were off from 9 to 11 this morning."), reports("on 17:09 fresh", "off-span 13:00-15:00")},
		{"Spanish", "ana@patients.test", here, letter(here, "Sí, ya me las cambié"), reports("on 17:09 fresh")},
		{"quoted nudge holds the words", "ana@patients.test", here,
			letter(here, "Yes\r\n\r\nOn Mon, Jun 1, 2026 at 1:00 PM Fern Street <"+here+"> wrote:\r\n> Reply NO or STOP. Itchy lips? Hook broke?"), reports("on 17:09 fresh")},
		{"stop", "ana@patients.test", here, letter(here, "STOP"),
			gist{Kind: "reply", How: byToken, Patient: 7, Person: true, Flags: []string{"other"}, Stop: true, Answers: []string{"stopped"}}},
		{"red", "ana@patients.test", here, letter(here, "my lips are swelling up"),
			gist{Kind: "reply", How: byToken, Patient: 7, Person: true, Flags: []string{"allergy red"}, Holds: true, Answers: []string{"emergency"}}},
		{"broken hook", "ana@patients.test", here, letter(here, "Yes but the hook broke off"),
			gist{Kind: "reply", How: byToken, Patient: 7, Person: true, Reports: []string{"on 17:09 fresh"}, Flags: []string{"broken"}, Holds: true}},
		{"unmatched", "ana@patients.test", ours, letter(ours, "Yes"), gist{Kind: "unmatched", How: byNothing, Person: true}},
		{"by Message-ID", "ana@patients.test", ours, letter(ours, "Yes", "In-Reply-To: <"+a.Outgoing.MessageID+">"),
			gist{Kind: "reply", How: byMessageID, Patient: 7, Reports: []string{"on 17:09 fresh"}}},
		{"yes to the request for consent", "ana@patients.test", address(t, consent), letter(ours, "Yes"),
			gist{Kind: "reply", How: byToken, Patient: 7, Person: true, Flags: []string{"other"}}},
		{"vacation", "", here, letter(here, "I am away until Friday. STOP", "Auto-Submitted: auto-replied (vacation)"),
			gist{Kind: "auto-reply", How: byToken, Patient: 7}},
		{"machine without a mark but the null path", "", here, letter(here, "Yes"), gist{Kind: "auto-reply", How: byToken, Patient: 7}},
		{"bounce", "", here, dsn(here, "5.1.1"), gist{Kind: "bounce", How: byToken, Patient: 7, Bounce: "permanent 5.1.1"}},
		{"forged bounce", "", ours, dsn(ours, "5.1.1"), gist{Kind: "bounce", How: byNothing}},
		{"mail to postmaster", "x@patients.test", "postmaster@clinic.test", letter("postmaster@clinic.test", "Your server is slow"), gist{Kind: "unmatched", How: byNothing, Person: true}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			rec := newShelf(a, consent)
			i := newInbox(t, rec)
			addr, _ := serve(t, i)
			if err := smtp.SendMail(addr, nil, tc.from, []string{tc.to}, tc.raw); err != nil {
				t.Fatal(err)
			}
			step(t, i, 1)
			step(t, i, 0)
			h := rec.heard[1]
			got := gistOf(h)
			if tc.want.Kind == "bounce" || tc.want.Kind == "auto-reply" {
				got.Person = false // the reader's own judgement, tested there
			}
			if d := cmp.Diff(tc.want, got, cmpopts.EquateEmpty()); d != "" {
				t.Errorf("%s\nwhy: %s", d, h.Why)
			}
			if len(h.Reading) == 0 || !h.At.Equal(received) {
				t.Errorf("reading %s at %v", h.Reading, h.At)
			}
		})
	}
}

// The plain yes to the question about a whole day: one fresh set a meal
// (07:30, 12:30 and 18:30 in New York), each tied to the slot that was asked
// about; an answer before dinner says nothing of dinner.
func TestWholeDay(t *testing.T) {
	for clock, want := range map[string]int{"20:29:00": 3, "18:00:00": 2} {
		a := nudge()
		a.Nudge.Slot, a.Nudge.Whole = "2026-06-01/PCV", true
		date, err := time.Parse(time.RFC3339, "2026-06-01T"+clock+"-04:00")
		if err != nil {
			t.Fatal(err)
		}
		rec := newShelf(a)
		i := newInbox(t, rec)
		raw := strings.Replace(string(letter(ours, "Yes")), "13:09:00", clock, 1)
		take(t, i, plan.Inbound{Raw: []byte(raw), To: []string{address(t, a)}, From: "ana@patients.test", Received: date.Add(time.Minute).UTC()})
		step(t, i, 1)
		h := rec.heard[1]
		hours := map[int]bool{}
		for _, r := range h.Reports {
			at := r.At.In(date.Location())
			if r.What != plan.ReportOn || !r.Fresh || r.Slot != "2026-06-01/PCV" || at.Day() != 1 || at.After(date) {
				t.Errorf("at %s: report %+v", clock, r)
			}
			hours[at.Hour()] = true
		}
		if len(h.Reports) != want || len(hours) != want || len(h.Flags) != 0 {
			t.Errorf("at %s: %d reports in the hours %v, want one for each of %d meals", clock, len(h.Reports), hours, want)
		}
	}
}

// A complaint to the mail provider (RFC 5965) with the token in the message it
// returns stops the mail; without a token it is only told.
func TestComplaint(t *testing.T) {
	a := nudge()
	for _, replyTo := range []string{address(t, a), ours} {
		raw := []byte(strings.Join([]string{
			"From: <fbl@provider.test>", "To: " + ours, "Subject: complaint", "MIME-Version: 1.0",
			`Content-Type: multipart/report; report-type=feedback-report; boundary="b1"`,
			"", "--b1", "Content-Type: text/plain", "", "This is a complaint.", "",
			"--b1", "Content-Type: message/feedback-report", "", "Feedback-Type: abuse", "User-Agent: x/1", "Version: 1", "",
			"--b1", "Content-Type: message/rfc822", "", "From: clinic <" + ours + ">", "Reply-To: " + replyTo, "Subject: After lunch", "", "Fresh bands?", "",
			"--b1--", "",
		}, "\r\n"))
		rec := newShelf(a)
		i := newInbox(t, rec)
		take(t, i, plan.Inbound{Raw: raw, From: "fbl@provider.test", To: []string{ours}, Source: "smtp"})
		step(t, i, 1)
		h := rec.heard[1]
		if h.Stop != (replyTo != ours) || !h.NeedsPerson || h.Kind != reply.KindAutoReply || len(h.Answers) != 0 {
			t.Errorf("Reply-To %s: %s, stop %v, person %v, answers %v", replyTo, h.Kind, h.Stop, h.NeedsPerson, h.Answers)
		}
	}
}

func BenchmarkStep(b *testing.B) {
	a := nudge()
	raw := letter(address(b, a), "Yes\r\n\r\nOn Mon, Jun 1, 2026 at 1:00 PM Fern Street <"+address(b, a)+"> wrote:\r\n> Fresh bands after lunch?")
	in := plan.Inbound{ID: 1, Raw: raw, From: "ana@patients.test", To: []string{address(b, a)}, Received: received}
	rec := newShelf(a)
	i := newInbox(b, rec)
	b.SetBytes(int64(len(raw)))
	for b.Loop() {
		clear(rec.heard)
		rec.inbound = append(rec.inbound[:0], in)
		if n, err := i.Step(b.Context()); n != 1 || err != nil {
			b.Fatal(n, err)
		}
	}
}
