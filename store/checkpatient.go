package store

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"bandbell/scheduler/plan"
)

// Limits of what is typed in. Common practice, no source; they keep a pasted
// page out of a name.
const (
	maxName  = 200
	maxPhone = 40
	maxRef   = 32
)

// checkPatient settles the addresses and returns every fault of a new patient.
func checkPatient(p *plan.Patient) error {
	var fs plan.Faults
	say := func(path, what, hint string) { fs = append(fs, plan.Fault{Path: path, What: what, Hint: hint}) }
	text := func(path, v string, limit int) {
		switch {
		case len(v) > limit:
			say(path, fmt.Sprintf("is longer than %d octets", limit), "")
		case strings.ContainsFunc(v, unicode.IsControl):
			say(path, "holds a line break or another control character", "write it on one line")
		case !validText(v):
			say(path, "is not valid UTF-8", "")
		}
	}
	if p.Ref != "" && (len(p.Ref) > maxRef || strings.ContainsFunc(p.Ref, notRef)) {
		say("ref", "is not a ref", fmt.Sprintf("use up to %d letters a-z, digits, - and _, or leave it out", maxRef))
	}
	if strings.TrimSpace(p.FirstName) == "" {
		say("first_name", "is missing", "it is the only name that stands in a message")
	}
	text("first_name", p.FirstName, maxName)
	text("last_name", p.LastName, maxName)
	text("phone", p.Phone, maxPhone)
	if p.Language == "" {
		say("language", "is missing", `write a language tag: "en", "es"`)
	}
	text("language", p.Language, maxRef)
	if p.Zone == "" || p.Zone == "Local" {
		say("zone", "is missing", `write an IANA zone: "America/New_York"`)
	} else if _, err := time.LoadLocation(p.Zone); err != nil {
		say("zone", fmt.Sprintf("%q is not a time zone", p.Zone), `write an IANA zone: "America/New_York"`)
	}
	if !slices.Contains([]plan.Answer{"", plan.Yes, plan.No, plan.NotAsked}, p.LatexAllergy) {
		say("latex_allergy", fmt.Sprintf("%q is not an answer", p.LatexAllergy), "write yes, no or not-asked")
	}
	if p.Hold.Held() != (p.Hold.Reason != "") {
		say("hold", "needs both an instant and a reason", "")
	}
	if len(p.Recipients) == 0 {
		say("recipients", "nobody to write to", "give the patient's or a guardian's e-mail address")
	}
	p.Recipients = slices.Clone(p.Recipients)
	for i := range p.Recipients {
		r := &p.Recipients[i]
		path := fmt.Sprintf("recipients[%d].", i)
		if a, err := plan.ParseAddress(string(r.Address)); err != nil {
			say(path+"address", err.Error(), "")
		} else {
			r.Address = a
		}
		if r.Role != plan.RolePatient && r.Role != plan.RoleGuardian {
			say(path+"role", fmt.Sprintf("%q is not a role", r.Role), "write patient or guardian")
		}
		text(path+"name", r.Name, maxName)
		text(path+"language", r.Language, maxRef)
		for _, o := range p.Recipients[:i] {
			if o.Address == r.Address {
				say(path+"address", "stands twice", "keep one of the two")
				break
			}
		}
	}
	return fs.Err()
}

func validText(s string) bool { return strings.ToValidUTF8(s, "") == s }

// notRef reports a character that may not stand in a ref: refs are parts of
// keys and file names.
func notRef(r rune) bool {
	return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_')
}
