package notify

import (
	"bytes"
	"context"
	"io"
	"net"
	"net/mail"
	"sync"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// mute is a Dial to a server that says said and nothing else, whatever it
// hears.
func mute(said []byte, heard *bytes.Buffer, mu *sync.Mutex) func(context.Context, string, string) (net.Conn, error) {
	return func(context.Context, string, string) (net.Conn, error) {
		ours, theirs := net.Pipe()
		go func() {
			buf := make([]byte, 4096)
			for {
				n, err := theirs.Read(buf)
				mu.Lock()
				heard.Write(buf[:n])
				mu.Unlock()
				if err != nil {
					return
				}
			}
		}()
		go func() {
			theirs.SetWriteDeadline(time.Now().Add(2 * time.Second))
			io.Copy(theirs, bytes.NewReader(said))
			time.Sleep(5 * time.Millisecond) // let what is under way be heard
			theirs.Close()
		}()
		return ours, nil
	}
}

// FuzzServerSays: whatever a server says, a drain ends, nothing panics, and no
// message counts as accepted or in doubt whose final dot did not leave.
func FuzzServerSays(f *testing.F) {
	good := "220 hi\r\n250-hi\r\n250 SIZE 100\r\n250 ok\r\n250 ok\r\n354 go\r\n250 ok\r\n221 bye\r\n"
	for _, seed := range []string{
		"", good, "220 hi\r\n502 no\r\n250 hi\r\n", "220-\r\n220 hi\r\n250 hi\r\n550 5.1.1 no\r\n250 ok\r\n250 hi\r\n", "HTTP/1.1 400 Bad Request\r\n\r\n",
		"220 hi\r\n250-AUTH PLAIN\r\n250 STARTTLS\r\n535 5.7.8 no\r\n", "220 hi\r\n250 hi\r\n250 ok\r\n250 ok\r\n354 go\r\n",
		"220 hi\r\n250 hi\r\n250 ok\r\n250 ok\r\n354 go\r\n\x00\xff\r\n", "421 4.3.2 busy\r\n", "220 " + string(bytes.Repeat([]byte("x"), 3000)) + "\r\n",
		"220 hi\r\n250 hi\r\n250 ok\r\n250 ok\r\n354 go\r\n9999999999999999999 \r\n", "220 hi\r\n250 hi\r\n552 -1.-2.-3 no\r\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, said []byte) {
		var (
			heard bytes.Buffer
			mu    sync.Mutex
		)
		box := newShelf(t, nudge(1))
		s := New(Config{
			Outbox: box, Composer: &Composer{Clinic: testClinic, Texts: plainTexts{}, Key: testKey}, Now: (&clock{t: noon}).now, Connections: 1,
			Server: Server{Addr: "127.0.0.1:25", Security: None, CommandTimeout: 2 * time.Second, DotTimeout: 2 * time.Second, Dial: mute(said, &heard, &mu)},
		})
		s.Drain(context.Background())
		mu.Lock()
		dotted := bytes.Contains(heard.Bytes(), []byte("\r\n.\r\n"))
		mu.Unlock()
		switch st := box.row(1).State; st {
		case plan.Accepted:
			if !dotted {
				t.Error("accepted without a dot")
			}
		case plan.Retry, plan.Failed, plan.Uncertain:
		default:
			t.Errorf("left in state %s", st)
		}
	})
}

// FuzzForeignID: whatever a patient's mail program calls its message, the
// answer is one well-formed message with the usual fields.
func FuzzForeignID(f *testing.F) {
	for _, seed := range []string{"a@b", "<a@b>", "a@b>\r\nBcc: <x@y", "a b@c", "ä@b", "a@b@c", "=?utf-8?q?=0D=0A?=@b", "@", ""} {
		f.Add(seed)
	}
	c := composer(Text{Subject: "s", Plain: "p\n"})
	f.Fuzz(func(t *testing.T, id string) {
		j := ofCause(plan.CauseAnswer)
		j.AnswersID = id
		got, err := c.Compose(j, noon)
		if err != nil {
			t.Fatal(err)
		}
		msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
		if err != nil {
			t.Fatal(err)
		}
		want := 11
		if foreignID(id) {
			want = 13
			if msg.Header.Get("In-Reply-To") != "<"+id+">" {
				t.Error("the id changed")
			}
		}
		if len(msg.Header) != want || msg.Header.Get("Bcc") != "" {
			t.Errorf("%d fields, want %d", len(msg.Header), want)
		}
	})
}
