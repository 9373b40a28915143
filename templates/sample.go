package templates

import "maps"

// always is what every request to a patient has; a message may use these
// outside an optional block.
var always = map[string]string{
	"clinic_name":      "Fern Street Clinic",
	"clinic_phone":     "555-0100",
	"emergency_number": "911",
}

// byKind is what requests of a kind have beside, so that a message of that kind
// may rely on it.
var byKind = map[string]map[string]int{
	"band-change": {},
	"wear-start":  {"hours_per_day": 22, "changes_per_day": 4},
	"soreness":    {"day_number": 2},
	"digest":      {"to_call": 3, "unread": 1, "sent": 118, "lapsed": 2, "failed": 0, "rows_more": 0},
}

// sampleReply has a token of the right form that no key ever made.
const sampleReply = "bands+aaaabbbbccccddddeeeeffffgggghhhhiiiijjq@clinic.test"

// Sample returns a request for an invented patient with every value given, for
// previews and for the lint.
func Sample(e Entry) Request {
	req := bare(e)
	values := map[string]string{
		"first_name":      "Ana",
		"meal":            "lunch",
		"when":            "tomorrow",
		"hooks":           "upper right eye tooth to lower right first molar",
		"wear_start_date": "15 June",
		"last_day":        "30 June",
	}
	if baseLang(e.Lang) == "es" {
		values["meal"] = "el almuerzo"
		values["when"] = "mañana"
		values["hooks"] = "colmillo superior derecho a primer molar inferior derecho"
		values["wear_start_date"] = "15 de junio"
		values["last_day"] = "30 de junio"
	}
	maps.Copy(req.Values, values)
	if e.Kind == "digest" {
		req.Rows = []string{"Patient 17: hook broken, waiting 1 day", "Patient 4: no answer since Monday"}
	}
	return req
}

// bare returns a request with only what its kind always has.
func bare(e Entry) Request {
	return Request{
		Kind: e.Kind, Variant: e.Variant, Lang: e.Lang,
		Values: maps.Clone(always), Counts: maps.Clone(byKind[e.Kind]), ReplyTo: sampleReply,
	}
}
