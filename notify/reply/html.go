package reply

import (
	"regexp"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// maxHTML is how much of an HTML part is read: what a person typed stands
// within the first of it, and the rest is a quotation of a quotation.
const maxHTML = 512 << 10

// htmlText turns HTML to text. Quotations that the structure shows, by the
// class names and ids that mail programs give them, come out as lines begun
// with "> ", so that one stripper serves both forms. It reads tokens, never a
// repaired tree, and so takes time in proportion to its input. cids are the
// Content-IDs that the quoted part shows.
func htmlText(src string) (text string, quotedCIDs map[string]bool) {
	if len(src) > maxHTML {
		src = src[:maxHTML]
	}
	w := &htmlWriter{cids: map[string]bool{}}
	hasBlockquote := strings.Contains(strings.ToLower(src), "<blockquote")
	z := html.NewTokenizer(strings.NewReader(src))
	z.SetMaxBuf(64 << 10)
	for {
		switch z.Next() {
		case html.ErrorToken:
			w.flush()
			return w.out.String(), w.cids
		case html.TextToken:
			if w.hidden == 0 {
				w.text(string(z.Text()))
			}
		case html.StartTagToken:
			w.open(z, hasBlockquote, false)
		case html.SelfClosingTagToken:
			w.open(z, hasBlockquote, true)
		case html.EndTagToken:
			name, _ := z.TagName()
			w.close(atom.Lookup(name))
		}
	}
}

// frame is one open element and what it adds to its content.
type frame struct {
	tag           atom.Atom
	quote, hidden bool
}

type htmlWriter struct {
	out           strings.Builder
	line          strings.Builder
	stack         []frame
	quoted, skips int
	hidden        int
	// tail is true once a mark says that all the rest is a quotation.
	tail bool
	pre  int
	cids map[string]bool
}

var voidTags = map[atom.Atom]bool{atom.Br: true, atom.Img: true, atom.Hr: true, atom.Input: true, atom.Meta: true, atom.Link: true, atom.Col: true, atom.Area: true, atom.Base: true, atom.Wbr: true}

var blockTags = map[atom.Atom]bool{atom.P: true, atom.Div: true, atom.Tr: true, atom.Li: true, atom.Ul: true, atom.Ol: true, atom.Table: true, atom.Blockquote: true, atom.H1: true, atom.H2: true, atom.H3: true, atom.H4: true, atom.Pre: true, atom.Section: true, atom.Article: true, atom.Header: true, atom.Footer: true, atom.Center: true, atom.Dl: true, atom.Dd: true, atom.Dt: true, atom.Hr: true, atom.Body: true}

// Class names and ids of quotations and signatures, as seen in the mail that
// these programs write (common practice, no source): Gmail, Outlook, Apple
// Mail, Yahoo, Thunderbird, Samsung, Proton, Zoho, Tuta.
var (
	quoteClass  = regexp.MustCompile(`(?i)\b(yahoo_quoted|protonmail_quote|tutanota_quote|zmail_extra|gmail_attr|moz-cite-prefix|moz-email-headers-table|OutlookMessageHeader|moz-forward-container|ms-outlook-mobile-reference-message|mobile-quoted-text|wPostReply|edo-quote)\b|yahoo_quoted|gmail_quote_attribution`)
	gmailQuote  = regexp.MustCompile(`(?i)\bgmail_quote\b`)
	tailID      = regexp.MustCompile(`(?i)(divRplyFwdMsg|appendonsend|mail-editor-reference-message-container|reply-intro|lineBreakAtBeginningOfMessage_quote|OLK_SRC_BODY_SECTION|stopSpelling)$`)
	tailStyle   = regexp.MustCompile(`(?i)border:\s*none;\s*border-top:\s*solid\s*#?(B5C4DF|E1E1E1|CCCCCC)`)
	signature   = regexp.MustCompile(`(?i)(gmail_signature|moz-signature|applemailsignature|ms-outlook-(mobile|ios|android)-signature|protonmail_signature_block|composer_signature|signature_prefix|yahoo_signature|ymail_android_signature|ydp[a-z0-9]*signature|mail-signature)|^(x_)?signature$`)
	hiddenStyle = regexp.MustCompile(`(?i)display:\s*none|visibility:\s*hidden|mso-hide:\s*all|font-size:\s*0(px)?\s*(;|$)|max-height:\s*0`)
)

func (w *htmlWriter) open(z *html.Tokenizer, hasBlockquote, selfClosed bool) {
	name, more := z.TagName()
	tag := atom.Lookup(name)
	var class, id, style, alt, src, smart, emoji string
	hiddenAttr := false
	for n := 0; more && n < 40; n++ {
		var k, v []byte
		k, v, more = z.TagAttr()
		switch string(k) {
		case "class":
			class = string(v)
		case "id":
			id = string(v)
		case "style":
			style = string(v)
		case "alt":
			alt = string(v)
		case "src":
			src = string(v)
		case "data-smartmail":
			smart = string(v)
		case "data-emoji":
			emoji = string(v)
		case "hidden":
			hiddenAttr = true
		}
	}
	switch tag {
	case atom.Br, atom.Hr:
		w.flush()
		return
	case atom.Img:
		if strings.HasPrefix(strings.ToLower(src), "cid:") && (w.quoted > 0 || w.tail || w.hidden > 0) {
			w.cids[src[4:]] = true
		}
		if emoji == "" && isEmojiText(alt) {
			emoji = alt
		}
		if emoji != "" && w.hidden == 0 {
			w.text(emoji)
		}
		return
	}
	if blockTags[tag] {
		w.flush()
	}
	if (tag == atom.Td || tag == atom.Th) && w.line.Len() > 0 {
		w.text(" ")
	}
	if tailID.MatchString(id) || tailStyle.MatchString(style) && tag == atom.Div {
		w.tail = true
	}
	if voidTags[tag] || selfClosed && tag != atom.Div && tag != atom.P {
		return
	}
	f := frame{tag: tag}
	f.quote = tag == atom.Blockquote || quoteClass.MatchString(class) || quoteClass.MatchString(id) ||
		gmailQuote.MatchString(class) && !hasBlockquote
	f.hidden = tag == atom.Style || tag == atom.Script || tag == atom.Head || tag == atom.Title || tag == atom.Template ||
		tag == atom.S || tag == atom.Del || tag == atom.Strike || hiddenAttr || hiddenStyle.MatchString(style) ||
		signature.MatchString(class) || signature.MatchString(id) || smart == "gmail_signature"
	// Elements nested beyond any sense are counted, not stacked.
	if len(w.stack) >= 4096 {
		w.skips++
		return
	}
	w.stack = append(w.stack, f)
	if f.quote {
		w.flush()
		w.quoted++
	}
	if f.hidden {
		w.hidden++
	}
	if tag == atom.Pre {
		w.pre++
	}
}

func (w *htmlWriter) close(tag atom.Atom) {
	if blockTags[tag] {
		w.flush()
	}
	if w.skips > 0 {
		w.skips--
		return
	}
	// Close the nearest open element of this name; a stray end tag, or one
	// far up, changes nothing.
	low := max(0, len(w.stack)-32)
	for i := len(w.stack) - 1; i >= low; i-- {
		if w.stack[i].tag != tag {
			continue
		}
		w.flushIfQuote(i)
		for _, f := range w.stack[i:] {
			if f.quote {
				w.quoted--
			}
			if f.hidden {
				w.hidden--
			}
			if f.tag == atom.Pre {
				w.pre--
			}
		}
		w.stack = w.stack[:i]
		break
	}
	if tag == atom.P || tag == atom.Blockquote {
		w.blank()
	}
}

func (w *htmlWriter) flushIfQuote(from int) {
	for _, f := range w.stack[from:] {
		if f.quote {
			w.flush()
			return
		}
	}
}

func (w *htmlWriter) text(s string) {
	if w.pre > 0 {
		for i, l := range strings.Split(s, "\n") {
			if i > 0 {
				w.flush()
			}
			w.line.WriteString(l)
		}
		return
	}
	for i, f := range strings.FieldsFunc(s, isHTMLSpace) {
		if i > 0 || startsBlank(s) {
			w.space()
		}
		w.line.WriteString(f)
	}
	if endsBlank(s) {
		w.space()
	}
}

func isHTMLSpace(r rune) bool {
	return r == ' ' || r == '\n' || r == '\t' || r == '\r' || r == '\f' || r == '\u00a0'
}

func startsBlank(s string) bool { return s != "" && strings.IndexFunc(s, isHTMLSpace) == 0 }

func endsBlank(s string) bool {
	return s != "" && isHTMLSpace(rune(s[len(s)-1])) || strings.HasSuffix(s, "\u00a0")
}

func (w *htmlWriter) space() {
	if s := w.line.String(); s != "" && !strings.HasSuffix(s, " ") {
		w.line.WriteByte(' ')
	}
}

func (w *htmlWriter) flush() {
	line := strings.TrimSpace(w.line.String())
	w.line.Reset()
	if line == "" {
		return
	}
	if w.quoted > 0 || w.tail {
		w.out.WriteString("> ")
	}
	w.out.WriteString(line)
	w.out.WriteByte('\n')
}

func (w *htmlWriter) blank() {
	if w.out.Len() > 0 && w.quoted == 0 && !w.tail {
		w.out.WriteByte('\n')
	}
}
