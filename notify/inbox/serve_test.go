package inbox

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"
)

// serve starts a listener on the loopback and ends it with the test.
func serve(t testing.TB, i *Inbox) (addr string, end func() error) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- i.Serve(ctx, l) }()
	ended := false
	end = func() error {
		ended = true
		cancel()
		select {
		case err := <-done:
			return err
		case <-time.After(20 * time.Second):
			t.Error("Serve did not end")
			return nil
		}
	}
	t.Cleanup(func() {
		if !ended {
			if err := end(); err != nil {
				t.Errorf("Serve: %v", err)
			}
		}
	})
	return l.Addr().String(), end
}

// talk is one side of an SMTP conversation, written out line by line so that
// no client library mends what is sent.
type talk struct {
	t testing.TB
	net.Conn
	r *bufio.Reader
}

func dial(t testing.TB, addr string) *talk {
	t.Helper()
	c, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	c.SetDeadline(time.Now().Add(30 * time.Second))
	return &talk{t, c, bufio.NewReader(c)}
}

// answer reads one answer, of several lines perhaps, and returns the last.
func (c *talk) answer() string {
	c.t.Helper()
	for {
		line, err := c.r.ReadString('\n')
		if err != nil {
			return fmt.Sprintf("<%v>", err)
		}
		if len(line) < 4 || line[3] != '-' {
			return strings.TrimRight(line, "\r\n")
		}
	}
}

func (c *talk) say(line string) string {
	c.t.Helper()
	c.write(line + "\r\n")
	return c.answer()
}

func (c *talk) write(s string) {
	c.t.Helper()
	if _, err := c.Write([]byte(s)); err != nil {
		c.t.Logf("write: %v", err)
	}
}

// want fails unless got begins with code.
func (c *talk) want(code, got string) {
	c.t.Helper()
	if !strings.HasPrefix(got, code) {
		c.t.Fatalf("answer %q, want %s", got, code)
	}
}

// open says all that comes before the message.
func (c *talk) open(from string, to ...string) {
	c.t.Helper()
	c.want("220", c.answer())
	c.want("250", c.say("EHLO mail.patients.test"))
	c.begin(from, to...)
}

func (c *talk) begin(from string, to ...string) {
	c.t.Helper()
	c.want("250", c.say("MAIL FROM:<"+from+">"))
	for _, a := range to {
		c.want("250", c.say("RCPT TO:<"+a+">"))
	}
	c.want("354", c.say("DATA"))
}

// over reads until the server closes.
func (c *talk) over() {
	c.t.Helper()
	for {
		if _, err := c.r.ReadString('\n'); err != nil {
			if ne, ok := err.(net.Error); ok && ne.Timeout() {
				c.t.Fatal("the connection was left open")
			}
			return
		}
	}
}
