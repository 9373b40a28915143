package templates

import (
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/net/html"
)

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
