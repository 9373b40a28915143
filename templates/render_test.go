package templates

import (
	"flag"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/net/html"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Every built-in message as its invented patient would read it.
func TestGolden(t *testing.T) {
	for _, e := range Default().List() {
		t.Run(e.Path(), func(t *testing.T) {
			m, err := Default().Render(Sample(e))
			if err != nil {
				t.Fatal(err)
			}
			name := strings.TrimSuffix(strings.ReplaceAll(e.Path(), "/", "."), ".md")
			golden(t, name+".txt", "Subject: "+m.Subject+"\nPreheader: "+m.Preheader+"\n\n"+m.Text)
			if e.Variant == "d0" || e.Variant == "PCD" || e.Kind == "digest" {
				golden(t, name+".html", m.HTML)
			}
		})
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

// page is what a reader of mail gets to see of an HTML part.
type page struct {
	elements []string
	attrs    map[string][]string // by element.attribute
	text     string
	links    []string
}

func parsePage(t interface {
	Helper()
	Fatal(...any)
}, s string) page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(s))
	if err != nil {
		t.Fatal(err)
	}
	p := page{attrs: map[string][]string{}}
	for n := range root.Descendants() {
		switch n.Type {
		case html.TextNode:
			p.text += n.Data + "\n"
		case html.ElementNode:
			p.elements = append(p.elements, n.Data)
			for _, a := range n.Attr {
				p.attrs[n.Data+"."+a.Key] = append(p.attrs[n.Data+"."+a.Key], a.Val)
				if a.Key == "href" {
					p.links = append(p.links, a.Val)
				}
			}
		case html.CommentNode:
			p.elements = append(p.elements, "comment")
		}
	}
	return p
}

var allowedElements = []string{"html", "head", "meta", "title", "body", "div", "table", "tbody", "tr", "td", "p", "ul", "ol", "li", "strong", "em", "a", "img"}

// What holds for every built-in message, with every value, with only the
// certain ones, and for a guardian.
func TestPromises(t *testing.T) {
	for _, e := range Default().List() {
		k, _ := findKind(e.Kind)
		full, least, parent := Sample(e), bare(e), Sample(e)
		parent.Guardian = k.greets
		if k.picture {
			full.Picture = "hookup.1@clinic.test"
		}
		for name, req := range map[string]Request{"full": full, "least": least, "guardian": parent} {
			t.Run(e.Path()+" "+name, func(t *testing.T) {
				m, err := Default().Render(req)
				if err != nil {
					t.Fatal(err)
				}
				p := parsePage(t, m.HTML)
				both := map[string]string{"text": strings.Join(strings.Fields(m.Text), " "), "HTML": strings.Join(strings.Fields(p.text), " ")}

				// RFC 5322 section 2.1.1 asks for 78; width leaves two for "> ".
				for i, line := range strings.Split(m.Text, "\n") {
					if utf8.RuneCountInString(line) > 76 || strings.TrimRight(line, " ") != line || strings.HasPrefix(line, ">") || strings.HasPrefix(line, "--") {
						t.Errorf("text line %d: %q", i+1, line)
					}
				}
				if strings.Contains(m.Text, "\n\n\n") || strings.ContainsAny(m.Text, "\r\t") || !strings.HasSuffix(m.Text, "\n") {
					t.Error("the text part has stray white space")
				}
				if regexp.MustCompile(`\d+\s*mg`).MatchString(m.Subject + m.Text + m.HTML) {
					t.Error("a dose")
				}
				if strings.ContainsAny(m.Subject+m.Preheader+m.Text, "!¡{}|") {
					t.Error("an exclamation mark or a leftover of the syntax")
				}
				if utf8.RuneCountInString(m.Subject) > 45 || healthWords.MatchString(m.Subject) || m.Subject != clean(m.Subject) {
					t.Errorf("subject %q", m.Subject)
				}
				if len(m.HTML) > 15<<10 {
					t.Errorf("HTML of %d bytes", len(m.HTML))
				}
				if e.Lang == "en" && k.patient() {
					if g := measure(m.Text).grade(); g > MaxGrade {
						t.Errorf("grade %.1f", g)
					}
				}

				for part, s := range both {
					must := []string{"Fern Street Clinic"}
					if k.patient() {
						must = append(must, "555-0100")
						if k.ending == endStart {
							must = append(must, " START")
						} else {
							must = append(must, " STOP")
						}
						must = append(must, map[string]string{"en": "We do not watch replies around the clock.", "es": "Nadie vigila las respuestas a toda hora."}[e.Lang])
					}
					if k.caution {
						must = append(must, "911")
						must = append(must, map[string][]string{
							"en": {"Ask your clinic or a pharmacist before you take any medicine, and follow the label.", "hard to breathe"},
							"es": {"pregunta a tu clínica o a un farmacéutico, y sigue la etiqueta.", "te cuesta respirar"},
						}[e.Lang]...)
					}
					if req.Guardian {
						must = append(must, map[string]string{"en": "parent or guardian of Ana", "es": "madre, padre o tutor de Ana"}[e.Lang])
					}
					for _, w := range must {
						if !strings.Contains(s, w) {
							t.Errorf("%s does not say %q:\n%s", part, w, s)
						}
					}
				}

				for _, el := range p.elements {
					if !slices.Contains(allowedElements, el) || el == "img" && req.Picture == "" {
						t.Errorf("element %s", el)
					}
				}
				for a, values := range p.attrs {
					element, attr, _ := strings.Cut(a, ".")
					for _, v := range values {
						switch {
						case attr == "style" && (strings.Contains(v, "url") || strings.Contains(v, "@")),
							attr == "src" && v != "cid:"+req.Picture,
							strings.HasPrefix(attr, "on"), attr == "class", attr == "id",
							element == "table" && attr == "role" && v != "presentation":
							t.Errorf("%s=%q", a, v)
						}
					}
				}
				if len(p.attrs["table.role"]) != strings.Count(m.HTML, "<table") {
					t.Error("a table without a role")
				}
				if got := p.attrs["html.lang"]; len(got) != 1 || got[0] != e.Lang || p.attrs["html.dir"][0] != "ltr" {
					t.Errorf("lang %q, dir %q", got, p.attrs["html.dir"])
				}
				if !strings.Contains(m.HTML, "font-size:16px") {
					t.Error("no 16 px text")
				}
				checkLinks(t, k, e, m, p)
			})
		}
	}
}

// checkLinks reads every mailto link back with net/url.
func checkLinks(t *testing.T, k kind, e Entry, m Message, p page) {
	t.Helper()
	src := Default().messages[e]
	var words []string
	for _, c := range src.choices {
		words = append(words, c.word)
	}
	if k.reply && (len(words) < 2 || len(words) > 4) {
		t.Errorf("%d buttons", len(words))
	}
	switch k.ending {
	case endStop:
		words = append(words, "STOP")
	case endStart:
		words = append(words, "START")
	}
	if len(p.links) != len(words) {
		t.Fatalf("%d links for %q", len(p.links), words)
	}
	token := tokenOf(sampleReply)
	for i, link := range p.links {
		if strings.Contains(link, "+") || !strings.HasPrefix(link, "mailto:") {
			t.Errorf("link %s", link)
		}
		u, err := url.Parse(link)
		if err != nil {
			t.Fatal(err)
		}
		to, err := url.PathUnescape(u.Opaque)
		if err != nil || to != sampleReply {
			t.Errorf("link to %q, %v", to, err)
		}
		if want := "Re: " + m.Subject + " [ref " + token + "]"; u.Query().Get("subject") != want {
			t.Errorf("subject %q, want %q", u.Query().Get("subject"), want)
		}
		if want := words[i] + "\r\n\r\nRef: " + token + "\r\n"; u.Query().Get("body") != want {
			t.Errorf("body %q, want %q", u.Query().Get("body"), want)
		}
	}
	if len(src.choices) > 0 {
		_, block, _ := strings.Cut(m.Text, ReplyRule+"\n")
		block, _, closed := strings.Cut(block, ReplyRule+"\n")
		if !closed || strings.Contains(m.Text[strings.LastIndex(m.Text, ReplyRule)+1:], ReplyRule) {
			t.Fatal("the choices are not between two rules")
		}
		for _, c := range src.choices {
			if !strings.Contains(block, c.word) {
				t.Errorf("the block does not name %s:\n%s", c.word, block)
			}
		}
	} else if strings.Contains(m.Text, ReplyRule) {
		t.Error("a block of choices without choices")
	}
}

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

func TestRenderRefuses(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		change     func(*Request)
	}{
		{"unknown kind", `there is no message "band-chang.PCD"`, func(r *Request) { r.Kind = "band-chang" }},
		{"unknown variant", `there is no message "band-change.PCX"`, func(r *Request) { r.Variant = "PCX" }},
		{"no phone", "no value for clinic_phone", func(r *Request) { delete(r.Values, "clinic_phone") }},
		{"phone of blanks", "no value for clinic_phone", func(r *Request) { r.Values["clinic_phone"] = " \r\n" }},
		{"all at once", "no value for clinic_name; no value for clinic_phone; value \"nmae\" is not a known placeholder", func(r *Request) {
			delete(r.Values, "clinic_phone")
			delete(r.Values, "clinic_name")
			r.Values["nmae"] = "secret"
		}},
		{"value too long", "value first_name is longer than 500 characters", func(r *Request) { r.Values["first_name"] = strings.Repeat("x", 501) }},
		{"not a number", "value day_number is not a number", func(r *Request) { r.Values["day_number"] = "two" }},
		{"negative count", "count day_number is below nought", func(r *Request) { r.Counts["day_number"] = -1 }},
		{"count of a text", `count "meal" is not a known number`, func(r *Request) { r.Counts["meal"] = 1 }},
		{"rows as value", "rows are given in Rows", func(r *Request) { r.Values["rows"] = "x" }},
		{"no reply address", "the reply address is missing", func(r *Request) { r.ReplyTo = "" }},
		{"reply address with a line break", "not a plain address", func(r *Request) { r.ReplyTo = "a@b.test\r\nBcc: c" }},
		{"picture of the wrong kind", "picture is not a Content-ID", func(r *Request) { r.Picture = "a@b.test" }},
		{"a dose by way of a value", "amount of medicine", func(r *Request) { r.Values["first_name"] = "take 400 mg" }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			req := Sample(Entry{"band-change", "PCD", "en"})
			req.Counts = map[string]int{}
			tc.change(&req)
			m, err := Default().Render(req)
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Fatalf("got %v, want %q", err, tc.want)
			}
			if strings.Contains(err.Error(), "secret") || m != (Message{}) {
				t.Errorf("a value or a message came with the error: %v", err)
			}
		})
	}
	long := Sample(Entry{"band-change", "PCD", "en"})
	long.Values["first_name"] = strings.Repeat("x", 500)
	if _, err := Default().Render(long); err != nil {
		t.Errorf("a value of 500 characters: %v", err)
	}
}

func TestDigestRows(t *testing.T) {
	e := Entry{"digest", "", "en"}
	for _, tc := range []struct {
		rows  int
		row   string
		shown int // at least
		exact bool
	}{
		{0, "", 0, true}, {1, "x", 1, true}, {MaxRows, "x", MaxRows, true}, {MaxRows + 1, "x", MaxRows, true}, {1000, "x", MaxRows, true},
		{1000, strings.Repeat(`"`, 400), 1, false}, // each quote takes five bytes in HTML
	} {
		req := Sample(e)
		delete(req.Counts, "rows_more")
		req.Rows = slices.Repeat([]string{tc.row}, tc.rows)
		m, err := Default().Render(req)
		if err != nil {
			t.Fatal(err)
		}
		shown := strings.Count(m.HTML, "<li>") - 4 // the four numbers below the list
		if shown < tc.shown || tc.exact && shown != tc.shown {
			t.Errorf("%d rows: %d shown, want %d", tc.rows, shown, tc.shown)
		}
		_, more, said := strings.Cut(m.Text, "And ")
		if said != (shown < tc.rows) {
			t.Errorf("%d of %d rows shown, said so: %v", shown, tc.rows, said)
		}
		if n, _, _ := strings.Cut(more, " "); said && n != strconv.Itoa(tc.rows-shown) {
			t.Errorf("%s more said, %d are", n, tc.rows-shown)
		}
	}
}

func TestVersion(t *testing.T) {
	seen := map[string]Entry{}
	for _, e := range Default().List() {
		m, err := Default().Render(Sample(e))
		if err != nil {
			t.Fatal(err)
		}
		least, err := Default().Render(bare(e))
		if err != nil || least.Version != m.Version || len(m.Version) != 12 {
			t.Errorf("%s: versions %q and %q, %v", e.Path(), m.Version, least.Version, err)
		}
		if other, ok := seen[m.Version]; ok {
			t.Errorf("%s and %s share a version", e.Path(), other.Path())
		}
		seen[m.Version] = e
	}
}

func TestPicture(t *testing.T) {
	req := Sample(Entry{"wear-start", "d0", "en"})
	req.Picture = "hookup.1@clinic.test"
	m, err := Default().Render(req)
	if err != nil {
		t.Fatal(err)
	}
	p := parsePage(t, m.HTML)
	if d := cmp.Diff([]string{"cid:hookup.1@clinic.test"}, p.attrs["img.src"]); d != "" {
		t.Errorf("src (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{req.Values["hooks"]}, p.attrs["img.alt"]); d != "" {
		t.Errorf("alt (-want +got):\n%s", d)
	}
	if !strings.Contains(m.Text, "The picture with this e-mail") {
		t.Error("the text part does not speak of the picture")
	}
	for _, bad := range []string{`a"b`, "a b", "<a@b>", "a@b\r\n", "a@b@c", "@b"} {
		req.Picture = bad
		if _, err := Default().Render(req); err == nil {
			t.Errorf("Content-ID %q was taken", bad)
		}
	}
}

func BenchmarkRender(b *testing.B) {
	req := Sample(Entry{"wear-start", "d0", "en"})
	for b.Loop() {
		if _, err := Default().Render(req); err != nil {
			b.Fatal(err)
		}
	}
}
