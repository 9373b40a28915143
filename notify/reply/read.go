package reply

import (
	"regexp"
	"strings"
	"time"
)

// Read reads one raw message. It never fails: what cannot be read comes back
// as KindUnreadable, for a person.
func Read(raw []byte, asked Asked) Reading {
	r := Reading{Changed: None, Allergy: AllergyNone}
	over := len(raw) > maxBytes
	if over {
		raw = raw[:maxBytes]
	}
	h, rest, cut := splitHeader(raw, true)
	bd := &body{damaged: cut || over}
	bd.walk(h, rest, 0)
	r.Envelope = envelopeOf(h)
	r.At = instant(r.Envelope.Date, asked)
	r.Damaged = bd.damaged

	v := bd.visible(asked.Nudge)
	r.Text = v.text
	if v.cut {
		r.Damaged = true
	}
	switch kind, why := machine(h, bd, r, asked); kind {
	case KindBounce:
		return bounced(r, h, bd)
	case KindAutoReply, KindLoop:
		return automatic(r, h, bd, kind, why)
	}
	if len(strings.TrimSpace(string(raw))) == 0 {
		return unreadable(r, "the message is empty")
	}
	if bd.sealed && r.Text == "" {
		return unreadable(r, "the message is encrypted")
	}
	if r.Damaged && r.Text == "" && !v.quoted {
		return unreadable(r, "the message could not be decoded")
	}
	if garbled(r.Text) {
		return unreadable(r, "the text could not be decoded")
	}
	if r.Text == "" && bd.other > 0 && len(bd.plain)+len(bd.html) == 0 {
		return unreadable(r, "only an attachment")
	}
	r.Kind = KindReply
	a := analyse(r.Text, asked)
	r.Lang = a.lang
	a.decide(&r)
	switch {
	case r.Text == "" && hidesAnswer(v.foot):
		r.person("an answer may stand under a quotation without marks")
	case bd.damaged || over || v.cut:
		r.person("parts of the message could not be read")
	case r.Text == "" && bd.photos(v) > 0:
		r.person("a picture without text")
	case r.Text == "" && bd.other > 0:
		r.person("an attachment without text")
	case r.Text == "" && bd.forwarded > 0:
		r.person("a forwarded message without text")
	}
	return r
}

// person asks for somebody's look for one more reason.
func (r *Reading) person(why string) {
	if !r.NeedsPerson {
		r.NeedsPerson, r.Why = true, why
		return
	}
	r.Why += "; " + why
}

// hidesAnswer tells whether the foot of an unmarked quotation reads like an
// answer.
func hidesAnswer(foot string) bool {
	if foot == "" || len(strings.Fields(foot)) > 12 {
		return false
	}
	a := analyse(foot, Asked{})
	for _, c := range []string{"yes", "no", "ok", "changed", "forgot", "red", "yellow", "broken", "out-of-bands", "is-off", "took-off"} {
		if len(a.hits[c]) > 0 {
			return true
		}
	}
	return false
}

func unreadable(r Reading, why string) Reading {
	r.Kind, r.NeedsPerson, r.Why, r.Damaged = KindUnreadable, true, why, true
	r.Reports = []Report{{What: FlagOther, Detail: "unreadable", Certainty: .3, At: r.At}}
	return r
}

// garbled is true of text that is mostly no text.
func garbled(s string) bool {
	bad, n := 0, 0
	for _, c := range s {
		n++
		if c == '\uFFFD' || c < 0x20 && c != '\n' && c != '\t' {
			bad++
		}
	}
	return bad*4 > n && bad > 0
}

// instant dates a message in the patient's zone. A Date that is missing, or a
// day and more before the nudge or after our own clock's word, is not believed.
func instant(date time.Time, asked Asked) time.Time {
	at := date
	if !asked.Received.IsZero() && (at.IsZero() || at.After(asked.Received.Add(10*time.Minute)) || at.Before(asked.Received.AddDate(0, 0, -7))) {
		at = asked.Received
	}
	if !asked.Sent.IsZero() && (at.IsZero() || at.Before(asked.Sent.Add(-24*time.Hour))) {
		at = asked.Sent
	}
	if at.IsZero() {
		return at
	}
	return at.In(asked.zone(at.Location()))
}

// shown is the visible text of a message's body.
type shown struct {
	visible
	cids map[string]bool
}

// visible chooses between the plain and the HTML form. The plain one is taken,
// but for two cases: it is empty, or the HTML's structure shows less of it to
// be the sender's own.
func (bd *body) visible(nudge string) shown {
	var out shown
	plain := strip(cleanRunes(strings.Join(bd.plain, "\n")), nudge)
	out.visible = plain
	if len(bd.html) > 0 {
		text, cids := htmlText(strings.Join(bd.html, "\n"))
		html := strip(cleanRunes(text), nudge)
		out.cids = cids
		switch {
		case plain.text == "" && strings.TrimSpace(strings.Join(bd.plain, "")) == "", len(bd.plain) == 0:
			out.visible = html
		case plain.text == "" && !plain.quoted && html.text != "":
			out.visible = html
		case html.text != "" && html.quoted && len(html.text) < len(plain.text) && startsLike(plain.text, html.text):
			out.visible = html
		case needsHTML.MatchString(plain.text) && html.text != "":
			out.visible = html
		}
		out.quoted = plain.quoted || html.quoted
	}
	if bd.reaction != "" && isEmojiText(bd.reaction) {
		out.text = bd.reaction
	}
	if tapback.MatchString(out.text) {
		out.text = tapWord(out.text)
	}
	return out
}

var needsHTML = regexp.MustCompile(`(?i)^(this (message|e-?mail) (requires|needs|is in) .{0,40}html|your (mail|email) (client|program|reader) (does|can)( not|'t|not) .{0,60}html|html (content|message|version))`)

// tapWord turns a one-tap reaction that quotes the nudge into its emoji.
func tapWord(s string) string {
	word := strings.ToLower(strings.Fields(s)[0])
	switch {
	case strings.HasPrefix(word, "lik") || strings.HasPrefix(word, "lov") || word == "le" || strings.HasPrefix(word, "j'") || strings.HasPrefix(word, "gef"):
		return "👍"
	case strings.HasPrefix(word, "dis") || word == "no":
		return "👎"
	}
	return strings.Fields(s)[0]
}

// startsLike tells whether long begins with the words of short.
func startsLike(long, short string) bool {
	l, s := strings.Fields(long), strings.Fields(short)
	if len(s) > len(l) {
		return false
	}
	for i := range s {
		if s[i] != l[i] {
			return false
		}
	}
	return true
}

// photos counts the pictures that the sender added: not those that the quoted
// nudge carried.
func (bd *body) photos(v shown) int {
	n := bd.pictures
	for _, id := range bd.cids {
		if !v.cids[id] && !strings.Contains(strings.Join(bd.html, ""), "cid:"+id) {
			n++
		} else if !v.cids[id] && len(bd.html) > 0 {
			n++
		}
	}
	return n
}
