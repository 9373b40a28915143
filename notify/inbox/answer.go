package inbox

import (
	"strings"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// Topics of the automatic answers that a message may call for.
const (
	topicStopped   = "stopped"          // no further e-mail will come
	topicEmergency = "emergency"        // the clinic's text on signs that may be a danger to life
	topicYellow    = "emergency-yellow" // and on signs to act on today
)

// answers lists the answers a message calls for. They go to the address on
// file, never to whatever address the message came from.
func answers(in plan.Inbound, h head, m match, rd reply.Reading) []string {
	if !m.found() || m.asked.Patient.ID == 0 || !mayAnswer(in, h, rd) {
		return nil
	}
	var out []string
	switch rd.Allergy {
	case reply.Red:
		out = append(out, topicEmergency)
	case reply.Yellow:
		out = append(out, topicYellow)
	}
	// Who said stop before has been told so once.
	if rd.Stop && m.asked.Patient.Stopped.IsZero() && m.asked.Outgoing.To.Stopped.IsZero() {
		out = append(out, topicStopped)
	}
	return out
}

// mayAnswer holds the rules by which a responder starts no loop: RFC 3834
// section 2 (no answer to the null path, to Auto-Submitted other than no, to
// lists and to the names of machines), RFC 3464 section 2 (no report about a
// report).
func mayAnswer(in plan.Inbound, h head, rd reply.Reading) bool {
	if rd.Kind != reply.KindReply || rd.NoAnswer || h.auto || h.list || in.From == "" {
		return false
	}
	local := strings.ToLower(plan.Address(in.From).Local())
	switch {
	case local == "mailer-daemon", local == "postmaster", strings.HasPrefix(local, "owner-"), strings.HasSuffix(local, "-request"):
		return false
	}
	return true
}
