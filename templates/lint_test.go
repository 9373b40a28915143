package templates

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// lintOne loads one file and returns its faults.
func lintOne(t *testing.T, file, text string) Faults {
	t.Helper()
	_, err := Load(fstest.MapFS{file: {Data: []byte(text)}})
	var faults Faults
	if err != nil && !errors.As(err, &faults) {
		t.Fatal(err)
	}
	return faults
}

// head is a sound front matter for a kind that asks nothing; five lines.
const head = "---\nsubject: Hello\npreheader: A note.\n---\n"

// ask is one for a kind that asks.
const ask = "---\nsubject: Eat, then swap\npreheader: A note.\nchoice: YES = it is done\nchoice: NO = not yet\n---\n"

// Each message has one fault, where the mark ¶ stands; the mark is taken out
// before the file is read. Without a want the message is sound.
func TestLint(t *testing.T) {
	for _, tc := range []struct{ name, file, text, want string }{
		{"sound", "en/goodbye.md", head + "All done.\n", ""},
		{"sound, asks", "en/band-change.PCD.md", ask + "All done.\n", ""},
		{"windows line ends", "en/goodbye.md", strings.ReplaceAll(head+"All done.\n", "\n", "\r\n"), ""},
		{"byte order mark", "en/goodbye.md", "\uFEFF" + head + "All done.\n", ""},
		{"comment and empty line", "en/goodbye.md", "---\n# a note\n\nsubject: Hello\npreheader: A note.\n---\nAll done.\n", ""},

		{"no front matter", "en/goodbye.md", "¶All done.\n", "the file does not begin with front matter"},
		{"front matter without end", "en/goodbye.md", "¶---\nsubject: Hello\npreheader: A note.\n", "the front matter has no end"},
		{"line without colon", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\n¶oops\n---\nAll done.\n", "no colon"},
		{"unknown key", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\n¶choise: YES = a\n---\nAll done.\n", `unknown key "choise"`},
		{"subject twice", "en/goodbye.md", "---\nsubject: Hello\n¶subject: Hi\npreheader: A note.\n---\nAll done.\n", "subject is given twice"},
		{"empty subject", "en/goodbye.md", "---\n¶subject:\npreheader: A note.\n---\nAll done.\n", "subject is empty"},
		{"no text", "en/goodbye.md", head + "¶\n", "the message has no text"},
		{"control character", "en/goodbye.md", head + "All ¶\x07done.\n", "character U+0007 cannot stand"},
		{"character of ours", "en/goodbye.md", head + "All ¶\uE000done.\n", "character U+E000 cannot stand"},
		{"not UTF-8", "en/goodbye.md", "¶" + head + "All \xff done.\n", "not UTF-8"},
		{"too long a file", "en/goodbye.md", "¶" + head + strings.Repeat("Go on. ", 2400), "at most 16384 are allowed"},

		{"unknown placeholder", "en/goodbye.md", head + "All done,\nthen ¶{{clinic_fone}}.\n", `unknown placeholder "clinic_fone"`},
		{"unknown in the subject", "en/goodbye.md", "---\nsubject: Hello ¶{{nam}}\npreheader: A note.\n---\nAll done.\n", `unknown placeholder "nam"`},
		{"column in characters", "en/goodbye.md", head + "Señor ¶{{x}}.\n", `unknown placeholder "x"`},
		{"no logic", "en/goodbye.md", head + "¶{{range 20000000}}x.\n", `unknown placeholder "range 20000000"`},
		{"no format", "en/goodbye.md", head + `¶{{printf "%999999d" 1}}` + " x.\n", "unknown placeholder"},
		{"not closed", "en/goodbye.md", head + "All ¶{{clinic_name.\n", "{{ is not closed"},
		{"not closed on its line", "en/goodbye.md", head + "All ¶{{clinic_name\n}} done.\n", "not closed on its line"},
		{"closed only", "en/goodbye.md", head + "All ¶}} done.\n", "}} without {{"},
		{"block not closed", "en/goodbye.md", head + "All {{?meal}¶}done.\n", "the block of meal before this is not closed"},
		{"block closed twice", "en/goodbye.md", head + "{{?meal}}a{{/meal}} done.¶{{/meal}}\n", "{{/meal}} closes nothing"},
		{"blocks crossed", "en/goodbye.md", head + "{{?meal}}a{{?when}}b¶{{/meal}}c{{/when}}d{{/meal}}e\n", "{{/meal}} closes nothing"},
		{"blocks nested four deep", "en/goodbye.md", head + nest(4), ""},
		{"value that may be missing", "en/goodbye.md", "¶" + head + "See you {{when}}.\n", "no value for when in every message of this kind"},
		{"value in a block", "en/goodbye.md", head + "See you{{?when}} {{when}}{{/when}}.\n", ""},

		{"plural complete", "en/soreness.2.md", ask + "Day {{day_number| one: # only | other: # now}}.\n", ""},
		{"plural lacks other", "en/soreness.2.md", ask + "Day ¶{{day_number| one: #}}.\n", "lacks the category other"},
		{"plural lacks one", "es/soreness.2.md", ask + "Uno ¶{{day_number| other: #}}.\n", "lacks the category one"},
		{"category of another language", "en/soreness.2.md", ask + "Day ¶{{day_number| one: # | few: # | other: #}}.\n", `language en has no plural category "few"`},
		{"plural of a text", "en/band-change.PC.md", ask + "A ¶{{meal| one: # | other: #}}.\n", "meal is not a number"},
		{"plural form twice", "en/soreness.2.md", ask + "Day ¶{{day_number| one: # | one: # | other: #}}.\n", "the plural form one is given twice"},
		{"plural form empty", "en/soreness.2.md", ask + "Day {{?day_number}}x{{/day_number}} {{day_number| one: a | other: #}}.\n", ""},

		{"no choices", "en/band-change.PCD.md", "¶" + head + "Fresh set in now.\n", "0 reply choices"},
		{"one choice", "en/band-change.PCD.md", "¶---\nsubject: Hello\npreheader: A note.\nchoice: YES = it is in\n---\nFresh set in now.\n", "1 reply choices"},
		{"five choices", "en/band-change.PCD.md", "---\nsubject: Hello\npreheader: A note.\nchoice: A = a\nchoice: B = b\nchoice: C = c\nchoice: D = d\nchoice: ¶E = e\n---\nFresh set in now.\n", "5 reply choices"},
		{"choice without meaning", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\nchoice: ¶YES\n---\nAll done.\n", "not a word and its meaning"},
		{"choice with markup", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\nchoice: ¶<b> = yes\n---\nAll done.\n", "not a word and its meaning"},
		{"choice twice", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\nchoice: YES = a\nchoice: ¶yes = b\n---\nAll done.\n", `the choice "yes" is given twice`},

		{"caution missing", "en/goodbye.md", head + "If you feel ¶pain, call.\n", `without the caution block: "pain"`},
		{"caution missing, Spanish", "es/goodbye.md", head + "Si te ¶duele, llama.\n", `without the caution block: "duele"`},
		{"caution given", "en/goodbye.md", "---\nsubject: Hello\npreheader: A note.\ncaution: yes\n---\nIf you feel pain, call.\n", ""},
		{"caution by kind", "en/soreness.2.md", ask + "If you feel pain, call.\n", ""},
		{"caution switched off", "en/soreness.2.md", "---\nsubject: Hello\npreheader: A note.\nchoice: YES = a\nchoice: NO = b\ncaution: ¶no\n---\nHow is it.\n", "caution can only be yes"},
		{"painting is not pain", "en/goodbye.md", head + "A painting.\n", ""},

		{"a dose", "en/soreness.2.md", ask + "Take ¶400 mg now.\n", `an amount of medicine: "400 mg"`},
		{"a dose without blank", "en/soreness.2.md", ask + "Take ¶400MG now.\n", `an amount of medicine: "400MG"`},
		{"a dose in tablets", "en/soreness.2.md", ask + "Take ¶2 tablets now.\n", `an amount of medicine: "2 tablet"`},
		{"a dose in Spanish", "es/soreness.2.md", ask + "Toma ¶2 pastillas.\n", `an amount of medicine: "2 pastilla"`},
		{"a number that is no dose", "en/soreness.2.md", ask + "Go 400 m now.\n", ""},

		{"subject of health", "en/soreness.2.md", "---\nsubject: How is the ¶pain\npreheader: A note.\nchoice: YES = a\nchoice: NO = b\n---\nHow is it.\n", `the subject speaks of health: "pain"`},
		{"longest subject", "en/goodbye.md", "---\nsubject: " + strings.Repeat("s", 60) + "\npreheader: A note.\n---\nAll done.\n", ""},
		{"subject too long", "en/goodbye.md", "¶---\nsubject: " + strings.Repeat("s", 61) + "\npreheader: A note.\n---\nAll done.\n", "the subject has 61 characters"},
		{"preheader too long", "en/goodbye.md", "¶---\nsubject: Hello\npreheader: " + strings.Repeat("p", 101) + "\n---\nAll done.\n", "the preheader has 101 characters"},
		{"text too long", "en/goodbye.md", head + "¶" + strings.Repeat("Go on now. ", 250), "characters, at most 2400"},
		{"hard to read", "en/goodbye.md", head + "¶Intermaxillary elastomeric appliances necessitate conscientious compliance, notwithstanding temporary discomfort, because discontinuous application substantially diminishes therapeutic effectiveness and correspondingly prolongs orthodontic rehabilitation, inconveniencing everybody participating in comprehensive interdisciplinary treatment.\n", "reading grade"},

		{"HTML", "en/goodbye.md", head + "All ¶<br>done.\n", "no HTML"},
		{"HTML block", "en/goodbye.md", head + "¶<script>x</script>\n\nDone.\n", "no HTML"},
		{"image", "en/goodbye.md", head + "All ¶![x](https://a.test/b.png) done.\n", "no pictures"},
		{"quotation", "en/goodbye.md", head + "¶> All done.\n", "no quotations"},
		{"code", "en/goodbye.md", head + "All ¶`done` now.\n", "no code"},
		{"rule", "en/goodbye.md", head + "All done.\n\n¶***\n", "no rules"},
		{"link", "en/goodbye.md", head + "See [us](https://clinic.test/hours).\n", ""},
		{"link in clear", "en/goodbye.md", head + "See ¶[us](http://clinic.test/).\n", "a link goes to a plain https address"},
		{"link that tracks", "en/goodbye.md", head + "See ¶[us](https://clinic.test/?p=1).\n", "a link goes to a plain https address"},
		{"link of script", "en/goodbye.md", head + "See ¶[us](javascript:x).\n", "a link goes to a plain https address"},
		{"link with a value", "en/goodbye.md", head + "See ¶[us](https://{{clinic_phone}}/).\n", "a link goes to a plain https address"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			before, after, marked := strings.Cut(tc.text, "¶")
			faults := lintOne(t, tc.file, before+after)
			if tc.want == "" {
				if len(faults) > 0 {
					t.Errorf("faults in a sound message:\n%v", faults)
				}
				return
			}
			if len(faults) != 1 || !strings.Contains(faults[0].What, tc.want) {
				t.Fatalf("got:\n%v\nwant one fault: %s", faults, tc.want)
			}
			line := strings.Count(before, "\n") + 1
			col := len([]rune(before[strings.LastIndex(before, "\n")+1:])) + 1
			if !marked || faults[0].Line != line || faults[0].Col != col {
				t.Errorf("at %d:%d, want %d:%d", faults[0].Line, faults[0].Col, line, col)
			}
			if want := fmt.Sprintf("%s:%d:%d: ", tc.file, line, col); !strings.HasPrefix(faults[0].Error(), want) {
				t.Errorf("printed as %q", faults[0].Error())
			}
		})
	}
}

func nest(n int) string {
	return "Done" + strings.Repeat("{{?meal}}a", n) + strings.Repeat("{{/meal}}", n) + ".\n"
}

func TestNestingIsBounded(t *testing.T) {
	if faults := lintOne(t, "en/goodbye.md", head+nest(5)); len(faults) == 0 || !strings.Contains(faults.Error(), "nested more than 4 deep") {
		t.Errorf("five deep: %v", faults)
	}
}

// An edit cannot take away what the renderer adds.
func TestEditCannotRemove(t *testing.T) {
	for _, e := range Entries("en") {
		k, _ := findKind(e.Kind)
		text := head
		if k.reply {
			text = ask
		}
		c, err := Load(fstest.MapFS{e.Path(): {Data: []byte(text + "Bare words.\n")}})
		if err != nil {
			t.Fatal(err)
		}
		m, err := c.Render(Sample(e))
		if err != nil {
			t.Fatal(err)
		}
		flat := strings.Join(strings.Fields(m.Text), " ")
		if k.patient() && (!strings.Contains(flat, "555-0100") || !strings.Contains(flat, "around the clock")) {
			t.Errorf("%s lost the clinic's phone:\n%s", e.Path(), m.Text)
		}
		if k.patient() && !strings.Contains(flat, "reply STOP") && !strings.Contains(flat, "reply START") {
			t.Errorf("%s lost the way to stop:\n%s", e.Path(), m.Text)
		}
		if k.caution && !strings.Contains(flat, "call 911 at once") {
			t.Errorf("%s lost the caution:\n%s", e.Path(), m.Text)
		}
	}
}

// Whatever a file holds, reading it ends, its faults have a place in it, and a
// message without faults renders without a trace of the syntax.
func FuzzReadMessage(f *testing.F) {
	for _, e := range Default().List() {
		text, _, _ := Default().Source(e)
		f.Add(text)
	}
	f.Add(ask + "{{?meal}}{{!when}}x{{/when}}{{/meal}}{{rows}}")
	f.Add(ask + "> - 1. **a\n\n\t- b\n***\n[x]: y 'z'\n<a>&amp;\\*`c`")
	f.Add("---\nchoice: a = {{day_number| one: | other: #}}\n---\n{{")
	f.Fuzz(func(t *testing.T, text string) {
		e := Entry{"band-change", "PCD", "en"}
		c, err := Load(oneFile(e.Path(), text))
		if err != nil {
			var faults Faults
			if !errors.As(err, &faults) {
				t.Fatal(err)
			}
			lines := strings.Split(text, "\n")
			for _, f := range faults {
				if f.File != e.Path() || f.Line < 1 || f.Line > len(lines) || f.Col < 1 || f.Col > len([]rune(lines[f.Line-1]))+2 {
					t.Errorf("no such place: %v", f)
				}
			}
			return
		}
		for _, req := range []Request{Sample(e), bare(e)} {
			m, err := c.Render(req)
			if err != nil {
				t.Fatalf("a message that passed the lint does not render: %v", err)
			}
			p := parsePage(t, m.HTML)
			for _, el := range p.elements {
				switch el {
				case "script", "img", "form", "style", "iframe", "comment", "blockquote":
					t.Errorf("element %s", el)
				}
			}
			for _, s := range []string{m.Subject, m.Preheader, m.Text, m.HTML} {
				if strings.ContainsFunc(s, isMark) || strings.Contains(s, "{{") {
					t.Errorf("syntax is left over: %q", s)
				}
			}
			if strings.ContainsAny(m.Subject+m.Preheader, "\r\n\x00") || !strings.Contains(m.Text, "reply STOP") {
				t.Error("a line break in the subject, or no way to stop")
			}
		}
	})
}

// A file of parts that is taken has every part, and its messages keep the
// caution and the way to stop.
func FuzzReadParts(f *testing.F) {
	for _, lang := range Default().Languages() {
		f.Add(Default().parts[lang].text)
	}
	f.Add("---\ncaution: {{clinic_phone}}{{?emergency_number}}{{emergency_number}}{{/emergency_number}}\n---\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, faults := readParts("de/parts.md", "de", text)
		for _, fault := range faults {
			if fault.Line < 1 || fault.Col < 1 {
				t.Errorf("no place: %v", fault)
			}
		}
		if len(faults) > 0 {
			return
		}
		req := Sample(Entry{"soreness", "2", "de"})
		k, _ := findKind(req.Kind)
		d, wrong := draw(k, Default().messages[Entry{"soreness", "2", "en"}], p, "de", req)
		if len(wrong) > 0 {
			return // the lint of a message reports that
		}
		flat := strings.Join(strings.Fields(d.plain(width)), " ")
		for _, w := range []string{"911", "555-0100", "STOP"} {
			if !strings.Contains(flat, w) {
				t.Errorf("the message does not say %s:\n%s", w, flat)
			}
		}
	})
}
