package mailtest

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/google/go-cmp/cmp"
)

const body = "Subject: hello\r\n\r\nfirst\r\n.\r\n..two\r\nlast\r\n"

func start(t *testing.T, opts ...Option) *Server {
	t.Helper()
	s, err := NewServer(opts...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return s
}

func dial(t *testing.T, s *Server) *smtp.Client {
	t.Helper()
	var c *smtp.Client
	var err error
	config := &tls.Config{RootCAs: s.CertPool(), ServerName: "localhost"}
	switch s.opts.security {
	case startTLS:
		c, err = smtp.DialStartTLS(s.Addr(), config)
	case implicitTLS:
		c, err = smtp.DialTLS(s.Addr(), config)
	default:
		c, err = smtp.Dial(s.Addr())
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	c.CommandTimeout = 20 * time.Second
	c.SubmissionTimeout = 20 * time.Second
	if err := c.Hello("client.test"); err != nil {
		t.Fatal(err)
	}
	return c
}

func TestTakesAndKeeps(t *testing.T) {
	var called []Message
	s := start(t, OnMessage(func(m Message) { called = append(called, m) }))
	c := dial(t, s)
	for range 2 { // a connection carries more than one message
		if err := c.SendMail("bands@clinic.test", []string{"ana@patients.test", "luis@patients.test"}, strings.NewReader(body)); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Quit(); err != nil {
		t.Fatal(err)
	}
	one := Message{
		From: "bands@clinic.test", To: []string{"ana@patients.test", "luis@patients.test"},
		Data: []byte(body), Helo: "client.test",
	}
	want := []Message{one, one}
	if d := cmp.Diff(want, s.Messages()); d != "" {
		t.Errorf("Messages (-want +got):\n%s", d)
	}
	if d := cmp.Diff(want, called); d != "" {
		t.Errorf("OnMessage (-want +got):\n%s", d)
	}
	if s.Count() != 2 {
		t.Errorf("Count = %d, want 2", s.Count())
	}
}

func TestNext(t *testing.T) {
	s := start(t)
	short, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Next(short); !errors.Is(err, context.Canceled) {
		t.Errorf("on an empty server: %v, want the context's error", err)
	}
	got := make(chan string, 3)
	go func() {
		defer close(got)
		for {
			m, err := s.Next(context.Background())
			if err != nil {
				got <- err.Error()
				return
			}
			got <- m.From
		}
	}()
	c := dial(t, s)
	for _, from := range []string{"a@clinic.test", "b@clinic.test"} {
		if err := c.SendMail(from, []string{"ana@patients.test"}, strings.NewReader(body)); err != nil {
			t.Fatal(err)
		}
		if m := <-got; m != from {
			t.Errorf("Next = %q, want %q", m, from)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if m := <-got; m != ErrClosed.Error() {
		t.Errorf("after Close: %q, want %q", m, ErrClosed)
	}
	if err := s.Close(); err != nil {
		t.Errorf("second Close: %v", err)
	}
}

func TestDiscard(t *testing.T) {
	n := 0
	s := start(t, Discard(), OnMessage(func(Message) { n++ }))
	if err := dial(t, s).SendMail("", []string{"ana@patients.test"}, strings.NewReader(body)); err != nil {
		t.Fatal(err)
	}
	if s.Count() != 1 || n != 1 || len(s.Messages()) != 0 {
		t.Errorf("counted %d, called %d, kept %d; want 1, 1, 0", s.Count(), n, len(s.Messages()))
	}
}

func TestAuthAndEncryption(t *testing.T) {
	modes := map[string][]Option{"plain": nil, "starttls": {StartTLS()}, "implicit": {ImplicitTLS()}}
	logins := map[string]func(user, password string) sasl.Client{
		"PLAIN": func(u, p string) sasl.Client { return sasl.NewPlainClient("", u, p) },
		"LOGIN": sasl.NewLoginClient,
	}
	for mode, opts := range modes {
		for mech, login := range logins {
			t.Run(mode+" "+mech, func(t *testing.T) {
				s := start(t, append(opts, RequireAuth("bands", "s3cret"), RequireAuth("desk", "other"))...)
				c := dial(t, s)
				var reply *smtp.SMTPError
				// RFC 4954 section 6: 530 before, 535 for a wrong password.
				if err := c.Mail("a@clinic.test", nil); !errors.As(err, &reply) || reply.Code != 530 {
					t.Fatalf("MAIL before AUTH: %v, want 530", err)
				}
				if err := c.Auth(login("bands", "wrong")); !errors.As(err, &reply) || reply.Code != 535 {
					t.Fatalf("wrong password: %v, want 535", err)
				}
				if err := c.Auth(login("nobody", "")); !errors.As(err, &reply) || reply.Code != 535 {
					t.Fatalf("unknown user: %v, want 535", err)
				}
				if err := c.Auth(login("bands", "s3cret")); err != nil {
					t.Fatal(err)
				}
				if err := c.SendMail("a@clinic.test", []string{"ana@patients.test"}, strings.NewReader(body)); err != nil {
					t.Fatal(err)
				}
				m := s.Messages()
				if len(m) != 1 || m[0].User != "bands" || m[0].TLS != (mode != "plain") {
					t.Errorf("kept %+v", m)
				}
			})
		}
	}
}

func TestNoAuthBeforeTLS(t *testing.T) {
	s := start(t, StartTLS(), RequireAuth("bands", "s3cret"))
	c, err := smtp.Dial(s.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.Hello("client.test"); err != nil {
		t.Fatal(err)
	}
	if ok, _ := c.Extension("AUTH"); ok {
		t.Error("AUTH is offered before TLS")
	}
	if ok, _ := c.Extension("STARTTLS"); !ok {
		t.Error("STARTTLS is not offered")
	}
}

func TestCertificates(t *testing.T) {
	for _, tc := range []struct {
		name string
		opts []Option
		host string
		pool bool
		fail any // a pointer to the error type wanted, nil for none
	}{
		{"localhost", nil, "localhost", true, nil},
		{"address", nil, "127.0.0.1", true, nil},
		{"unknown authority", nil, "localhost", false, new(x509.UnknownAuthorityError)},
		{"name not in it", nil, "mail.clinic.test", true, new(x509.HostnameError)},
		{"made for another", []Option{CertificateFor("mail.clinic.test")}, "localhost", true, new(x509.HostnameError)},
		{"made for that name", []Option{CertificateFor("mail.clinic.test")}, "mail.clinic.test", true, nil},
		{"expired", []Option{ExpiredCertificate()}, "localhost", true, new(x509.CertificateInvalidError)},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := start(t, append(tc.opts, ImplicitTLS())...)
			config := &tls.Config{ServerName: tc.host, RootCAs: x509.NewCertPool()}
			if tc.pool {
				config.RootCAs = s.CertPool()
			}
			conn, err := tls.Dial("tcp", s.Addr(), config)
			if err == nil {
				conn.Close()
			}
			if tc.fail == nil && err != nil {
				t.Errorf("refused: %v", err)
			}
			if tc.fail != nil && !errors.As(err, tc.fail) {
				t.Errorf("got %v, want %T", err, tc.fail)
			}
		})
	}
	if start(t).CertPool() != nil {
		t.Error("a plain server has a pool")
	}
}

func TestTuneTLS(t *testing.T) {
	s := start(t, ImplicitTLS(), TuneTLS(func(c *tls.Config) { c.MaxVersion = tls.VersionTLS12 }))
	conn, err := tls.Dial("tcp", s.Addr(), &tls.Config{RootCAs: s.CertPool(), ServerName: "localhost"})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if v := conn.ConnectionState().Version; v != tls.VersionTLS12 {
		t.Errorf("version %x, want 1.2", v)
	}
}

func TestManyAtOnce(t *testing.T) {
	const clients, each = 8, 25
	s := start(t)
	var wg sync.WaitGroup
	fail := make(chan error, clients)
	for i := range clients {
		wg.Go(func() {
			c, err := smtp.Dial(s.Addr())
			if err != nil {
				fail <- err
				return
			}
			defer c.Close()
			for n := range each {
				to := fmt.Sprintf("p%d-%d@patients.test", i, n)
				if err := c.SendMail("bands@clinic.test", []string{to}, strings.NewReader(body)); err != nil {
					fail <- err
					return
				}
			}
		})
	}
	wg.Wait()
	close(fail)
	for err := range fail {
		t.Error(err)
	}
	seen := map[string]int{}
	for _, m := range s.Messages() {
		seen[m.To[0]]++
	}
	if len(seen) != clients*each || s.Count() != clients*each {
		t.Errorf("%d recipients, %d messages; want %d", len(seen), s.Count(), clients*each)
	}
}

// A body that ends without its dot is no message, whatever follows.
func TestBodyCutShort(t *testing.T) {
	s := start(t)
	conn, err := net.Dial("tcp", s.Addr())
	if err != nil {
		t.Fatal(err)
	}
	text := textproto.NewConn(conn)
	if _, _, err := text.ReadResponse(220); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		line string
		code int
	}{{"EHLO c.test", 250}, {"MAIL FROM:<a@clinic.test>", 250}, {"RCPT TO:<b@clinic.test>", 250}, {"DATA", 354}} {
		if err := text.PrintfLine("%s", step.line); err != nil {
			t.Fatal(err)
		}
		if _, _, err := text.ReadResponse(step.code); err != nil {
			t.Fatalf("%s: %v", step.line, err)
		}
	}
	if err := text.PrintfLine("Subject: half"); err != nil {
		t.Fatal(err)
	}
	conn.Close()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if n := s.Count(); n != 0 {
		t.Errorf("%d messages kept, want none", n)
	}
}

func BenchmarkSend(b *testing.B) {
	s, err := NewServer(Discard())
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	c, err := smtp.Dial(s.Addr())
	if err != nil {
		b.Fatal(err)
	}
	defer c.Close()
	for b.Loop() {
		if err := c.SendMail("bands@clinic.test", []string{"ana@patients.test"}, strings.NewReader(body)); err != nil {
			b.Fatal(err)
		}
	}
}

// The accept loop may not have begun when the server is closed.
func TestCloseAtOnce(t *testing.T) {
	for range 50 {
		s, err := NewServer(ImplicitTLS())
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if conn, err := net.DialTimeout("tcp", s.Addr(), time.Second); err == nil {
			conn.Close()
			t.Fatal("a closed server takes connections")
		}
	}
}
