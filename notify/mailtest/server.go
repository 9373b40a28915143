// Package mailtest is an SMTP server in the same process, for tests, the demo
// and capacity runs, as net/http/httptest is for HTTP.
//
// It promises to keep every message it answered with 250, in the order of those
// answers, exactly as the bytes came off the wire, and to misbehave only where
// it was told to: a fault is asked for by stage and number, never drawn by
// chance. All of it is safe for concurrent use. It listens on 127.0.0.1 only
// and hands nothing on.
package mailtest

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-smtp"
)

// Message is one message the server took.
type Message struct {
	From string   // MAIL FROM without the brackets, empty for the null path
	To   []string // every RCPT TO the server accepted, in order
	Data []byte   // header and body with CRLF line ends, dot-stuffing undone
	User string   // who signed in with AUTH, empty if nobody did
	Helo string   // the name the client gave in EHLO
	TLS  bool     // whether the connection was encrypted
}

// ErrClosed is returned by Next once the server is closed and every message
// was handed out.
var ErrClosed = errors.New("mail server closed")

// The bounds of a session: generous for a test, finite for a runaway one.
const (
	maxMessage    = 25 << 20
	maxRecipients = 100
	idleTimeout   = 5 * time.Minute
)

// Server is a listening SMTP server. Make one with NewServer, end it with Close.
type Server struct {
	opts   options
	smtp   *smtp.Server
	tcp    net.Listener
	addr   string
	pool   *x509.CertPool
	pem    []byte
	served chan struct{} // closed when the accept loop is over
	done   chan struct{} // closed by Close; whoever hangs waits for it

	mu       sync.Mutex
	closed   bool
	running  sync.WaitGroup // handlers and held connections
	conns    map[*wire]struct{}
	reached  map[string]int // by stage, for the fault hook
	refusals map[string]*smtp.SMTPError
	messages []Message
	taken    int // messages answered with 250, kept or not
	next     int // index into messages of what Next returns next
	changed  chan struct{}
}

// NewServer starts a server on a free port of 127.0.0.1. Without options it
// speaks plain SMTP and takes everything.
func NewServer(opts ...Option) (*Server, error) {
	s := &Server{
		served:   make(chan struct{}),
		done:     make(chan struct{}),
		conns:    map[*wire]struct{}{},
		reached:  map[string]int{},
		refusals: map[string]*smtp.SMTPError{},
		changed:  make(chan struct{}),
	}
	for _, o := range opts {
		o(&s.opts)
	}
	for addr, refusal := range s.opts.refusals {
		s.Refuse(addr, refusal)
	}

	srv := smtp.NewServer(smtp.BackendFunc(s.newSession))
	srv.Domain = "localhost"
	srv.MaxMessageBytes = maxMessage
	srv.MaxRecipients = maxRecipients
	srv.ReadTimeout = idleTimeout
	srv.WriteTimeout = idleTimeout
	// A dropped connection is what this server is for; the library would
	// report each one on standard error.
	srv.ErrorLog = log.New(io.Discard, "", 0)
	// Credentials in clear only where the test asked for no encryption at all.
	srv.AllowInsecureAuth = s.opts.security == plain

	var config *tls.Config
	if s.opts.security != plain {
		cert, pool, err := newCertificate(s.opts.names, time.Now(), s.opts.expired)
		if err != nil {
			return nil, fmt.Errorf("make certificate: %w", err)
		}
		s.pool = pool
		s.pem = pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Certificate[0]})
		config = &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}
		if s.opts.tune != nil {
			s.opts.tune(config)
		}
	}
	tcp, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("listen: %w", err)
	}
	s.tcp, s.addr = tcp, tcp.Addr().String()
	var l net.Listener = &listener{Listener: tcp, server: s}
	switch s.opts.security {
	case startTLS:
		srv.TLSConfig = config
	case implicitTLS:
		l = tls.NewListener(l, config)
	}
	s.smtp = srv
	go func() {
		defer close(s.served)
		// The only way out is Close, which makes the error meaningless.
		_ = srv.Serve(l)
	}()
	return s, nil
}

// Addr returns host:port of the server.
func (s *Server) Addr() string { return s.addr }

// CertPool returns the authority that signed the server's certificate, nil for
// a server without encryption.
func (s *Server) CertPool() *x509.CertPool { return s.pool }

// CertPEM returns that certificate in PEM form, for a program that reads its
// authorities from a file; nil for a server without encryption.
func (s *Server) CertPEM() []byte { return s.pem }

// Close ends every connection, hung ones too, waits for the handlers and
// returns. A second Close does nothing.
func (s *Server) Close() error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil
	}
	s.closed = true
	close(s.done)
	conns := make([]*wire, 0, len(s.conns))
	for w := range s.conns {
		conns = append(conns, w)
	}
	s.mu.Unlock()

	// The library closes only the listeners that its accept loop has come to
	// know; on a server closed at once that may be none.
	err := s.tcp.Close()
	if e := s.smtp.Close(); err == nil && !errors.Is(e, net.ErrClosed) {
		err = e
	}
	for _, w := range conns {
		w.Close()
	}
	<-s.served
	s.running.Wait()
	return err
}

// Messages returns what was taken so far, oldest first. The slice is the
// caller's; the bytes in it are shared and must not be changed.
func (s *Server) Messages() []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.messages)
}

// Count returns how many messages were taken, those let go by Discard included.
func (s *Server) Count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.taken
}

// Next returns the oldest message it has not returned yet, waiting for one if
// need be. The error is that of the context, or ErrClosed.
func (s *Server) Next(ctx context.Context) (Message, error) {
	for {
		s.mu.Lock()
		if s.next < len(s.messages) {
			m := s.messages[s.next]
			s.next++
			s.mu.Unlock()
			return m, nil
		}
		changed := s.changed
		s.mu.Unlock()
		select {
		case <-changed:
		case <-ctx.Done():
			return Message{}, ctx.Err()
		case <-s.done:
			// A message may have come in between the look and the close.
			s.mu.Lock()
			drained := s.next == len(s.messages)
			s.mu.Unlock()
			if drained {
				return Message{}, ErrClosed
			}
		}
	}
}

// Refuse makes the server answer RCPT TO for an address with the given reply
// from now on; nil takes the refusal back. Case is folded.
func (s *Server) Refuse(addr string, refusal *smtp.SMTPError) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if refusal == nil {
		delete(s.refusals, strings.ToLower(addr))
		return
	}
	s.refusals[strings.ToLower(addr)] = refusal
}

func (s *Server) refusal(addr string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if r := s.refusals[strings.ToLower(addr)]; r != nil {
		return r
	}
	return nil
}

// enter counts a handler in, so that Close can wait for it; false means that
// the server is closed.
func (s *Server) enter() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.running.Add(1)
	return true
}

// keep stores a message, then tells whoever waits and whoever asked to be
// called. The callback runs before the client has its answer.
func (s *Server) keep(m Message) {
	s.mu.Lock()
	s.taken++
	if !s.opts.discard {
		s.messages = append(s.messages, m)
	}
	close(s.changed)
	s.changed = make(chan struct{})
	s.mu.Unlock()
	if s.opts.onMessage != nil {
		s.opts.onMessage(m)
	}
}
