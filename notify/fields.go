package notify

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"bandbell/scheduler/plan"
	"bandbell/templates"
)

// field is one header field, its value already in the form it travels in.
type field struct{ name, value string }

// ValueError says that a value cannot stand in a header field. It never
// repeats the value.
type ValueError struct{ Field, Why string }

// Error names the field and what is wrong with the value.
func (e *ValueError) Error() string { return fmt.Sprintf("%s: %s", e.Field, e.Why) }

// dateLayout is the date-time of RFC 5322 section 3.3.
const dateLayout = "Mon, 02 Jan 2006 15:04:05 -0700"

// maxForeignID is the longest Message-ID of somebody else that is quoted.
const maxForeignID = 250

// fields are the header fields of a message, in order. There is exactly one
// Date and one From (RFC 5322 section 3.6).
func (c *Composer) fields(job plan.Job, id identity, text Text, at time.Time) ([]field, error) {
	to, from := onWire(job.To.Address), onWire(c.Clinic.From)
	automatic := "auto-generated" // RFC 3834 section 5: no responder answers it
	if job.Cause == plan.CauseAnswer {
		automatic = "auto-replied"
	}
	for _, v := range []field{
		{"From name", c.Clinic.Name}, {"From", string(from)}, {"To", string(to)}, {"Reply-To", string(id.reply)},
		{"Message-ID", id.messageID}, {"Subject", text.Subject}, {"Content-Language", text.Language},
	} {
		if err := checkValue(v); err != nil {
			return nil, err
		}
	}
	for name, a := range map[string]plan.Address{"From": from, "To": to, "Reply-To": id.reply} {
		if p, err := plan.ParseAddress(string(a)); err != nil || p != a {
			return nil, &ValueError{name, "is not a bare e-mail address"}
		}
	}
	fields := []field{
		{"Date", at.UTC().Truncate(time.Second).Format(dateLayout)},
		{"From", phrase(c.Clinic.Name) + "<" + string(from) + ">"},
		{"To", "<" + string(to) + ">"},
		{"Reply-To", "<" + string(id.reply) + ">"},
		{"Subject", unstructured(text.Subject)},
		{"Message-ID", "<" + id.messageID + ">"},
	}
	if quoted := job.AnswersID; job.Cause == plan.CauseAnswer && foreignID(quoted) {
		fields = append(fields, field{"In-Reply-To", "<" + quoted + ">"}, field{"References", "<" + quoted + ">"})
	}
	fields = append(fields, field{"Auto-Submitted", automatic})
	switch job.Cause {
	case plan.CauseNudge, plan.CauseConsent, plan.CauseAnswer:
		// RFC 2369 section 3.2: one field, its URL in angle brackets.
		fields = append(fields, field{"List-Unsubscribe", "<" + templates.Mailto(string(id.reply), "STOP", "STOP") + ">"})
	}
	if text.Language != "" {
		fields = append(fields, field{"Content-Language", text.Language})
	}
	return fields, nil
}

// checkValue refuses what would end a header line (RFC 5322 section 2.2) or
// hide in one.
func checkValue(v field) error {
	for _, r := range v.value {
		switch {
		case r == '\r' || r == '\n':
			return &ValueError{v.name, "a line end cannot stand in it"}
		case r == 0:
			return &ValueError{v.name, "a NUL cannot stand in it"}
		case unicode.IsControl(r):
			return &ValueError{v.name, "a control character cannot stand in it"}
		}
	}
	return nil
}

// foreignID reports whether a Message-ID that came with a reply may be quoted:
// visible ASCII with one @ and nothing that ends it early (RFC 5322 section
// 3.6.4). Whatever else a mailer made up is left out, and the answer sent
// without.
func foreignID(id string) bool {
	if len(id) > maxForeignID || strings.Count(id, "@") != 1 || strings.HasPrefix(id, "@") || strings.HasSuffix(id, "@") {
		return false
	}
	for i := range len(id) {
		if id[i] <= ' ' || id[i] >= 0x7f || strings.IndexByte("<>()\\,;\"", id[i]) >= 0 {
			return false
		}
	}
	return id != ""
}
