package inbox

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

// How a message was tied to what it answers.
const (
	byToken     = "token"
	byMessageID = "message-id"
	byNothing   = "none"
)

// Caps on what is tried to find out what a message answers.
const (
	maxTokens = 8         // looked up for one message
	maxIDs    = 20        // looked up for one message
	maxBody   = 256 << 10 // octets of body searched for a token
)

// match is what a message answers.
type match struct {
	how   string
	asked plan.Asked
	// two is true when the message proves tokens of two patients at once:
	// nobody can say which of them it speaks of.
	two bool
}

func (m match) found() bool { return m.how != byNothing }

// match finds what a message answers. The places a token may stand in are
// tried in the order in which they can be trusted: the envelope, what servers
// on our side wrote down, what the sender addressed, the subject and the body
// (an answer by a mailto link carries it there). The first place with a token
// that verifies decides. Then comes the Message-ID replied to; like a token it
// cannot be made without our key. The error is the recorder's own: the message
// stays unread.
func (i *Inbox) match(ctx context.Context, in plan.Inbound, h head) (match, error) {
	left := maxTokens
	seen := map[string]bool{}
	for _, place := range places(in, h) {
		m := match{how: byNothing}
		for _, tok := range place(left) {
			if seen[tok] || left == 0 {
				continue
			}
			seen[tok] = true
			left--
			asked, ok, err := i.prove(ctx, tok)
			switch {
			case err != nil:
				return match{how: byNothing}, err
			case !ok:
			case !m.found():
				m = match{how: byToken, asked: asked}
			case m.asked.Patient.ID != asked.Patient.ID:
				return match{how: byNothing, two: true}, nil
			}
		}
		if m.found() {
			return m, nil
		}
	}
	return i.byReference(ctx, h)
}

// places returns, for each place, a function that finds tokens there, so that
// the body is looked at last and only when needed.
func places(in plan.Inbound, h head) []func(int) []string {
	in1 := func(texts ...string) func(int) []string {
		return func(most int) []string { return tokens(most, texts...) }
	}
	return []func(int) []string{
		in1(in.To...),
		in1(h.delivered...),
		in1(h.addressed...),
		in1(h.subject),
		func(most int) []string { return bodyTokens(most, in.Raw[h.body:]) },
	}
}

// prove looks a token up by its selector and checks it against the cause of
// the message found, in constant time.
func (i *Inbox) prove(ctx context.Context, tok string) (plan.Asked, bool, error) {
	selector, err := token.Selector(tok)
	if err != nil {
		return plan.Asked{}, false, nil
	}
	asked, cause, err := i.rec.AskedBySelector(ctx, selector)
	switch {
	case errors.Is(err, i.opts.NotFound):
		return plan.Asked{}, false, nil
	case err != nil:
		return plan.Asked{}, false, fmt.Errorf("look up token: %w", err)
	}
	return asked, token.Verify(i.opts.Key, cause, tok), nil
}

func (i *Inbox) byReference(ctx context.Context, h head) (match, error) {
	none := match{how: byNothing}
	var ids []string
	for _, id := range append(append([]string(nil), h.inReplyTo...), h.refs...) {
		at := strings.LastIndexByte(id, '@')
		if at > 0 && strings.EqualFold(id[at+1:], i.domain) && len(ids) < maxIDs {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return none, nil
	}
	asked, err := i.rec.AskedByMessageID(ctx, ids)
	switch {
	case errors.Is(err, i.opts.NotFound):
		return none, nil
	case err != nil:
		return none, fmt.Errorf("look up message-id: %w", err)
	}
	return match{how: byMessageID, asked: asked}, nil
}

// tokens returns up to most tokens in texts, in lower case, in their order.
func tokens(most int, texts ...string) []string {
	var out []string
	for _, s := range texts {
		s = lower(s)
		for len(out) < most {
			tok, ok := token.Find(s)
			if !ok {
				break
			}
			out = append(out, tok)
			s = s[strings.Index(s, tok)+len(tok):]
		}
	}
	return out
}

// lower folds ASCII letters and leaves every other octet where it is.
func lower(s string) string {
	b := []byte(s)
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			b[i] = c + 'a' - 'A'
		}
	}
	return string(b)
}

// bodyTokens looks for tokens in a raw body: as it stands, with the soft line
// breaks of quoted-printable taken out (RFC 2045 section 6.7), and in runs of
// base64 lines (section 6.8). It needs no structure, so a damaged message
// hides nothing.
func bodyTokens(most int, body []byte) []string {
	body = body[:min(len(body), maxBody)]
	out := tokens(most, string(body))
	if len(out) == 0 && bytes.Contains(body, []byte("=\r\n")) {
		out = tokens(most, strings.ReplaceAll(string(body), "=\r\n", ""))
	}
	if len(out) > 0 {
		return out
	}
	var run []byte
	decode := func() {
		if len(run) >= 16 && len(out) < most {
			text := make([]byte, base64.StdEncoding.DecodedLen(len(run)))
			// What came before a fault is kept.
			n, _ := base64.StdEncoding.Decode(text, run)
			out = append(out, tokens(most-len(out), string(text[:n]))...)
		}
		run = run[:0]
	}
	for at := 0; at < len(body); {
		var l []byte
		l, at = line(body, at)
		if len(l) == 0 || !base64Line(l) {
			decode()
			continue
		}
		run = append(run, l...)
		if l[len(l)-1] == '=' {
			decode()
		}
	}
	decode()
	return out
}

func base64Line(l []byte) bool {
	for _, c := range l {
		switch {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', c == '+', c == '/', c == '=':
		default:
			return false
		}
	}
	return true
}
