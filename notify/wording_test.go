package notify

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func hooks(teeth ...plan.Tooth) []plan.Hook {
	var out []plan.Hook
	for _, t := range teeth {
		out = append(out, plan.Hook{Tooth: t})
	}
	return out
}

// TestHookUpInWords names teeth as ISO 3950 numbers them; the other notations
// as in the American Dental Association's Universal system (13 is 6, 46 is 30,
// 23 is 11, 36 is 19) and Palmer's.
func TestHookUpInWords(t *testing.T) {
	classII := plan.Prescription{Side: plan.Right, Upper: hooks(13), Lower: hooks(46)}
	left := plan.Prescription{Side: plan.Left, Upper: hooks(23), Lower: hooks(36)}
	triangle := plan.Prescription{Side: plan.Left, Upper: hooks(23), Lower: hooks(33, 34)}
	box := plan.Prescription{Side: plan.Front, Upper: hooks(12, 22), Lower: hooks(42, 32)}
	cross := plan.Prescription{Side: plan.Right,
		Upper: []plan.Hook{{Tooth: 16, Surface: plan.Tongue, Kind: plan.Button}}, Lower: hooks(46)}
	milk := plan.Prescription{Side: plan.Right, Upper: hooks(53), Lower: hooks(85)}
	for _, tc := range []struct {
		lang string
		n    plan.Notation
		b    plan.Prescription
		want string
	}{
		{"en", plan.ISO, classII, "right: upper canine (13) to lower first molar (46)"},
		{"en", plan.Universal, classII, "right: upper canine (6) to lower first molar (30)"},
		{"en", plan.Palmer, classII, "right: upper canine (UR3) to lower first molar (LR6)"},
		{"en", plan.Universal, left, "left: upper canine (11) to lower first molar (19)"},
		{"en", plan.ISO, triangle, "left: upper canine (23) to lower canine (33) and lower first premolar (34)"},
		{"en", plan.ISO, box, "front: upper right lateral incisor (12) and upper left lateral incisor (22) to lower right lateral incisor (42) and lower left lateral incisor (32)"},
		{"en", plan.ISO, cross, "right: upper first molar (16, tongue side) to lower first molar (46, cheek side)"},
		{"en", plan.ISO, milk, "right: upper baby canine (53) to lower baby second molar (85)"},
		{"en-GB", plan.ISO, classII, "right: upper canine (13) to lower first molar (46)"},
		{"es", plan.ISO, classII, "derecha: canino superior (13) con primer molar inferior (46)"},
		{"es-MX", plan.ISO, triangle, "izquierda: canino superior (23) con canino inferior (33) y primer premolar inferior (34)"},
		{"es", plan.ISO, milk, "derecha: canino de leche superior (53) con segundo molar de leche inferior (85)"},
		{"es", plan.ISO, cross, "derecha: primer molar superior (16, lado de la lengua) con primer molar inferior (46, lado de la mejilla)"},
		{"fi", plan.ISO, classII, "right: upper canine (13) to lower first molar (46)"},
	} {
		if got := tongueOf(tc.lang).hookUp(tc.b, tc.n); got != tc.want {
			t.Errorf("%s %s:\n got %s\nwant %s", tc.lang, tc.n, got, tc.want)
		}
	}
}

// TestManyHooksStayShort: what would not fit a value of the texts is told by
// numbers, and is never cut in the middle.
func TestManyHooksStayShort(t *testing.T) {
	p := treated()
	p.Bands = nil
	for range 2 {
		p.Bands = append(p.Bands, plan.Prescription{Side: plan.Front, Pattern: plan.Settling,
			Upper: hooks(13, 12, 11, 21, 22, 23), Lower: hooks(43, 42, 41, 31, 32, 33)})
	}
	got := composer(Text{}).hookUps(p.BandsOn(plan.NewDate(2026, 6, 2)), "en")
	half := "front: 13, 12, 11, 21, 22, 23 to 43, 42, 41, 31, 32, 33"
	if want := half + "; " + half; got != want {
		t.Errorf("got %s", got)
	}
}

// TestEveryToothHasItsOwnName: all 52 codes of ISO 3950, in both languages.
func TestEveryToothHasItsOwnName(t *testing.T) {
	for lang, words := range tongues {
		seen := map[string]plan.Tooth{}
		for code := plan.Tooth(11); code <= 85; code++ {
			if !code.Valid() {
				continue
			}
			name := words.tooth(code, true)
			if other, ok := seen[name]; ok {
				t.Errorf("%s: %d and %d are both %q", lang, code, other, name)
			}
			seen[name] = code
			if strings.Contains(name, "  ") || strings.HasSuffix(name, " ") {
				t.Errorf("%s: %d has a hole in its name %q", lang, code, name)
			}
		}
		if len(seen) != 52 {
			t.Errorf("%s: %d names, want 52", lang, len(seen))
		}
	}
}

// treated is a patient of 14 days of aligners, then Class II on both sides;
// from 1 July the left side is over.
func treated() plan.Plan {
	return plan.Plan{
		Appliance: plan.Aligners, AlignerStart: plan.NewDate(2026, 5, 18), DaysPerTray: 10, Trays: 30,
		HoursPerDay: 22, ChangesPerDay: 4, BandsEnd: plan.NewDate(2026, 12, 31),
		Bands: []plan.Prescription{
			{From: plan.NewDate(2026, 6, 1), Side: plan.Right, Pattern: plan.ClassII, Upper: hooks(13), Lower: hooks(46)},
			{From: plan.NewDate(2026, 6, 1), To: plan.NewDate(2026, 6, 30), Side: plan.Left, Pattern: plan.ClassII, Upper: hooks(23), Lower: hooks(36)},
		},
	}
}

// TestRequestOfEachNudge: which text is asked for, with which values. 1 June
// 2026 is a Monday (ISO 8601 calendar, checked with cal).
func TestRequestOfEachNudge(t *testing.T) {
	both := "right: upper canine (13) to lower first molar (46); left: upper canine (23) to lower first molar (36)"
	right := "right: upper canine (13) to lower first molar (46)"
	june := func(d int) plan.Date { return plan.NewDate(2026, 6, d) }
	for _, tc := range []struct {
		n       plan.Nudge
		variant string
		values  map[string]string
		day     int
	}{
		{plan.Nudge{Kind: plan.BandChange, Day: june(2), Slot: "2026-06-02/PCM"}, "PCM", map[string]string{"meal": "breakfast", "when": "Tuesday 2 June 2026", "hooks": both}, 2},
		{plan.Nudge{Kind: plan.BandChange, Day: june(2), Slot: "2026-06-02/HS"}, "HS", map[string]string{"meal": "bedtime", "when": "Tuesday 2 June 2026", "hooks": both}, 2},
		{plan.Nudge{Kind: plan.BandChange, Day: june(2), Slot: "2026-06-02/PC"}, "PC", map[string]string{"when": "Tuesday 2 June 2026", "hooks": both}, 2},
		{plan.Nudge{Kind: plan.BandChange, Day: june(2), Slot: "2026-06-02/PCV", Whole: true}, "day", map[string]string{"when": "Tuesday 2 June 2026", "hooks": both}, 2},
		{plan.Nudge{Kind: plan.WearStart, Day: plan.NewDate(2026, 5, 29), Slot: "d-3"}, "d-3", map[string]string{"when": "Monday 1 June 2026", "hooks": both}, 1},
		{plan.Nudge{Kind: plan.WearStart, Day: june(1), Slot: "d0"}, "d0", map[string]string{"when": "Monday 1 June 2026", "hooks": both}, 1},
		{plan.Nudge{Kind: plan.WearStart, Day: plan.NewDate(2026, 7, 1), Slot: "b/2026-07-01"}, "b", map[string]string{"when": "Wednesday 1 July 2026", "hooks": right,
			"stopped_hooks": "left: upper canine (23) to lower first molar (36)"}, 31},
		{plan.Nudge{Kind: plan.Soreness, Day: june(7), Slot: "s7"}, "7", map[string]string{"when": "Sunday 7 June 2026", "hooks": both}, 7},
		{plan.Nudge{Kind: plan.Soreness, Day: june(21), Slot: "2026-06-20/s2"}, "r2", map[string]string{"when": "Sunday 21 June 2026", "hooks": both}, 2},
	} {
		j := nudge(1)
		j.Plan, j.Nudge = treated(), tc.n
		c := composer(Text{})
		r, err := c.request(j, identity{})
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]string{
			"first_name": "Mira", "clinic_name": "Harbour Orthodontics", "clinic_phone": "555 0100",
			"wear_start_date": "Monday 1 June 2026", "last_day": "Thursday 31 December 2026",
		}
		for k, v := range tc.values {
			want[k] = v
		}
		if r.Kind != string(tc.n.Kind) || r.Variant != tc.variant {
			t.Errorf("%s: asks for %s.%s", tc.n.Slot, r.Kind, r.Variant)
		}
		if d := cmp.Diff(want, r.Values); d != "" {
			t.Errorf("%s: values (-want +got):\n%s", tc.n.Slot, d)
		}
		if d := cmp.Diff(map[string]int{"hours_per_day": 22, "changes_per_day": 4, "day_number": tc.day}, r.Numbers); d != "" {
			t.Errorf("%s: numbers (-want +got):\n%s", tc.n.Slot, d)
		}
	}
	for _, bad := range []plan.Nudge{
		{Kind: plan.BandChange, Slot: "2026-06-02/XX"}, {Kind: plan.BandChange, Slot: ""},
		{Kind: plan.Soreness, Slot: "s0"}, {Kind: plan.Soreness, Slot: "sx"}, {Kind: "other", Slot: "s1"},
	} {
		j := nudge(1)
		j.Nudge = bad
		if _, err := composer(Text{}).request(j, identity{}); err == nil {
			t.Errorf("%s %q: asked for a text", bad.Kind, bad.Slot)
		}
	}
}

// TestRequestOfTheOthers: answers, consent and test; whose language; who is
// greeted.
func TestRequestOfTheOthers(t *testing.T) {
	for _, tc := range []struct {
		cause         plan.Cause
		topic         string
		kind, variant string
	}{
		{plan.CauseAnswer, "stopped", "stopped", ""}, {plan.CauseAnswer, "emergency", "emergency", "red"},
		{plan.CauseAnswer, "emergency-yellow", "emergency", "yellow"},
		{plan.CauseAnswer, "pain", "answer", "pain"}, {plan.CauseConsent, "", "consent", ""}, {plan.CauseTest, "", "test", ""},
	} {
		j := nudge(1)
		j.Cause, j.Topic = tc.cause, tc.topic
		if r, err := composer(Text{}).request(j, identity{}); err != nil || r.Kind != tc.kind || r.Variant != tc.variant {
			t.Errorf("%s %s: asks for %s.%s, %v", tc.cause, tc.topic, r.Kind, r.Variant, err)
		}
	}
	for _, cause := range []plan.Cause{plan.CauseAnswer, "other"} {
		j := nudge(1)
		j.Cause, j.Topic = cause, ""
		if _, err := composer(Text{}).request(j, identity{}); err == nil {
			t.Errorf("%s without a topic: asked for a text", cause)
		}
	}
	j := nudge(1)
	j.To.Role, j.To.Language, j.Patient.Language = plan.RoleGuardian, "es", "en"
	if r, err := composer(Text{}).request(j, identity{}); err != nil || !r.Guardian || r.Language != "es" || r.Values["meal"] != "el almuerzo" {
		t.Errorf("guardian: %+v, %v", r, err)
	}
	j.To.Language, j.Patient.Language = "", ""
	if r, _ := composer(Text{}).request(j, identity{}); r.Language != "en" {
		t.Errorf("no language: %q", r.Language)
	}
	if got := dateWords(plan.NewDate(2026, 6, 3), "es-MX"); got != "miércoles 3 de junio de 2026" {
		t.Errorf("date in Spanish: %s", got)
	}
}
