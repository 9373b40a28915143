package reply

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestJSON holds the printed object to its documented keys, their order, and
// lists that are never null.
func TestJSON(t *testing.T) {
	r := Read([]byte("From: a@b.example\r\nDate: Mon, 15 Jun 2026 17:10:00 +0000\r\n\r\nyes\r\n"), Asked{Sent: time.Date(2026, 6, 15, 12, 45, 0, 0, newYork)})
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"kind":"reply","text":"yes","lang":"en","changed":"yes","hours_worn":null,"hours_off":null,"off":[],` +
		`"out_of_bands":false,"broken":null,"soreness":null,"allergy":"none","stop":false,"question":null,"needs_person":false,` +
		`"why":"a plain yes","reports":[{"what":"on","span":[0,3],"certainty":0.95}],"bounce":null}`
	if diff := cmp.Diff(want, string(b)); diff != "" {
		t.Errorf("JSON differs (-want +got):\n%s", diff)
	}
	b, err = json.Marshal(Reading{})
	if err != nil || strings.Contains(string(b), `"off":null`) || strings.Contains(string(b), `"reports":null`) {
		t.Errorf("an empty reading prints null lists: %s, %v", b, err)
	}
}

func raw(body string) []byte {
	return []byte("From: Pat <pat@home.example>\r\nTo: nudge+abc@clinic.example\r\nDelivered-To: nudge+abc@clinic.example\r\nSubject: Re: Bands\r\nDate: Tue, 16 Jun 2026 00:00:00 +0000\r\nMessage-ID: <1@home.example>\r\nIn-Reply-To: <n@clinic.example>\r\nReferences: <m@clinic.example>\r\n <n@clinic.example>\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n" + body)
}

// at is the instant of raw's Date, 20:00 in New York.
var at = time.Date(2026, 6, 15, 20, 0, 0, 0, newYork)

func clock(h, m int) time.Time { return time.Date(2026, 6, 15, h, m, 0, 0, newYork) }

// TestReports checks what the recorder gets from a reply: instants in the
// patient's zone, whatever zone the Date is written in.
func TestReports(t *testing.T) {
	dinner := Asked{Kind: BandChange, Meal: "PCV", Sent: clock(19, 0)}
	day := Asked{Kind: BandChange, Meal: WholeDay, Sent: clock(19, 0), Meals: []MealTime{{"PCM", 7, 30}, {"PCD", 12, 0}, {"PCV", 18, 30}}}
	sore := Asked{Kind: Soreness, Sent: clock(17, 30)}
	tests := []struct {
		text  string
		asked Asked
		want  []Report
	}{
		{"yes", dinner, []Report{{What: On, Fresh: true, At: at}}},
		{"changed them at 7:15", dinner, []Report{{What: On, Fresh: true, At: clock(19, 15)}}},
		{"changed them 20 minutes ago", dinner, []Report{{What: On, Fresh: true, At: clock(19, 40)}}},
		{"put the old ones back on", dinner, []Report{{What: On, At: at}}},
		{"no", dinner, []Report{{What: Off, At: at}}},
		{"no, off since 1pm", dinner, []Report{{What: Off, At: at, Since: clock(13, 0)}}},
		{"yes, out 3-5", dinner, []Report{{What: On, Fresh: true, At: at}, {What: OffSpan, From: clock(15, 0), To: clock(17, 0), At: at}}},
		{"off 3 hours in all", day, []Report{{What: WornTotal, Day: "2026-06-15", Hours: 21, At: at}}},
		{"yes", day, []Report{
			{What: On, Fresh: true, At: clock(7, 30), Meal: "PCM"}, {What: On, Fresh: true, At: clock(12, 0), Meal: "PCD"}, {What: On, Fresh: true, At: clock(18, 30), Meal: "PCV"}}},
		{"6", sore, []Report{{What: Sore, Value: 6, At: at}}},
		{"3 and still wearing them", sore, []Report{{What: Sore, Value: 3, At: at}, {What: On, At: at}}},
		{"STOP", dinner, []Report{{What: FlagOther, Detail: "stop", At: at}}},
		{"hello there", dinner, []Report{{What: FlagOther, Detail: "unclear", At: at}}},
		{"my lips are swelling", dinner, []Report{{What: FlagAllergy, Level: Red, At: at}}},
		{"yes but the hook broke", dinner, []Report{{What: On, Fresh: true, At: at}, {What: FlagBroken, Detail: "hook", At: at}}},
		{"FEWER", dinner, []Report{{What: FlagOther, Detail: "fewer", At: at}}},
		{"START", dinner, []Report{{What: FlagOther, Detail: "start", At: at}}},
		{"off since lunch", Asked{Kind: BandChange, Meal: "PCV", Sent: clock(19, 0), Meals: day.Meals}, []Report{{What: Off, At: at, Since: clock(12, 0)}}},
	}
	for _, tt := range tests {
		r := Read(raw(tt.text), tt.asked)
		got := r.Reports
		for i := range got {
			if got[i].Certainty <= 0 || got[i].Certainty > 1 {
				t.Errorf("%q: certainty %v", tt.text, got[i].Certainty)
			}
			got[i].Certainty, got[i].Span = 0, [2]int{}
		}
		byTime := cmp.Comparer(func(a, b time.Time) bool { return a.Equal(b) })
		if diff := cmp.Diff(tt.want, got, byTime); diff != "" {
			t.Errorf("%q (-want +got):\n%s", tt.text, diff)
		}
	}
}

// TestSpans checks that a span is counted in code points and names the words.
func TestSpans(t *testing.T) {
	r := Read(raw("👍🏽 sí. tengo los labios hinchados"), Asked{Sent: clock(19, 0)})
	for _, rep := range r.Reports {
		if rep.What == FlagAllergy && r.Quote(rep.Span) != "labios hinchados" {
			t.Errorf("span %v names %q", rep.Span, r.Quote(rep.Span))
		}
	}
	if r.Allergy != Red {
		t.Errorf("allergy %q", r.Allergy)
	}
}

// TestEnvelope checks what the token is looked for in.
func TestEnvelope(t *testing.T) {
	r := Read(raw("yes"), Asked{Sent: clock(19, 0)})
	want := Envelope{
		MessageID: "1@home.example", InReplyTo: []string{"n@clinic.example"}, References: []string{"m@clinic.example", "n@clinic.example"},
		From: "pat@home.example", Subject: "Re: Bands", Date: time.Date(2026, 6, 16, 0, 0, 0, 0, time.UTC), Recipients: []string{"nudge+abc@clinic.example"},
	}
	if diff := cmp.Diff(want, r.Envelope, cmp.Comparer(func(a, b time.Time) bool { return a.Equal(b) })); diff != "" {
		t.Errorf("envelope (-want +got):\n%s", diff)
	}
}

// TestInstant shows which Date is believed.
func TestInstant(t *testing.T) {
	sent := clock(12, 45)
	tests := []struct {
		name           string
		date, received time.Time
		want           time.Time
	}{
		{"the Date", clock(13, 10), time.Time{}, clock(13, 10)},
		{"no Date: when it came in", time.Time{}, clock(13, 11), clock(13, 11)},
		{"no Date and no receipt: when the nudge went", time.Time{}, time.Time{}, sent},
		{"a Date nine minutes ahead of receipt stands", clock(13, 20), clock(13, 11), clock(13, 20)},
		{"a Date an hour ahead of receipt does not", clock(14, 20), clock(13, 11), clock(13, 11)},
		{"a Date of 1970", time.Unix(0, 0), time.Time{}, sent},
	}
	for _, tt := range tests {
		if got := instant(tt.date, Asked{Sent: sent, Received: tt.received}); !got.Equal(tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// TestKnownNudge checks that the nudge's own lines are never the answer, even
// where a mail program left no mark of quotation.
func TestKnownNudge(t *testing.T) {
	nudge := "Time for a fresh set of bands.\nReply YES when the new set is in, or NO.\nTell us if a hook broke."
	r := Read(raw("not yet\n\n"+nudge), Asked{Sent: clock(19, 0), Nudge: nudge})
	if r.Text != "not yet" || r.Changed != No || r.Broken != nil {
		t.Errorf("text %q, changed %s, broken %v", r.Text, r.Changed, r.Broken)
	}
}

// TestOtherLanguages covers what French, German and Portuguese must have:
// safety words, stop, yes and no.
func TestOtherLanguages(t *testing.T) {
	tests := []struct {
		text, lang, changed, allergy string
		stop                         bool
	}{
		{"oui c'est fait", "fr", Yes, AllergyNone, false},
		{"non pas encore", "fr", No, AllergyNone, false},
		{"j'ai les lèvres gonflées", "fr", Unclear, Red, false},
		{"je n'arrive pas à respirer", "fr", Unclear, Red, false},
		{"arrêtez de m'envoyer des mails", "fr", Unclear, AllergyNone, true},
		{"ja, gewechselt", "de", Yes, AllergyNone, false},
		{"nein, noch nicht", "de", No, AllergyNone, false},
		{"meine Lippen sind geschwollen", "de", Unclear, Red, false},
		{"ich bekomme keine Luft", "de", Unclear, Red, false},
		{"bitte abmelden", "de", Unclear, AllergyNone, true},
		{"sim, já troquei", "pt", Yes, AllergyNone, false},
		{"ainda não", "pt", No, AllergyNone, false},
		{"meus lábios estão inchados", "pt", Unclear, Red, false},
		{"não consigo respirar", "pt", Unclear, Red, false},
		{"parem de me mandar e-mails", "pt", Unclear, AllergyNone, true},
	}
	for _, tt := range tests {
		r := Read(raw(tt.text), Asked{Sent: clock(19, 0)})
		if r.Lang != tt.lang || r.Changed != tt.changed || r.Allergy != tt.allergy || r.Stop != tt.stop {
			t.Errorf("%q: %s %s %s stop=%v (%s), want %v", tt.text, r.Lang, r.Changed, r.Allergy, r.Stop, r.Why, tt)
		}
		if (tt.allergy != AllergyNone || tt.stop) && !r.NeedsPerson {
			t.Errorf("%q needs a person", tt.text)
		}
	}
}
