package inbox

import (
	"encoding/base64"
	"errors"
	"mime"
	"mime/quotedprintable"
	"strings"
	"testing"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

// other is a nudge to another patient.
func other() plan.Asked {
	a := nudge()
	a.Patient.ID, a.Patient.Ref = 8, "x3p9wn"
	a.Outgoing.ID, a.Outgoing.Key = 800, "nudge/x3p9wn/band-change/2026-06-01/2026-06-01/PCD"
	a.Outgoing.MessageID = "ffeeddccbbaa99887766554433221100@clinic.test"
	return a
}

// earlier is an earlier nudge to the same patient.
func earlier() plan.Asked {
	a := nudge()
	a.Outgoing.ID, a.Outgoing.Key = 690, "nudge/k7m2qd/band-change/2026-06-01/2026-06-01/PCM"
	a.Outgoing.MessageID = "aa112233445566778899aabbccddeeff@clinic.test"
	a.Nudge.Slot = "2026-06-01/PCM"
	return a
}

func TestMatch(t *testing.T) {
	a, b, e := nudge(), other(), earlier()
	here, there := address(t, a), address(t, b)
	forged, err := token.Make([]byte("the key of somebody else, longer"), cause(a))
	if err != nil {
		t.Fatal(err)
	}
	// The right selector with another proof: what a thief of the database
	// alone could make.
	half := tok(t, a)[:14] + forged[14:]
	if sel, err := token.Selector(half); err != nil {
		t.Fatal(err)
	} else if real, _ := token.Selector(tok(t, a)); sel[:14] != real[:14] {
		t.Fatal("the half-forged token has another selector")
	}
	qp := func(s string) string {
		var w strings.Builder
		q := quotedprintable.NewWriter(&w)
		q.Write([]byte(s))
		q.Close()
		return w.String()
	}
	b64 := func(s string) string {
		e := base64.StdEncoding.EncodeToString([]byte(s))
		var w strings.Builder
		for len(e) > 76 {
			w.WriteString(e[:76] + "\r\n")
			e = e[76:]
		}
		return w.String() + e
	}
	filler := strings.Repeat("Thanks for asking, all is well here. ", 9)
	for _, tc := range []struct {
		name string
		to   []string
		raw  []byte
		how  string
		id   int64 // of the outgoing message
		two  bool
	}{
		{"envelope", []string{here}, letter(ours, "Yes"), byToken, 700, false},
		{"envelope in capitals", []string{strings.ToUpper(here)}, letter(ours, "Yes"), byToken, 700, false},
		{"second envelope recipient", []string{ours, here}, letter(ours, "Yes"), byToken, 700, false},
		{"envelope before header", []string{here}, letter(there, "Yes"), byToken, 700, false},
		{"Delivered-To", nil, letter(ours, "Yes", "Delivered-To: "+here), byToken, 700, false},
		{"X-Original-To", nil, letter(ours, "Yes", "X-Original-To: "+here), byToken, 700, false},
		{"Delivered-To before To", nil, letter(there, "Yes", "Delivered-To: "+here), byToken, 700, false},
		{"To", []string{ours}, letter(here, "Yes"), byToken, 700, false},
		{"To folded", []string{ours}, letter(ours, "Yes", "Cc: Desk\r\n <"+here+">"), byToken, 700, false},
		{"second of Cc", nil, letter(ours, "Yes", "Cc: x+"+forged+"@x.test, "+here), byToken, 700, false},
		{"subject", nil, letter(ours, "Yes", "Subject: Re: [ref "+tok(t, a)+"]"), byToken, 700, false},
		{"subject in an encoded-word", nil, letter(ours, "Yes", "Subject: "+mime.BEncoding.Encode("utf-8", "Después [ref "+tok(t, a)+"]")), byToken, 700, false},
		{"body", nil, letter(ours, "YES\r\n\r\nRef: "+strings.ToUpper(tok(t, a))), byToken, 700, false},
		{"body in quoted-printable", nil, letter(ours, qp(filler+"Ref: "+tok(t, a)+" "+filler), "Content-Transfer-Encoding: quoted-printable"), byToken, 700, false},
		{"body in base64", nil, letter(ours, b64(filler+"\r\nRef: "+tok(t, a)), "Content-Transfer-Encoding: base64"), byToken, 700, false},
		{"In-Reply-To", nil, letter(ours, "Yes", "In-Reply-To: <"+a.Outgoing.MessageID+">"), byMessageID, 700, false},
		{"In-Reply-To, domain in capitals", nil, letter(ours, "Yes", "In-Reply-To: <00112233445566778899aabbccddeeff@Clinic.Test>"), byNothing, 0, false},
		{"References, the latest first", nil, letter(ours, "Yes", "References: <"+e.Outgoing.MessageID+">\r\n <x@y.test> <"+a.Outgoing.MessageID+">"), byMessageID, 700, false},
		{"token before In-Reply-To", []string{here}, letter(ours, "Yes", "In-Reply-To: <"+b.Outgoing.MessageID+">"), byToken, 700, false},
		{"forged token, then In-Reply-To", []string{"bands+" + forged + "@clinic.test"}, letter(ours, "Yes", "In-Reply-To: <"+a.Outgoing.MessageID+">"), byMessageID, 700, false},
		{"forged token", []string{"bands+" + forged + "@clinic.test"}, letter(ours, "Yes"), byNothing, 0, false},
		{"right selector, wrong proof", []string{"bands+" + half + "@clinic.test"}, letter(ours, "Yes"), byNothing, 0, false},
		{"no token", []string{ours}, letter(ours, "Yes"), byNothing, 0, false},
		{"From alone", []string{ours}, letter(ours, "Yes"), byNothing, 0, false},
		{"two messages of one patient", []string{here, address(t, e)}, letter(ours, "Yes"), byToken, 700, false},
		{"two patients", []string{here, there}, letter(ours, "Yes"), byNothing, 0, true},
		{"two patients at different places", []string{here}, letter(there, "Yes"), byToken, 700, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			i := newInbox(t, newShelf(a, b, e))
			in := plan.Inbound{Raw: tc.raw, To: tc.to}
			m, err := i.match(t.Context(), in, scan(tc.raw))
			if err != nil {
				t.Fatal(err)
			}
			if m.how != tc.how || m.asked.Outgoing.ID != tc.id || m.two != tc.two {
				t.Errorf("got %s, %d, two %v; want %s, %d, two %v", m.how, m.asked.Outgoing.ID, m.two, tc.how, tc.id, tc.two)
			}
		})
	}
}

// A look-up that fails is not a message that is unknown.
func TestMatchFails(t *testing.T) {
	rec := newShelf(nudge())
	rec.lookup = errDisk
	i := newInbox(t, rec)
	for _, raw := range [][]byte{letter(address(t, nudge()), "Yes"), letter(ours, "Yes", "In-Reply-To: <x@clinic.test>")} {
		if _, err := i.match(t.Context(), plan.Inbound{Raw: raw}, scan(raw)); !errors.Is(err, errDisk) {
			t.Errorf("got %v, want %v", err, errDisk)
		}
	}
}

// However many tokens a message brings, few are looked up.
func TestManyTokens(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	i := newInbox(t, rec)
	var cc []string
	for n := range 500 {
		guess, err := token.Make([]byte("the key of somebody else, longer"), string(rune('a'+n%26))+strings.Repeat("x", n))
		if err != nil {
			t.Fatal(err)
		}
		cc = append(cc, "bands+"+guess+"@clinic.test")
	}
	raw := letter(ours, strings.Join(cc, "\r\n"), "Cc: "+strings.Join(cc, ",\r\n "))
	m, err := i.match(t.Context(), plan.Inbound{Raw: raw, To: cc}, scan(raw))
	if err != nil || m.found() || rec.lookups > maxTokens {
		t.Errorf("found %v, %v after %d look-ups, at most %d allowed", m.found(), err, rec.lookups, maxTokens)
	}
}

func FuzzMatch(f *testing.F) {
	a := nudge()
	here := address(f, a)
	f.Add(here, letter(ours, "Yes"))
	f.Add("", letter(here, "Yes"))
	f.Add(ours, letter(ours, "Ref: "+tok(f, a)))
	f.Add(ours, letter(ours, "Yes", "In-Reply-To: <"+a.Outgoing.MessageID+">"))
	f.Add(ours, letter(ours, base64.StdEncoding.EncodeToString([]byte("Ref: "+tok(f, a)))))
	f.Add("postmaster@clinic.test", []byte("\r\n\r\n"))
	f.Add("bands+\x00@clinic.test", []byte("From x\nTo:"))
	f.Add("", []byte("Subject: =?utf-8?b?"))
	f.Fuzz(func(t *testing.T, to string, raw []byte) {
		rec := newShelf(a)
		i := newInbox(t, rec)
		h := scan(raw)
		if h.body < 0 || h.body > len(raw) {
			t.Fatalf("body at %d of %d", h.body, len(raw))
		}
		m, err := i.match(t.Context(), plan.Inbound{Raw: raw, To: []string{to}}, h)
		if err != nil {
			t.Fatal(err)
		}
		if rec.lookups > maxTokens+1 {
			t.Errorf("%d look-ups", rec.lookups)
		}
		// What is found was proved: the octets hold the token, in some
		// spelling, or the Message-ID. Decoded bodies are looked at apart.
		if m.how == byMessageID && !strings.Contains(string(raw), a.Outgoing.MessageID[:32]) {
			t.Error("tied by a Message-ID that is not there")
		}
		if i.recipient(to) == nil {
			if at := strings.LastIndexByte(to, '@'); at < 0 || !strings.EqualFold(strings.TrimSpace(to)[strings.LastIndexByte(strings.TrimSpace(to), '@')+1:], "clinic.test") {
				t.Errorf("took mail for %q", to)
			}
		}
		if n := len(undated(raw)); n > len(raw) {
			t.Errorf("%d octets became %d", len(raw), n)
		}
	})
}
