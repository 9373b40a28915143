package templates

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/yuin/goldmark/ast"
)

// Request asks for one message.
type Request struct {
	Kind    string // band-change, wear-start, soreness, consent, stopped, goodbye, emergency, answer, digest, test
	Variant string // of the kind, see Entries; empty for a kind without variants
	Lang    string // a BCP 47 tag; an unknown language becomes its base language, then en

	Values map[string]string // by placeholder name; an empty one counts as not given
	Counts map[string]int    // numbers, by placeholder name; they win over Values
	Rows   []string          // the list of a digest, one line each

	// ReplyTo is the address with the token, local+TOKEN@domain. A message to a
	// patient must have it; the token after the last plus sign goes into the
	// prefilled answers unless Values has one.
	ReplyTo string
	// Guardian says that the reader is the parent or guardian of the patient,
	// who is greeted as such.
	Guardian bool
	// Picture is the Content-ID, without brackets, of the hook-up picture that
	// will go with the message; empty for none. Only wear-start shows one.
	Picture string
}

// Message is a rendered message, ready to be put into MIME.
type Message struct {
	Subject   string // one line, no control characters, not yet encoded
	Preheader string // one line; it is in the HTML already
	Text      string // plain text, LF line ends, at most 76 characters a line
	HTML      string // a whole document of at most MaxHTML bytes
	Lang      string // the language used, for Content-Language
	Dir       string // ltr or rtl
	Version   string // 12 hexadecimal digits of a hash over the sources used
}

// MaxHTML bounds the HTML part, in bytes. Large readers clip near 102 KB, and
// much below that a message loads at once on a poor line.
const MaxHTML = 15 << 10

// format changes when the renderer itself writes the same source differently.
const format = "1"

var contentID = regexp.MustCompile(`^[A-Za-z0-9._-]+(@[A-Za-z0-9.-]+)?$`)

// dose matches an amount of medicine. No message to a patient holds one.
var dose = regexp.MustCompile(`(?i)\d+\s*(?:mg|mcg|µg|ug|ml|milligram|miligram|tablet|tableta|pill|capsule|cápsula|pastilla|comprimido)`)

// Render writes a message. It fails, naming every reason at once, when the
// message does not exist, a value it needs is missing or unfit, or the result
// would break a promise of the package. An error never repeats a value.
func (c *Catalog) Render(req Request) (Message, error) {
	k, ok := findKind(req.Kind)
	if !ok || !slices.Contains(k.variants, req.Variant) {
		return Message{}, fmt.Errorf("render message: there is no message %q", strings.TrimSuffix(req.Kind+"."+req.Variant, "."))
	}
	lang := c.Language(req.Lang)
	src, ok := c.messages[Entry{req.Kind, req.Variant, lang}]
	if !ok { // a further language may lack what a later version added
		lang = fallback
		src = c.messages[Entry{req.Kind, req.Variant, lang}]
	}
	m, err := render(k, src, c.parts[lang], lang, req)
	if err != nil {
		return Message{}, fmt.Errorf("render message %s: %w", src.file, err)
	}
	return m, nil
}

func render(k kind, src *source, pt *parts, lang string, req Request) (Message, error) {
	d, wrong := draw(k, src, pt, lang, req)
	if len(wrong) > 0 {
		return Message{}, errors.New(strings.Join(wrong, "; "))
	}
	m := Message{
		Subject: d.subject, Preheader: d.preheader, Text: d.plain(width), HTML: d.html(),
		Lang: lang, Dir: direction(lang), Version: version(src, pt),
	}
	// A list too long for the mail is shortened; what it leaves out is counted.
	for shown := len(d.scope.rows) / 2; len(m.HTML) > MaxHTML && shown > 0; shown /= 2 {
		short := req
		short.Rows = req.Rows[:shown]
		short.Counts = map[string]int{"rows_more": len(req.Rows) - shown}
		for name, n := range req.Counts {
			short.Counts[name] = n
		}
		d, _ = draw(k, src, pt, lang, short)
		m.Text, m.HTML = d.plain(width), d.html()
	}
	if len(m.HTML) > MaxHTML {
		return Message{}, fmt.Errorf("the HTML part has %d bytes, at most %d are allowed", len(m.HTML), MaxHTML)
	}
	if k.patient() && dose.MatchString(m.Subject+"\n"+m.Text) {
		return Message{}, errors.New("the message would name an amount of medicine")
	}
	return m, nil
}

// drawing is a message with its values put in, before it is written as text
// and as HTML.
type drawing struct {
	lang      string
	scope     *scope
	subject   string
	preheader string
	greeting  string
	body      string   // Markdown with marks
	source    []byte   // the same, once parsed
	root      ast.Node // what parsing it gave
	reply     string   // the line above the choices
	choices   []answer
	picture   string // Content-ID
	pictured  string // the line about the picture
	alt       string
	caution   string
	ending    []string
	way       answer // the STOP or START of the ending, word empty for staff
}

// answer is one choice with the URI that sends it.
type answer struct {
	word, meaning, line, href string
}

// draw puts the values in and lists what stands against it.
func draw(k kind, src *source, pt *parts, lang string, req Request) (*drawing, []string) {
	s, wrong := newScope(lang, req)
	if !k.greets && req.Guardian {
		wrong = append(wrong, "a message to staff has no guardian")
	}
	if req.Picture != "" && (!k.picture || !contentID.MatchString(req.Picture)) {
		wrong = append(wrong, "picture is not a Content-ID, or not for this kind")
	}
	if k.patient() || len(src.choices) > 0 {
		if req.ReplyTo == "" || strings.ContainsAny(req.ReplyTo, " \t\r\n<>\x00") || !strings.Contains(req.ReplyTo, "@") {
			wrong = append(wrong, "the reply address is missing or not a plain address")
		}
	}
	if s.values["token"] == "" {
		s.values["token"] = tokenOf(req.ReplyTo)
	}

	text := func(nodes []node) string { return clean(s.expand(nodes, plainValue)) }
	part := func(name string) string { return text(pt.named[name]) }
	d := &drawing{lang: lang, scope: s, subject: text(src.subject), preheader: text(src.preheader)}
	if k.greets {
		if req.Guardian {
			d.greeting = part("greeting_guardian")
		} else {
			d.greeting = part("greeting")
		}
	}
	d.body = s.expand(src.body, s.markValue)
	again := "Re: " + d.subject
	if len(src.choices) > 0 {
		d.reply = part("reply")
	}
	for _, c := range src.choices {
		meaning := text(c.meaning)
		line := strings.NewReplacer(wordHole, c.word, meaningHole, meaning).Replace(part("choice"))
		d.choices = append(d.choices, answer{c.word, meaning, line, answerURI(req.ReplyTo, again, s.values["token"], c.word)})
	}
	if req.Picture != "" {
		d.picture, d.pictured, d.alt = req.Picture, part("picture"), s.values["hooks"]
	}
	if carriesCaution(k, src) {
		d.caution = part("caution")
	} else if k.patient() {
		d.ending = append(d.ending, part("unwatched"))
	}
	switch k.ending {
	case endStop:
		d.ending = append(d.ending, part("phone"))
		d.way = answer{word: StopWord, line: part("stop")}
	case endStart:
		d.ending = append(d.ending, part("phone"))
		d.way = answer{word: StartWord, line: part("start")}
	case endStaff:
		d.ending = append(d.ending, part("staff"))
	}
	if d.way.word != "" {
		d.way.href = answerURI(req.ReplyTo, again, s.values["token"], d.way.word)
	}
	slices.Sort(s.missing)
	for _, name := range slices.Compact(s.missing) {
		wrong = append(wrong, "no value for "+name)
	}
	slices.Sort(wrong)
	return d, wrong
}

func carriesCaution(k kind, src *source) bool { return k.caution || src.caution }

// tokenOf returns what stands after the last plus sign of a local part.
func tokenOf(address string) string {
	local, _, _ := strings.Cut(address, "@")
	if plus := strings.LastIndexByte(local, '+'); plus >= 0 {
		return local[plus+1:]
	}
	return ""
}

// answerURI is the message that a tap on a button opens. It opens as a new
// message without In-Reply-To, so the token is said three times: in the
// address, in the subject and in the body, of which mail programs and people
// leave at least one alone.
func answerURI(to, subject, token, word string) string {
	if token == "" {
		return Mailto(to, subject, word+"\r\n")
	}
	return Mailto(to, subject+" [ref "+token+"]", word+"\r\n\r\nRef: "+token+"\r\n")
}

// version names the sources of a message: the same text gives the same version.
func version(src *source, pt *parts) string {
	sum := sha256.Sum256([]byte(format + "\x00" + src.text + "\x00" + pt.text))
	return hex.EncodeToString(sum[:6])
}
