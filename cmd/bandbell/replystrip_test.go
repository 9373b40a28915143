package main

import (
	"strings"
	"testing"

	"bandbell/scheduler/plan"

	"pgregory.net/rapid"
)

var stripped = plan.Patient{FirstName: "José María", LastName: "Núñez-Alder",
	Recipients: []plan.Recipient{{Address: "jose@example.org"}, {Role: plan.RoleGuardian, Name: "Carla"}}}

func TestStrip(t *testing.T) {
	for in, want := range map[string]string{
		"yes":                                            "yes",
		"this is carla, jose's mom":                      "this is Jo, Pat's mom",
		"JOSÉ changed them. - Nunez":                     "Pat changed them. - Doe",
		"Jos\u0065\u0301 did":                            "Pat did",
		"josefina did":                                   "josefina did",
		"write to jose@example.org please":               "write to someone@home.example please",
		"see https://x.example.org/a?b=1 ok":             "see https://home.example/ ok",
		"call +1 (555) 010-4477 today":                   "call 555 0100 today",
		"off 15:00-17:00, 3.5 oz, 2 of 4":                "off 15:00-17:00, 3.5 oz, 2 of 4",
		"since 2026-06-01":                               "since 2026-06-01",
		"one\r\n\r\ntwo\n":                               `one\ntwo`,
		"a literal \\n stays apart":                      `a literal \ n stays apart`,
		"bell \a and \u202eturned":                       "bell \uFFFD and \uFFFDturned",
		"sí, ya me las cambié":                           "sí, ya me las cambié",
		"YES\n\nRef: xlfqiuvaebzqxqoydgsjvxkqibikhmoh\n": "YES",
		"my ref xlfqiuvaebzqxqoydgsjvxkqibikhmoh":        "my ref token",
		"a | b": "a | b",
		"Alder, Carla <carla@example.org> wrote 5": "Doe, Jo <someone@home.example> wrote 5",
	} {
		if got := strip(in, stripped); got != want {
			t.Errorf("%q\ngot  %q\nwant %q", in, got, want)
		}
	}
}

// However a name or an address on file is wrapped in other text, it is gone, and
// what is left is one line.
func TestStripLeavesNothingOnFile(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		secret := rapid.SampledFrom([]string{"José", "MARIA", "nuñez", "Alder", "carla", "jose@example.org"}).Draw(rt, "secret")
		edge := rapid.StringMatching(`[ .,!?\n\r0-9()<>'"-]`)
		text := rapid.String().Draw(rt, "before") + edge.Draw(rt, "left") + secret + edge.Draw(rt, "right") + rapid.String().Draw(rt, "after")
		got := strip(text, stripped)
		if strings.ContainsAny(got, "\r\n") {
			rt.Fatalf("%q is more than a line", got)
		}
		for _, w := range strings.FieldsFunc(got, func(r rune) bool { return !isLetter(r) }) {
			if bare(w) == bare(secret) {
				rt.Fatalf("%q is left in %q", secret, got)
			}
		}
		if strings.Contains(got, "jose@") {
			rt.Fatalf("an address is left in %q", got)
		}
	})
}
