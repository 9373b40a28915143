package inbox

import (
	"bytes"
	"net"
	"net/smtp"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// The client of the standard library is the outside judge of the conversation.
func TestDelivery(t *testing.T) {
	rec := newShelf()
	addr, _ := serve(t, newInbox(t, rec))
	raw := letter(ours, "Yes\r\n.a dotted line\r\n..two\r\nDone")
	for range 2 { // the second is a duplicate: taken, and nothing happens
		if err := smtp.SendMail(addr, nil, "ana@patients.test", []string{ours}, raw); err != nil {
			t.Fatal(err)
		}
	}
	want := []plan.Inbound{{ID: 1, Raw: raw, From: "ana@patients.test", To: []string{ours}, Received: received, Source: "smtp"}}
	if d := cmp.Diff(want, rec.stored()); d != "" {
		t.Error(d)
	}
}

// RFC 5321 section 4.5.1 has postmaster taken; section 4.5.5 the null path of
// bounces; RFC 3463 sections 3.2 and 3.8 name the codes of the others.
func TestRecipients(t *testing.T) {
	a := nudge()
	addr, _ := serve(t, newInbox(t, newShelf(a)))
	c := dial(t, addr)
	c.want("220 clinic.test", c.answer())
	c.want("250", c.say("EHLO x.test"))
	c.want("250", c.say("MAIL FROM:<>"))
	for _, tc := range []struct{ to, code string }{
		{ours, "250"},
		{"Bands@Clinic.TEST", "250"},
		{"bands+anything@clinic.test", "250"},
		{"bands+@clinic.test", "250"},
		{address(t, a), "250"},
		{strings.ToUpper(address(t, a)), "250"},
		{"bands+" + strings.Repeat("a", 39) + "@clinic.test", "250"}, // a token we never made: no oracle
		{"postmaster@clinic.test", "250"},
		{"Postmaster@clinic.test", "250"},
		{"band@clinic.test", "550 5.1.1"},
		{"bandss@clinic.test", "550 5.1.1"},
		{"bands-x@clinic.test", "550 5.1.1"},
		{"abuse@clinic.test", "550 5.1.1"},
		{"bands@mail.clinic.test", "550 5.7.1"},
		{"bands@clinic.test.example.org", "550 5.7.1"},
		{"postmaster@example.org", "550 5.7.1"},
		{"bands%example.org@clinic.test", "550 5.1.1"},
		{`"bands@example.org"@clinic.test`, "553 5.1.3"},
		{"bands+" + strings.Repeat("a", 58) + "@clinic.test", "250"},       // 64 octets: RFC 5321 section 4.5.3.1.1
		{"bands+" + strings.Repeat("a", 59) + "@clinic.test", "553 5.1.3"}, // 65
	} {
		if got := c.say("RCPT TO:<" + tc.to + ">"); !strings.HasPrefix(got, tc.code) {
			t.Errorf("RCPT TO:<%s>: %q, want %s", tc.to, got, tc.code)
		}
	}
	c.want("503", c.say("MAIL FROM:<again@x.test>"))
	c.want("250", c.say("RSET"))
	c.want("250", c.say("MAIL FROM:<again@x.test>"))
	c.want("502", c.say("DATA")) // the recipients went with RSET
	c.want("5", c.say("AUTH PLAIN AGEAYg=="))
	c.want("221", c.say("QUIT"))
}

func TestSizeLimit(t *testing.T) {
	for _, tc := range []struct {
		name string
		size int
		code string
	}{
		{"one below", 9999, "250"}, {"at the limit", 10000, "250"},
		{"one above", 10001, "552 5.3.4"}, {"two above", 10002, "552 5.3.4"}, {"far above", 300000, "552 5.3.4"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			rec := newShelf()
			addr, _ := serve(t, newInbox(t, rec, func(o *Options) { o.MaxBytes = 10000 }))
			raw := letter(ours, "")
			line := strings.Repeat("x", 78) + "\r\n"
			for len(raw) < tc.size {
				raw = append(raw, line[max(0, len(line)-(tc.size-len(raw))):]...)
			}
			c := dial(t, addr)
			c.open("ana@patients.test", ours)
			c.write(string(raw) + ".\r\n")
			c.want(tc.code, c.answer())
			// The answer stood at its right place: the next message goes through.
			small := letter(ours, "and this one")
			c.begin("ana@patients.test", ours)
			c.write(string(small) + ".\r\n")
			c.want("250", c.answer())
			var want [][]byte
			if tc.code == "250" {
				want = append(want, raw)
			}
			want = append(want, small)
			var got [][]byte
			for _, in := range rec.stored() {
				got = append(got, in.Raw)
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

// RFC 1870 section 6.1: a declared size is refused at MAIL.
func TestDeclaredSize(t *testing.T) {
	addr, _ := serve(t, newInbox(t, newShelf(), func(o *Options) { o.MaxBytes = 10000 }))
	c := dial(t, addr)
	c.want("220", c.answer())
	c.want("250", c.say("EHLO x.test"))
	c.want("552 5.3.4", c.say("MAIL FROM:<a@x.test> SIZE=10001"))
	c.want("250", c.say("MAIL FROM:<a@x.test> SIZE=10000"))
}

// Twenty megabytes of photographs: the sender is told and keeps them, and no
// more than the limit was ever held.
func TestPhotographs(t *testing.T) {
	rec := newShelf()
	i := newInbox(t, rec)
	addr, _ := serve(t, i)
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	c.write(string(letter(ours, "look")))
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	line := []byte(strings.Repeat("QUJD", 19) + "\r\n")
	block := bytes.Repeat(line, 1000)
	for sent := 0; sent < 20<<20; sent += len(block) {
		c.write(string(block))
	}
	c.write(".\r\n")
	c.want("552 5.3.4", c.answer())
	runtime.GC()
	runtime.ReadMemStats(&after)
	if got := i.held.Load(); got != 0 {
		t.Errorf("%d octets still count as held", got)
	}
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 1<<20 {
		t.Errorf("the refused message still holds %d octets", grown)
	}
	if n := len(rec.stored()); n != 0 {
		t.Errorf("%d messages stored", n)
	}
}

// What all connections hold together is bounded; the one too many is asked to
// come back (452, RFC 5321 section 4.2.3).
func TestHeldTogether(t *testing.T) {
	rec := newShelf()
	i := newInbox(t, rec, func(o *Options) { o.MaxBytes, o.MaxHeld = 1<<20, 1<<20 })
	addr, _ := serve(t, i)
	big := string(bytes.Repeat([]byte(strings.Repeat("x", 98)+"\r\n"), 9000)) // 900,000 octets
	first, second := dial(t, addr), dial(t, addr)
	first.open("a@patients.test", ours)
	first.write(big)
	// What arrives of the first has to be in, so that it asks for no more room
	// while the second has what is left.
	deadline := time.Now().Add(10 * time.Second)
	for last := int64(-1); last < 1700000 || last != i.held.Load(); {
		last = i.held.Load()
		time.Sleep(100 * time.Millisecond)
		if time.Now().After(deadline) {
			t.Fatalf("held %d", last)
		}
	}
	second.open("b@patients.test", ours)
	second.write(big + ".\r\n")
	second.want("452 4.3.1", second.answer())
	first.write(".\r\n")
	first.want("250", first.answer())
	second.begin("b@patients.test", ours)
	second.write(big + ".\r\n")
	second.want("250", second.answer())
	if got := i.held.Load(); got != 0 {
		t.Errorf("%d octets still count as held", got)
	}
}

func TestLineLimit(t *testing.T) {
	for _, tc := range []struct {
		octets int // with CRLF, as RFC 5321 section 4.5.3.1.6 counts
		code   string
	}{{999, "250"}, {1000, "250"}, {1001, "554 5.6.0"}, {1002, "554 5.6.0"}, {50000, "554 5.6.0"}} {
		rec := newShelf()
		addr, _ := serve(t, newInbox(t, rec, func(o *Options) { o.MaxLine = 1000 }))
		c := dial(t, addr)
		c.open("ana@patients.test", ours)
		c.write(string(letter(ours, strings.Repeat("y", tc.octets-2))) + ".\r\n")
		if got := c.answer(); !strings.HasPrefix(got, tc.code) {
			t.Errorf("%d octets: %q, want %s", tc.octets, got, tc.code)
		}
		if got := c.say("NOOP"); !strings.HasPrefix(got, "250") {
			t.Errorf("%d octets: the conversation is out of step: %q", tc.octets, got)
		}
	}
}

// A line without end is cut off and the connection with it.
func TestEndlessLine(t *testing.T) {
	rec := newShelf()
	addr, _ := serve(t, newInbox(t, rec, func(o *Options) { o.MaxLine = 1000 }))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	go c.Write(bytes.Repeat([]byte("z"), 4<<20))
	c.over()
	if n := len(rec.stored()); n != 0 {
		t.Errorf("%d messages stored", n)
	}
}

func TestRecipientLimit(t *testing.T) {
	addr, _ := serve(t, newInbox(t, newShelf(), func(o *Options) { o.MaxRecipients = 3 }))
	c := dial(t, addr)
	c.want("220", c.answer())
	c.want("250", c.say("EHLO x.test"))
	c.want("250", c.say("MAIL FROM:<a@x.test>"))
	for range 3 {
		c.want("250", c.say("RCPT TO:<"+ours+">"))
	}
	c.want("452 4.5.3", c.say("RCPT TO:<"+ours+">")) // RFC 5321 section 4.5.3.1.10
	c.want("354", c.say("DATA"))
}

func TestConnectionLimit(t *testing.T) {
	addr, _ := serve(t, newInbox(t, newShelf(), func(o *Options) { o.MaxConns = 2 }))
	a, b := dial(t, addr), dial(t, addr)
	a.want("220", a.answer())
	b.want("220", b.answer())
	c := dial(t, addr)
	c.SetReadDeadline(time.Now().Add(200 * time.Millisecond))
	if _, err := c.r.Peek(1); err == nil {
		t.Fatal("a third connection was served")
	}
	c.SetReadDeadline(time.Now().Add(20 * time.Second))
	c.r.Reset(c.Conn)
	a.want("221", a.say("QUIT"))
	c.want("220", c.answer())
}

func TestStoreFails(t *testing.T) {
	rec := newShelf()
	rec.receive = errDisk
	addr, _ := serve(t, newInbox(t, rec))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	c.write(string(letter(ours, "Yes")) + ".\r\n")
	c.want("451 4.3.0", c.answer())
	rec.mu.Lock()
	rec.receive = nil
	rec.mu.Unlock()
	c.begin("ana@patients.test", ours)
	c.write(string(letter(ours, "Yes")) + ".\r\n")
	c.want("250", c.answer())
	if n := len(rec.stored()); n != 1 {
		t.Errorf("%d messages stored, want 1", n)
	}
}

func TestStorePanics(t *testing.T) {
	rec := newShelf()
	rec.onReceive = func() { panic("boom") }
	addr, _ := serve(t, newInbox(t, rec))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	c.write(string(letter(ours, "Yes")) + ".\r\n")
	c.want("421", c.answer())
	c.over()
	rec.mu.Lock()
	rec.onReceive = nil
	rec.mu.Unlock()
	if err := smtp.SendMail(addr, nil, "ana@patients.test", []string{ours}, letter(ours, "Yes")); err != nil {
		t.Errorf("the server did not live on: %v", err)
	}
}

// 250 may not be said before the message is on file.
func TestStoredBefore250(t *testing.T) {
	rec := newShelf()
	hold := make(chan struct{})
	rec.onReceive = func() { <-hold }
	addr, _ := serve(t, newInbox(t, rec))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	c.write(string(letter(ours, "Yes")) + ".\r\n")
	c.SetReadDeadline(time.Now().Add(150 * time.Millisecond))
	if _, err := c.r.Peek(1); err == nil {
		t.Fatal("an answer came before the message was stored")
	}
	close(hold)
	c.SetReadDeadline(time.Now().Add(20 * time.Second))
	c.r.Reset(c.Conn)
	c.want("250", c.answer())
}

// A sender that stalls in the middle of a message is told so, and what it
// sends later is no command.
func TestSlowBody(t *testing.T) {
	rec := newShelf()
	addr, _ := serve(t, newInbox(t, rec, func(o *Options) { o.BodyTimeout = 150 * time.Millisecond }))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	for range 5 { // a drip does not put the end off
		c.write("drip\r\n")
		time.Sleep(40 * time.Millisecond)
	}
	c.want("421 4.4.2", c.answer())
	c.write("\r\n.\r\nMAIL FROM:<smuggler@x.test>\r\nRCPT TO:<" + ours + ">\r\nDATA\r\nhello\r\n.\r\n")
	c.over()
	if n := len(rec.stored()); n != 0 {
		t.Errorf("%d messages stored", n)
	}
}

func TestSlowCommand(t *testing.T) {
	addr, _ := serve(t, newInbox(t, newShelf(), func(o *Options) { o.ReadTimeout = 100 * time.Millisecond }))
	c := dial(t, addr)
	c.want("220", c.answer())
	c.want("421 4.4.2", c.answer())
	c.over()
}

// A message of chunks (RFC 3030) goes through the same gate.
func TestChunks(t *testing.T) {
	rec := newShelf()
	addr, _ := serve(t, newInbox(t, rec, func(o *Options) { o.MaxBytes = 1000 }))
	c := dial(t, addr)
	c.want("220", c.answer())
	c.want("250", c.say("EHLO x.test"))
	begin := func() {
		t.Helper()
		c.want("250", c.say("MAIL FROM:<a@x.test>"))
		c.want("250", c.say("RCPT TO:<"+ours+">"))
	}
	begin()
	c.write("BDAT 8\r\nA: b\r\n\r\n")
	c.want("250", c.answer())
	c.write("BDAT 3 LAST\r\nx\r\n")
	c.want("250", c.answer())
	if in := rec.stored(); len(in) != 1 || string(in[0].Raw) != "A: b\r\n\r\nx\r\n" {
		t.Errorf("stored %v", in)
	}
	begin()
	c.write("BDAT 1002 LAST\r\n" + strings.Repeat("x", 1000) + "\r\n")
	c.want("552", c.answer())
	begin()
	c.write("BDAT 1001 LAST\r\n" + strings.Repeat("x", 999) + "\r\n")
	c.want("552", c.answer())
	begin()
	c.write("BDAT 1000 LAST\r\n" + strings.Repeat("x", 998) + "\r\n")
	c.want("250", c.answer())
	// Broken off by the client, the next message already on its way: it is not
	// taken here, for its sender to try again.
	begin()
	c.write("BDAT 4\r\nhalf")
	c.want("250", c.answer())
	c.write("RSET\r\nMAIL FROM:<b@x.test>\r\nRCPT TO:<" + ours + ">\r\nBDAT 2 LAST\r\n\r\n")
	c.want("250", c.answer())
	c.want("421", c.answer())
	c.over()
	if n := len(rec.stored()); n != 2 {
		t.Errorf("%d messages stored, want 2", n)
	}
}

// Ending between two messages: the client is told, nothing waits.
func TestEndIdle(t *testing.T) {
	i := newInbox(t, newShelf(), func(o *Options) { o.Grace = time.Hour })
	addr, end := serve(t, i)
	c := dial(t, addr)
	c.want("220", c.answer())
	c.want("250", c.say("EHLO x.test"))
	if err := end(); err != nil {
		t.Fatal(err)
	}
	c.want("421", c.answer())
	c.over()
	if _, err := net.Dial("tcp", addr); err == nil {
		t.Error("somebody is still let in")
	}
}

// Ending in the middle of a message: it may arrive, and no other after it.
func TestEndBusy(t *testing.T) {
	rec := newShelf()
	addr, end := serve(t, newInbox(t, rec, func(o *Options) { o.Grace = 10 * time.Second }))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	raw := string(letter(ours, "Yes"))
	c.write(raw[:40])
	ended := make(chan error, 1)
	go func() { ended <- end() }()
	time.Sleep(100 * time.Millisecond)
	c.write(raw[40:] + ".\r\nNOOP\r\n")
	c.want("250", c.answer())
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if n := len(rec.stored()); n != 1 {
		t.Errorf("%d messages stored, want 1", n)
	}
	c.over()
}

// A message that never arrives holds the end up for the grace and no longer;
// one that is being stored is stored.
func TestEndStuck(t *testing.T) {
	rec := newShelf()
	storing := make(chan struct{})
	rec.onReceive = func() { close(storing); time.Sleep(300 * time.Millisecond) }
	addr, end := serve(t, newInbox(t, rec, func(o *Options) { o.Grace = 50 * time.Millisecond }))
	stuck := dial(t, addr)
	stuck.open("ana@patients.test", ours)
	stuck.write("Subject: half a mess")
	whole := dial(t, addr)
	whole.open("ana@patients.test", ours)
	whole.write(string(letter(ours, "Yes")) + ".\r\n")
	<-storing
	if err := end(); err != nil {
		t.Error(err)
	}
	if n := len(rec.stored()); n != 1 {
		t.Errorf("%d messages stored when Serve returned, want 1", n)
	}
}

func TestListenerFails(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
	if err := newInbox(t, newShelf()).Serve(t.Context(), l); err == nil {
		t.Error("a closed listener is no error")
	}
}
