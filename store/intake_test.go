package store

import (
	"bytes"
	"errors"
	"net/mail"
	"strings"
	"testing"

	"bandbell/scheduler/plan"

	"github.com/google/go-cmp/cmp"
)

func TestReceiveOnce(t *testing.T) {
	db := open(t)
	in := plan.Inbound{Raw: []byte("From: a\r\n\r\nhi\x00\xff\r\n"), From: "", To: []string{"nudge+a@clinic.test", "other@clinic.test"}, Received: noon, Source: "lmtp"}
	id, fresh, err := db.Receive(ctx, in)
	if err != nil || !fresh {
		t.Fatal(id, fresh, err)
	}
	again := in
	again.To, again.Received, again.Source = []string{"other@clinic.test", "nudge+a@clinic.test"}, noon.AddDate(0, 0, 1), "imap"
	if same, fresh, err := db.Receive(ctx, again); err != nil || fresh || same != id {
		t.Errorf("the second time: %d, %v, %v; the first was %d", same, fresh, err, id)
	}
	in.ID = id
	if d := cmp.Diff([]plan.Inbound{in}, must[[]plan.Inbound](t)(db.Unread(ctx, 9))); d != "" {
		t.Errorf("unread (-want +got):\n%s", d)
	}
	for name, other := range map[string]plan.Inbound{
		"other octets":     {Raw: []byte("From: a\r\n\r\nho\r\n"), To: in.To, Received: noon},
		"other recipients": {Raw: in.Raw, To: in.To[:1], Received: noon},
		"nothing at all":   {Received: noon},
	} {
		if _, fresh, err := db.Receive(ctx, other); err != nil || !fresh {
			t.Errorf("%s: %v, %v", name, fresh, err)
		}
	}
	if raw := must[[]byte](t)(db.RawReply(ctx, id)); !bytes.Equal(raw, in.Raw) {
		t.Errorf("raw %q", raw)
	}
	if n := len(must[[]plan.Inbound](t)(db.Unread(ctx, 2))); n != 2 {
		t.Errorf("%d unread with a limit of 2", n)
	}
	ok(t, db.Record(ctx, id, plan.Heard{At: noon, Kind: "unmatched", How: "none"}))
	for _, u := range must[[]plan.Inbound](t)(db.Unread(ctx, 9)) {
		if u.ID == id {
			t.Error("a reply that was read is still unread")
		}
	}
}

func TestASecondBodyUnderTheSameMessageIDWaitsForAPerson(t *testing.T) {
	db := open(t)
	first := arrive(t, db, "Message-ID: <q@x.test>\r\n\r\none\r\n", noon)
	second := arrive(t, db, "Message-ID: <q@x.test>\r\n\r\ntwo\r\n", noon)
	third := arrive(t, db, "Subject: none\r\n\r\nthree\r\n", noon)
	for _, id := range []int64{first, second, third} {
		ok(t, db.Record(ctx, id, plan.Heard{At: noon, Kind: "reply", How: "none"}))
	}
	list := must[[]Reply](t)(db.Replies(ctx, true, 9))
	if len(list) != 1 || list[0].ID != second || !strings.Contains(list[0].Why, "Message-ID") {
		t.Errorf("a person must read %+v", list)
	}
	ok(t, db.Seen(ctx, second, "desk:ines", noon))
	if n := len(must[[]Reply](t)(db.Replies(ctx, true, 9))); n != 0 {
		t.Errorf("%d left to read", n)
	}
	if n := len(must[[]Reply](t)(db.Replies(ctx, false, 9))); n != 3 {
		t.Errorf("%d replies", n)
	}
}

func TestAsked(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	n := change(today, "PCD", noon)
	j := sent(t, db, p, n)
	c := composed(j)
	a, cause, err := db.AskedBySelector(ctx, c.Selector)
	ok(t, err)
	if want := "nudge/" + p.Ref + "/band-change/2026-06-01/2026-06-01/PCD#1"; cause != want {
		t.Errorf("token cause %q, want %q", cause, want)
	}
	if d := cmp.Diff(n, a.Nudge); d != "" {
		t.Errorf("nudge (-want +got):\n%s", d)
	}
	if a.Outgoing.ID != j.ID || a.Patient.ID != p.ID || a.Plan.Trays != 24 || a.Outgoing.To.Address != p.Recipients[0].Address {
		t.Errorf("got %+v", a)
	}
	b := must[plan.Asked](t)(db.AskedByMessageID(ctx, []string{"", "else@x.test", c.MessageID}))
	if d := cmp.Diff(a, b); d != "" {
		t.Errorf("by Message-ID (-token +id):\n%s", d)
	}
	if _, _, err := db.AskedBySelector(ctx, ""); !errors.Is(err, ErrNotFound) {
		t.Errorf("empty selector: %v", err)
	}
	if _, _, err := db.AskedBySelector(ctx, "guess"); !errors.Is(err, ErrNotFound) {
		t.Errorf("guessed selector: %v", err)
	}
	if _, err := db.AskedByMessageID(ctx, []string{"else@x.test"}); !errors.Is(err, ErrNotFound) {
		t.Errorf("unknown Message-ID: %v", err)
	}
}

func TestATestMessage(t *testing.T) {
	db := open(t)
	id := must[int64](t)(db.EnqueueTest(ctx, plan.Recipient{Name: "Ines", Address: "ines@CLINIC.test", Language: "es"}, noon))
	jobs := must[[]plan.Job](t)(db.Claim(ctx, noon, 5))
	if len(jobs) != 1 || jobs[0].ID != id || jobs[0].Key != "test/1780329600000" || jobs[0].To.Address != "ines@clinic.test" || jobs[0].To.Language != "es" {
		t.Fatalf("claimed %+v", jobs)
	}
	if _, err := db.EnqueueTest(ctx, plan.Recipient{Address: "no one"}, noon); err == nil {
		t.Error("a test to no address was taken")
	}
}

func TestMessageID(t *testing.T) {
	for name, c := range map[string]struct{ raw, want string }{
		"plain":             {"From: a\r\nMessage-ID: <a.b@x.test>\r\n\r\n", "a.b@x.test"},
		"folded":            {"Message-ID:\r\n <a@x.test>\r\nFrom: a\r\n\r\n", "a@x.test"},
		"folded with tab":   {"message-id :\n\t<a@x.test>\n\n", "a@x.test"},
		"the first counts":  {"Message-ID: <a@x.test>\r\nMessage-ID: <b@x.test>\r\n\r\n", "a@x.test"},
		"in the body":       {"From: a\r\n\r\nMessage-ID: <a@x.test>\r\n", ""},
		"in another field":  {"X: Message-ID: <a@x.test>\r\n\r\n", ""},
		"no brackets":       {"Message-ID: a@x.test\r\n\r\n", ""},
		"two of them":       {"Message-ID: <a@x.test> <b@x.test>\r\n\r\n", ""},
		"a control":         {"Message-ID: <a\x01@x.test>\r\n\r\n", ""},
		"not ASCII":         {"Message-ID: <\u00e4@x.test>\r\n\r\n", ""},
		"250 octets":        {"Message-ID: <" + strings.Repeat("a", 248) + ">\r\n\r\n", strings.Repeat("a", 248)},
		"251 octets":        {"Message-ID: <" + strings.Repeat("a", 249) + ">\r\n\r\n", ""},
		"empty":             {"", ""},
		"cut in the middle": {"Message-ID: <a@x", ""},
	} {
		raw := []byte(c.raw)
		if got := messageID(raw); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if string(raw) != c.raw {
			t.Errorf("%s: the message was changed", name)
		}
	}
}

// FuzzMessageID holds what is read against net/mail: where both find a
// Message-ID it is the same, and what is found can stand in a header again.
func FuzzMessageID(f *testing.F) {
	for _, s := range []string{"Message-ID: <a@x.test>\r\n\r\n", "From: a\nMessage-Id:\n <a@x.test>\n\nbody", "\r\n", "Message-ID: <>\r\n", ":\r\n \r\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		before := bytes.Clone(raw)
		got := messageID(raw)
		if !bytes.Equal(raw, before) {
			t.Fatal("the message was changed")
		}
		if got == "" {
			return
		}
		for _, c := range []byte(got) {
			if c <= ' ' || c > '~' || c == '<' || c == '>' {
				t.Fatalf("%q cannot stand in a header", got)
			}
		}
		m, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			return
		}
		if there := strings.TrimSpace(m.Header.Get("Message-ID")); there != "" && there != "<"+got+">" {
			t.Fatalf("got %q, net/mail says %q", got, there)
		}
	})
}
