package templates

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func oneFile(name, text string) fstest.MapFS {
	return fstest.MapFS{name: {Data: []byte(text)}}
}

// hostile is a name that tries everything at once.
const hostile = "<b>\"O'Neil & 李\r\nBcc: x@y"

func TestHostileName(t *testing.T) {
	const literal = `<b>"O'Neil & 李 Bcc: x@y`
	c, err := Load(oneFile("en/goodbye.md", strings.ReplaceAll(`---
subject: Bye NAME
preheader: For NAME
choice: OK = you are NAME
---
Hello. **NAME**

- One. NAME

[site](https://clinic.test/) NAME
`, "NAME", "{{?first_name}}{{first_name}}{{/first_name}}")))
	if err != nil {
		t.Fatal(err)
	}
	req := Sample(Entry{"goodbye", "", "en"})
	plain, err := c.Render(req)
	if err != nil {
		t.Fatal(err)
	}
	req.Values["first_name"] = hostile
	m, err := c.Render(req)
	if err != nil {
		t.Fatal(err)
	}
	if m.Subject != "Bye "+literal || m.Preheader != "For "+literal {
		t.Errorf("subject %q, preheader %q", m.Subject, m.Preheader)
	}
	if n := strings.Count(m.Text, literal); n != 5 { // greeting, bold, item, link line, choice
		t.Errorf("%d times in the text, want 5:\n%s", n, m.Text)
	}
	if strings.Count(m.Text, "\n") != strings.Count(plain.Text, "\n") {
		t.Errorf("the name made a line:\n%s", m.Text)
	}
	p := parsePage(t, m.HTML)
	if n := strings.Count(p.text, literal); n != 7 { // the same, the title and the preheader
		t.Errorf("%d times in the HTML, want 7:\n%s", n, p.text)
	}
	if want := parsePage(t, plain.HTML).elements; !slices.Equal(p.elements, want) {
		t.Errorf("the name made an element: %q, want %q", p.elements, want)
	}
	u, err := url.Parse(p.links[1])
	if err != nil || u.Query().Get("subject") != "Re: Bye "+literal+" [ref "+tokenOf(sampleReply)+"]" || len(u.Query()) != 2 {
		t.Errorf("link %s, %v", p.links[1], err)
	}
}

// Whatever a value is, it comes out as it is seen, and makes neither a line nor
// an element.
func TestValuesAreOnlyText(t *testing.T) {
	e := Entry{"wear-start", "d0", "en"}
	req := Sample(e)
	req.Values["hooks"] = "x"
	plain, err := Default().Render(req)
	if err != nil {
		t.Fatal(err)
	}
	elements := parsePage(t, plain.HTML).elements
	pieces := rapid.OneOf(rapid.StringN(0, 12, -1), rapid.SampledFrom([]string{
		"<script>", "</p>", "&amp;", "&#60;", "**", "_a_", "`", "[a](b)", "![a](b)", "\n\n# x", "\r\nBcc: a@b", "\x00", "\\", "{{first_name}}",
		"{{?rows}}", "\uE000", "\uE001", "\u202E", "\u2028", "1. ", "- ", "> ", "--", "\n.\n", "]]>", "<!--", "'\"", " ", "<word>",
	}))
	rapid.Check(t, func(t *rapid.T) {
		v := strings.Join(rapid.SliceOfN(pieces, 0, 8).Draw(t, "pieces"), "")
		shown := clean(v)
		if shown == "" || dose.MatchString(shown) || utf8.RuneCountInString(shown) > 50 {
			return // no value, or one too long for a line of its own
		}
		req := Sample(e)
		req.Values["hooks"] = v
		m, err := Default().Render(req)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(m.Text, "\nThey go like this: "+shown+".\n") {
			t.Errorf("text:\n%s\nwant %q", m.Text, shown)
		}
		if strings.Count(m.Text, "\n") != strings.Count(plain.Text, "\n") {
			t.Errorf("%q made a line", v)
		}
		p := parsePage(t, m.HTML)
		if !slices.Equal(p.elements, elements) {
			t.Errorf("%q made an element", v)
		}
		if !strings.Contains(p.text, "They go like this: "+shown+".\n") {
			t.Errorf("HTML:\n%s\nwant %q", p.text, shown)
		}
	})
}

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"Ana":                 "Ana",
		"  Ana   María ":      "Ana María",
		"a\r\nb\nc\rd\te":     "a b c d e",
		"a\x00b\x1b[31mc\x7f": "ab[31mc",
		"a\u2028b\u0085c":     "a b c",
		"\u202Eevil\u2066":    "evil",
		"\uE000\uF8FF":        "\uFFFD\uFFFD",
		"\xff":                "\uFFFD",
		"👩\u200d👧":            "👩\u200d👧",
		"\r\n":                "",
	} {
		if got := clean(in); got != want {
			t.Errorf("clean(%q) = %q, want %q", in, got, want)
		}
	}
}
