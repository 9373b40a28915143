package inbox

import (
	"encoding/json"
	"math"
	"strings"
	"time"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// kindUnmatched is a person's message that answers nothing of ours.
const kindUnmatched = "unmatched"

const (
	// lateDays is how long after the last day of wear an answer still goes on
	// record: the last evening's is often given the next morning. Common
	// practice, no source.
	lateDays = 1
)

// hear turns a reading into what goes on record. The reader made the reports;
// here they are tied to the patient and the nudge, and held back where a rule
// about the sender, the plan or the message says so.
func hear(in plan.Inbound, h head, m match, rd reply.Reading) plan.Heard {
	heard := plan.Heard{
		At: in.Received, Kind: rd.Kind, How: m.how,
		Text: rd.Text, Lang: rd.Lang, NeedsPerson: rd.NeedsPerson,
	}
	heard.Reading, _ = json.Marshal(rd)
	var why reasons
	if heard.Kind == reply.KindUnreadable {
		heard.NeedsPerson = true
	}
	switch {
	case m.two:
		why.add("it answers for two patients at once")
	case !m.found():
		why.add("it answers no message of ours")
	}
	switch {
	case !m.found():
		// A report of a bounce that proves nothing marks nobody (RFC 3464
		// section 4.1: such reports are easily forged); of a person's words
		// nobody but a person can say whose they are.
		if heard.Kind == reply.KindReply {
			heard.Kind, heard.NeedsPerson = kindUnmatched, true
		}
	default:
		tie(&heard, m)
		switch heard.Kind {
		case reply.KindBounce:
			if m.how == byToken {
				heard.Bounce = bounce(rd.Bounce)
			}
		case reply.KindAutoReply:
			// The one wish a machine passes on is a complaint to the mail
			// provider (RFC 5965), and like a bounce it has to be proved.
			heard.Stop = rd.Stop && m.how == byToken && heard.PatientID != 0
		case reply.KindReply:
			effect(&heard, &why, in, m, rd)
			heard.Answers = answers(in, h, m, rd)
		case reply.KindUnreadable:
			trace(&heard)
		}
	}
	why.add(rd.Why)
	heard.Why = why.String()
	return heard
}

// unreadable is what a message comes to that nothing here can read.
func unreadable(in plan.Inbound, m match, why string) plan.Heard {
	heard := plan.Heard{At: in.Received, Kind: reply.KindUnreadable, How: m.how, NeedsPerson: true, Why: why, Reading: []byte("{}")}
	if m.found() {
		tie(&heard, m)
		trace(&heard)
	}
	return heard
}

func tie(heard *plan.Heard, m match) {
	heard.PatientID = m.asked.Patient.ID
	heard.OutgoingID = m.asked.Outgoing.ID
	heard.Slot = m.asked.Nudge.Slot
}

// trace leaves a flag where there is nothing else to show that somebody
// answered: a nudge that was answered is no silence.
func trace(heard *plan.Heard) {
	if heard.PatientID != 0 && len(heard.Reports) == 0 && len(heard.Flags) == 0 {
		heard.Flags = []plan.Flag{{At: heard.At, Slot: heard.Slot, What: plan.FlagOther}}
	}
}

// effect sets what a person's answer does.
func effect(heard *plan.Heard, why *reasons, in plan.Inbound, m match, rd reply.Reading) {
	a := m.asked
	if a.Patient.ID == 0 {
		heard.NeedsPerson = true
		why.add("it answers a message to staff")
		return
	}
	if !facts(heard, a, rd) {
		heard.NeedsPerson = true
		why.add("it states something that cannot be")
	}
	heard.Stop = rd.Stop
	heard.Fewer, heard.Start = rd.Wish == "fewer", rd.Wish == "start"
	from := rd.Envelope.From
	if from == "" {
		from = in.From
	}
	heard.Mismatch = !same(from, string(a.Outgoing.To.Address))
	if heard.Mismatch && !known(from, a.Patient) {
		withhold(heard)
		heard.NeedsPerson = true
		why.add("it came from an address that is not on file")
	}
	if a.Outgoing.Cause == plan.CauseConsent {
		heard.NeedsPerson = true
		why.add("it answers the request for consent")
	}
	// A stop, a sign of allergy and every other flag count whatever the plan
	// has come to; wear is no longer asked for.
	switch day := plan.DateOf(heard.At, zone(a.Patient)); {
	case !a.Patient.Stopped.IsZero():
		past(heard, why, "its patient has stopped the e-mails")
	case a.Plan.Ended(day.AddDays(-lateDays)):
		past(heard, why, "its plan has ended")
	}
	trace(heard)
}

// withhold takes back what an unknown sender may not do: state wear and ask for
// more mail. The token says whom it is about, staff say whether it is so. What
// protects the patient stays: a stop, every flag, soreness that holds nudges.
func withhold(heard *plan.Heard) {
	kept := heard.Reports[:0]
	for _, r := range heard.Reports {
		if r.What == plan.ReportSoreness && r.Value >= plan.HoldSoreness {
			kept = append(kept, r)
		}
	}
	heard.Reports = kept
	heard.Fewer, heard.Start = false, false
}

func past(heard *plan.Heard, why *reasons, text string) {
	heard.Reports, heard.Fewer, heard.NeedsPerson = nil, false, true
	why.add(text)
}

// facts converts the reader's reports and flags; false when one of them is
// outside what a record can hold.
func facts(heard *plan.Heard, a plan.Asked, rd reply.Reading) bool {
	ok := true
	for _, r := range rd.Reports {
		at := moment(r.At, rd.At, heard.At)
		if r.Meal != "" && r.At.After(heard.At) {
			continue // a meal of that day still to come
		}
		if r.IsFlag() {
			heard.Flags = append(heard.Flags, flag(r, at, heard.Slot))
			continue
		}
		s := plan.Stated{
			Report: plan.Report{At: at, Slot: heard.Slot, What: plan.ReportKind(r.What)},
			Span:   r.Span, Certainty: r.Certainty,
		}
		good := true
		switch s.What {
		case plan.ReportOn:
			s.Fresh = r.Fresh
		case plan.ReportOff:
			if !r.Since.IsZero() && r.Since.Before(at) {
				s.Since = r.Since.UTC()
			}
		case plan.ReportOffSpan:
			s.From, s.To = r.From.UTC(), r.To.UTC()
			good = !r.From.IsZero() && r.From.Before(r.To)
		case plan.ReportWornTotal:
			day, err := plan.ParseDate(r.Day)
			s.Day, s.Hours = day, r.Hours
			good = err == nil && r.Hours >= 0 && r.Hours <= 25
		case plan.ReportSoreness:
			s.Value = int(math.Round(r.Value))
			good = r.Value >= 0 && r.Value <= 10
		}
		if ok = ok && good; good {
			heard.Reports = append(heard.Reports, s)
		}
	}
	return ok
}

func flag(r reply.Report, at time.Time, slot string) plan.Flag {
	f := plan.Flag{At: at, Slot: slot, What: plan.FlagOther}
	for _, what := range plan.AllFlags {
		if string(what) == r.What {
			f.What = what
		}
	}
	if f.What == plan.FlagAllergy {
		// An alarm whose level is not named is the worst there is.
		if f.Level = plan.Level(r.Level); f.Level != plan.Yellow {
			f.Level = plan.Red
		}
	}
	return f
}

// moment is the first of the times given that is set, never one after receipt:
// nobody has done yet what lies ahead.
func moment(stated, message, received time.Time) time.Time {
	at := stated
	if at.IsZero() {
		at = message
	}
	if at.IsZero() || at.After(received) {
		at = received
	}
	return at.UTC()
}

// bounce is a delivery report as it goes on record. The reader has weighed the
// words beside the code, and the record has room for the code alone: so one
// that says "dead address" where the words say otherwise loses its detail, and
// words without a code get the one they mean (RFC 3463 sections 3.2 and 3.8).
func bounce(b *reply.Bounce) *plan.Bounce {
	if b == nil {
		return nil
	}
	out := plan.Bounce{Recipient: b.Recipient, Class: b.Class, Status: b.Status, Diagnostic: b.Diagnostic}
	switch b.Cause {
	case "":
	case reply.CauseAddress:
		if b.Class == "permanent" && b.Status == "" {
			out.Status = "5.1.1"
		}
	case reply.CausePolicy:
		if b.Class == "permanent" && (b.Status == "" || strings.HasPrefix(b.Status, "5.1.")) {
			out.Status = "5.7.0"
		}
	default:
		if strings.HasPrefix(b.Status, "5.1.") {
			out.Status = "5.0.0"
		}
	}
	return &out
}

// same compares two addresses as their owners would: letter case and a
// subaddress do not make another person.
func same(a, b string) bool { return plainAddress(a) == plainAddress(b) }

func plainAddress(s string) string {
	a := plan.Address(strings.ToLower(strings.TrimSpace(s)))
	local, _, _ := strings.Cut(a.Local(), "+")
	return local + "@" + a.Domain()
}

// known reports whether an address is one of those on file for the patient.
func known(from string, p plan.Patient) bool {
	for _, r := range p.Recipients {
		if same(from, string(r.Address)) {
			return true
		}
	}
	return false
}

// reasons are collected in the order of their weight.
type reasons []string

func (r *reasons) add(s string) {
	if s != "" {
		*r = append(*r, s)
	}
}

func (r reasons) String() string { return strings.Join(r, "; ") }
