package templates

import (
	"errors"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

func TestBuiltInMessages(t *testing.T) {
	c, err := builtIn()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"en", "es"}, c.Languages()); d != "" {
		t.Errorf("languages (-want +got):\n%s", d)
	}
	list := c.List()
	if want := len(Entries("en")) + len(Entries("es")); len(list) != want {
		t.Errorf("%d messages listed, want %d", len(list), want)
	}
	files := 0
	if err := fs.WalkDir(embedded, ".", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasSuffix(p, partsFile) {
			files++
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if files != len(list) {
		t.Errorf("%d files for %d messages", files, len(list))
	}
	for _, e := range list {
		if text, edited, ok := c.Source(e); !ok || edited || text == "" {
			t.Errorf("%s: source of %d bytes, edited %v, ok %v", e.Path(), len(text), edited, ok)
		}
	}
}

func TestLanguage(t *testing.T) {
	for tag, want := range map[string]string{
		"en": "en", "es": "es", "es-MX": "es", "es_419": "es", "ES": "es", "EN-us": "en",
		"": "en", "tlh": "en", "fr-CA": "en", "espanol": "en",
	} {
		if got := Default().Language(tag); got != want {
			t.Errorf("Language(%q) = %q, want %q", tag, got, want)
		}
	}
	m, err := Default().Render(Request{Kind: "test", Lang: "fr", Values: always})
	if err != nil || m.Lang != "en" || m.Dir != "ltr" {
		t.Errorf("unknown language: %q, %q, %v", m.Lang, m.Dir, err)
	}
}

const edit = `---
subject: Eat, then swap
preheader: One word is enough.
choice: YES = it is done
choice: NO = not yet
---
Hello from the desk{{?meal}} after {{meal}}{{/meal}}.
`

func TestLoadLaysEditsOver(t *testing.T) {
	c, err := Load(fstest.MapFS{"en/band-change.PCD.md": {Data: []byte(edit)}})
	if err != nil {
		t.Fatal(err)
	}
	e := Entry{"band-change", "PCD", "en"}
	if text, edited, ok := c.Source(e); text != edit || !edited || !ok {
		t.Errorf("source %q, edited %v, ok %v", text, edited, ok)
	}
	m, err := c.Render(Sample(e))
	if err != nil {
		t.Fatal(err)
	}
	if m.Subject != "Eat, then swap" || !strings.Contains(m.Text, "Hello from the desk after lunch.") {
		t.Errorf("the edit is not in force: %q\n%s", m.Subject, m.Text)
	}
	before, err := Default().Render(Sample(e))
	if err != nil || before.Subject == m.Subject || before.Version == m.Version {
		t.Errorf("the built-in message changed or shares the version: %q, %v", before.Subject, err)
	}
	other := Entry{"band-change", "PCM", "en"}
	a, errA := c.Render(Sample(other))
	b, errB := Default().Render(Sample(other))
	if errA != nil || errB != nil || a != b {
		t.Errorf("a message that was not edited differs: %v, %v", errA, errB)
	}
	if nothing, err := Load(nil); err != nil || nothing != Default() {
		t.Errorf("Load(nil): %v", err)
	}
	if _, err := Load(fstest.MapFS{}); err != nil {
		t.Errorf("an empty directory: %v", err)
	}
}

// german returns a whole further language.
func german(t *testing.T) fstest.MapFS {
	t.Helper()
	dir := fstest.MapFS{"de/parts.md": {Data: []byte(`---
greeting: Hallo{{?first_name}} {{first_name}}{{/first_name}},
greeting_guardian: Hallo, das ist fuer die Eltern{{?first_name}} von {{first_name}}{{/first_name}}.
reply: Bitte antworte mit einem davon:
choice: Antworte <word>, wenn <meaning>.
picture: Ein Bild liegt bei.
caution: Frag deine Praxis ({{clinic_phone}}). Im Notfall {{emergency_number}}.
unwatched: Antworten werden nicht rund um die Uhr gelesen.
phone: Fragen? {{clinic_name}}, {{clinic_phone}}.
stop: Keine E-Mails mehr? Antworte STOP.
start: Wieder E-Mails? Antworte START.
staff: Nur fuer die Praxis {{clinic_name}}.
---
`)}}
	for _, e := range Entries("de") {
		text := "---\nsubject: Bitte kurz antworten\npreheader: Ein Wort reicht.\n"
		k, _ := findKind(e.Kind)
		if k.reply {
			text += "choice: JA = es ist so\nchoice: NEIN = es ist nicht so\n"
		}
		if k.patient() && !k.caution {
			text += "caution: yes\n"
		}
		dir[e.Path()] = &fstest.MapFile{Data: []byte(text + "---\nEin kurzer Satz.\n")}
	}
	return dir
}

func TestFurtherLanguage(t *testing.T) {
	dir := german(t)
	c, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	m, err := c.Render(Sample(Entry{"band-change", "HS", "de-at"}))
	if err != nil || m.Lang != "de" || !strings.Contains(m.Text, "Antworte JA, wenn es ist so.") {
		t.Errorf("%v, language %q\n%s", err, m.Lang, m.Text)
	}

	delete(dir, "de/goodbye.md")
	delete(dir, "de/parts.md")
	_, err = Load(dir)
	var faults Faults
	if !errors.As(err, &faults) || len(faults) != 2 || faults[0].File != "de/goodbye.md" || faults[1].File != "de/parts.md" {
		t.Errorf("a language with two files missing: %v", err)
	}
}

// A caution that a further language words without its numbers is no caution.
func TestPartsOfAFurtherLanguage(t *testing.T) {
	for _, tc := range []struct{ name, old, new, want string }{
		{"caution without the emergency number", "Im Notfall {{emergency_number}}.", "", "de/parts.md:7:10: the part caution does not say {{emergency_number}}"},
		{"emergency number in a block", "Im Notfall {{emergency_number}}.", "{{?meal}}Im Notfall {{emergency_number}}.{{/meal}}", "de/parts.md:7:10: the part caution does not say {{emergency_number}}"},
		{"caution without the clinic", "({{clinic_phone}})", "", "de/parts.md:7:10: the part caution does not say {{clinic_phone}}"},
		{"no way to stop", "Antworte STOP", "Ruf an", "de/parts.md:10:7: the part stop does not say STOP"},
		{"choice without meaning", "wenn <meaning>", "bitte", "de/parts.md:5:9: the part choice does not say <meaning>"},
		{"a part missing", "unwatched: Antworten werden nicht rund um die Uhr gelesen.\n", "", "de/parts.md:1:1: the part unwatched is missing"},
		{"a part of no name", "picture:", "pictur:", "de/parts.md:1:1: the part picture is missing"},
		{"text below", "Praxis {{clinic_name}}.\n---\n", "Praxis {{clinic_name}}.\n---\nmore\n", "de/parts.md:14:1: a file of parts has nothing below the front matter"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			dir := german(t)
			old := string(dir["de/parts.md"].Data)
			dir["de/parts.md"].Data = []byte(strings.Replace(old, tc.old, tc.new, 1))
			if _, err := Load(dir); err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("got:\n%v\nwant: %s", err, tc.want)
			}
		})
	}
}

func TestLoadRefusesFiles(t *testing.T) {
	for file, want := range map[string]string{
		"en/parts.md":             "the parts of language en are built in",
		"en/band-chnage.PCD.md":   `did you mean "band-change"?`,
		"en/band-change.PCX.md":   `kind band-change has no variant "PCX"`,
		"en/goodbye.PCD.md":       "messages of kind goodbye have no variants",
		"en/soreness.8.md":        `kind soreness has no variant "8"`,
		"en/notes.txt":            "this is not a message file",
		"en/old/goodbye.md":       "this is not a message file",
		"goodbye.md":              "this is not a message file",
		"english/goodbye.md":      `"english" is not a language`,
		"EN/goodbye.md":           `"EN" is not a language`,
		"fr/goodbye.md":           "language fr has no parts",
		"en/band-change.PCD.md":   "",
		"es/band-change.PCD.md":   "",
		"pt-br/band-change.HS.md": "language pt-br lacks this message",
	} {
		text := edit
		_, err := Load(fstest.MapFS{file: {Data: []byte(text)}})
		if want == "" && err != nil {
			t.Errorf("%s: %v", file, err)
		}
		if want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: got %v, want %q", file, err, want)
		}
	}
}

// Every fault of every file comes at once, by file and line.
func TestLoadReportsAll(t *testing.T) {
	_, err := Load(fstest.MapFS{
		"en/goodbye.md":         {Data: []byte("---\nsubject: Bye\npreheader: Bye.\n---\n{{clinc_name}}\n\n{{first_nam}}\n")},
		"en/band-change.PCD.md": {Data: []byte("---\nsubject: Lunch\n---\nHello.\n")},
	})
	want := `en/band-change.PCD.md:1:1: the front matter has no preheader
  hint: add a line "preheader: ..."
en/goodbye.md:5:1: unknown placeholder "clinc_name"
  hint: did you mean "clinic_name"?
en/goodbye.md:7:1: unknown placeholder "first_nam"
  hint: did you mean "first_name"?`
	if err == nil {
		t.Fatal("no fault")
	}
	if d := cmp.Diff(want, err.Error()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}
