package templates

import (
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	gtext "github.com/yuin/goldmark/text"
)

// Limits of a message; common practice, no source. Readers on a telephone show
// some 40 characters of a subject and some 90 of a preheader.
const (
	maxSubject   = 60
	maxPreheader = 100
	maxText      = 2400 // characters of the whole text part
	minChoices   = 2
	maxChoices   = 4
)

// sensitive finds the words by which a message touches pain, medicines or
// allergy, by language. A language without an entry always counts as touching
// them.
var sensitive = map[string]*regexp.Regexp{
	"en": regexp.MustCompile(`(?i)\b(pain|painful|sore|soreness|hurts?|aches?|aching|medicines?|medications?|pills?|tablets?|ibuprofen|acetaminophen|paracetamol|aspirin|allerg\w*|hives|rash|itch\w*|latex|swell\w*|swollen)\b`),
	"es": regexp.MustCompile(`(?i)(dolor|duele|adolorid|molestia|medicina|medicamento|pastilla|tableta|ibuprofeno|acetaminof|paracetamol|aspirina|al[eé]rgi|ronchas|sarpullido|picaz[oó]n|l[aá]tex|hincha)`),
}

// healthWords may not stand in a subject, which anyone near the telephone sees.
var healthWords = regexp.MustCompile(`(?i)(\bpain|\bsore|\bhurt|allerg|latex|medicin|medicat|\bteeth|\btooth|\bjaw|\bbite\b|\bmouth|\bbraces|aligner|orthodon|dental|dolor|duele|al[eé]rgi|l[aá]tex|diente|muela|mand[ií]bula|mordida|\bboca\b|brackets|alineador|ortodon|swollen|swell|hincha)`)

// lint judges a message that parses: what it says in both directions of every
// optional block, beside what the renderer adds.
func lint(k kind, e Entry, s *source, pt *parts) Faults {
	r := &reader{file: s.file, text: s.text, lang: e.Lang}

	switch n := len(s.choices); {
	case k.reply && n < minChoices:
		r.fault(0, fmt.Sprintf("%d reply choices, a message of kind %s has %d to %d", n, k.name, minChoices, maxChoices), `add lines "choice: WORD = what it means"`)
	case n > maxChoices:
		r.fault(s.choices[maxChoices].pos, fmt.Sprintf("%d reply choices, at most %d are allowed", n, maxChoices), "ask one thing")
	}
	r.places(dose, s.text, 0, "this names an amount of medicine", "leave doses to the label and the pharmacist")
	words, known := sensitive[baseLang(e.Lang)]
	if k.patient() && !carriesCaution(k, s) {
		const what, hint = "the message touches pain, medicine or allergy without the caution block", `add the line "caution: yes"`
		if known {
			r.first(words, s.text, what, hint)
		} else {
			r.fault(0, "there is no word list to tell whether this message needs the caution block", hint)
		}
	}
	if k.patient() {
		if at := strings.Index(s.text, "\nsubject:"); at >= 0 {
			line, _, _ := strings.Cut(s.text[at+1:], "\n")
			r.places(healthWords, line, at+1, "the subject speaks of health", "say what to do; a subject is seen by others")
		}
	}
	r.markdown(s)

	if len(r.faults) == 0 {
		for _, req := range []Request{Sample(e), bare(e)} {
			r.rendered(k, e, s, pt, req)
			if len(r.faults) > 0 {
				break
			}
		}
	}
	return r.sorted()
}

// places reports every match, first only the first one.
func (r *reader) places(re *regexp.Regexp, text string, base int, what, hint string) {
	for _, m := range re.FindAllStringIndex(text, -1) {
		r.fault(base+m[0], what+": "+fmt.Sprintf("%q", text[m[0]:m[1]]), hint)
	}
}

func (r *reader) first(re *regexp.Regexp, text, what, hint string) {
	if m := re.FindStringIndex(text); m != nil {
		r.fault(m[0], what+": "+fmt.Sprintf("%q", text[m[0]:m[1]]), hint)
	}
}

// markdown refuses what a plain, private message has no use for. A quotation or
// a rule would look like the quoted part of a reply to whoever reads replies.
func (r *reader) markdown(s *source) {
	src := []byte(s.text[s.bodyPos:])
	root := markdown.Parser().Parse(gtext.NewReader(src))
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		refuse := func(what, hint string) { r.fault(s.bodyPos+place(n), what, hint) }
		switch n := n.(type) {
		case *ast.Image:
			refuse("a message has no pictures", "take it out")
		case *ast.RawHTML, *ast.HTMLBlock:
			refuse("a message has no HTML", "write Markdown")
		case *ast.Blockquote:
			refuse("a message has no quotations", "begin the line without >")
		case *ast.CodeBlock, *ast.FencedCodeBlock, *ast.CodeSpan:
			refuse("a message has no code", "begin the line at the margin, without backquotes")
		case *ast.ThematicBreak:
			refuse("a message has no rules", "leave an empty line")
		case *ast.AutoLink:
			r.link(s, n, string(n.URL(src)))
		case *ast.Link:
			r.link(s, n, string(n.Destination))
		}
		return ast.WalkContinue, nil
	})
}

func (r *reader) link(s *source, n ast.Node, to string) {
	if !strings.HasPrefix(to, "https://") || strings.ContainsAny(to, "{}?") {
		r.fault(s.bodyPos+place(n), "a link goes to a plain https address without a query or placeholder", "the reply buttons are added by themselves")
	}
}

// place returns where a node begins, or where the nearest one around it does.
func place(n ast.Node) int {
	for ; n != nil; n = n.Parent() {
		if n.Kind() != ast.KindDocument && n.Pos() >= 0 {
			return n.Pos()
		}
	}
	return 0
}

// rendered judges the whole message as a patient would get it.
func (r *reader) rendered(k kind, e Entry, s *source, pt *parts, req Request) {
	d, wrong := draw(k, s, pt, e.Lang, req)
	if len(wrong) > 0 {
		for _, w := range wrong {
			hint := ""
			if name, ok := strings.CutPrefix(w, "no value for "); ok {
				hint = fmt.Sprintf("put it in a block: {{?%s}}...{{/%s}}", name, name)
			}
			r.fault(0, w+" in every message of this kind", hint)
		}
		return
	}
	if n := utf8.RuneCountInString(d.subject); n > maxSubject {
		r.fault(0, fmt.Sprintf("the subject has %d characters, at most %d are allowed", n, maxSubject), "begin with what to do")
	}
	if n := utf8.RuneCountInString(d.preheader); n > maxPreheader {
		r.fault(0, fmt.Sprintf("the preheader has %d characters, at most %d are allowed", n, maxPreheader), "")
	}
	if n := len(d.html()); n > MaxHTML {
		r.fault(s.bodyPos, fmt.Sprintf("the HTML part has %d bytes, at most %d are allowed", n, MaxHTML), "say one thing, shorter")
	}
	text := d.plain(0)
	if n := utf8.RuneCountInString(text); n > maxText {
		r.fault(s.bodyPos, fmt.Sprintf("the text has %d characters, at most %d are allowed", n, maxText), "say one thing, shorter")
	}
	if k.patient() && baseLang(e.Lang) == "en" {
		if g := measure(text).grade(); g > MaxGrade {
			r.fault(s.bodyPos, fmt.Sprintf("reading grade %.1f, at most %.0f is allowed", g, MaxGrade), "use shorter sentences and shorter words")
		}
	}
}
