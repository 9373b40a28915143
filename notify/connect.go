package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"net"
	"strings"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// open connects, protects and signs in. The error is a *Fault.
func open(ctx context.Context, srv *Server, grace time.Duration, at func(string)) (*session, error) {
	if at == nil {
		at = func(string) {}
	}
	s := &session{server: srv, stage: StageDial, grace: grace, at: at}
	at("dial")
	conn, err := srv.dial(ctx)
	if err != nil {
		return nil, &Fault{StageDial, err}
	}
	s.wire = &wire{Conn: conn, onRead: func() {
		if s.now() == StageDot {
			at("dot left")
		}
	}}
	defer s.watch(ctx)()
	if err := s.start(ctx); err != nil {
		s.close()
		return nil, &Fault{s.now(), err}
	}
	return s, nil
}

func (s *session) start(ctx context.Context) error {
	s.enter(StageHello)
	if err := s.protect(ctx); err != nil {
		return err
	}
	if s.server.Username == "" {
		return nil
	}
	s.enter(StageAuth)
	return s.signIn()
}

// protect brings the conversation to the point where EHLO was answered over a
// protected connection.
func (s *session) protect(ctx context.Context) error {
	if s.server.Security == None {
		host, _, _ := net.SplitHostPort(s.server.Addr)
		tcp, ok := s.wire.RemoteAddr().(*net.TCPAddr)
		if !loopbackHost(host) || ok && !tcp.IP.IsLoopback() {
			return errRemote
		}
		s.client = smtp.NewClient(s.wire)
		return s.greet()
	}
	config, err := s.server.tlsConfig()
	if err != nil {
		return err
	}
	if s.server.Security == StartTLS {
		return s.upgrade(config)
	}
	s.enter(StageTLS)
	secure := tls.Client(s.wire, config)
	if err := secure.HandshakeContext(ctx); err != nil {
		return err
	}
	s.enter(StageHello)
	s.client = smtp.NewClient(secure)
	return s.greet()
}

// upgrade asks for STARTTLS. The library shakes hands only when something is
// said next, so the handshake's error comes out of the EHLO that follows.
func (s *session) upgrade(config *tls.Config) error {
	helo := false
	s.wire.onWrite = func(b []byte) {
		if bytes.HasPrefix(b, []byte("STARTTLS")) {
			s.enter(StageTLS)
		}
		helo = helo || bytes.HasPrefix(b, []byte("HELO "))
	}
	client, err := smtp.NewClientStartTLS(s.wire, config)
	s.wire.onWrite = nil
	switch {
	case helo:
		return errNoEHLO
	case err != nil && s.now() == StageHello && strings.Contains(err.Error(), "support STARTTLS"):
		s.enter(StageTLS)
		return errNoStartTLS
	case err != nil:
		return err
	}
	s.client = client
	err = s.greet()
	state, ok := client.TLSConnectionState()
	if ok && state.HandshakeComplete {
		s.enter(StageHello)
	}
	if err != nil {
		return err
	}
	if !ok || !state.HandshakeComplete {
		return errNoTLS
	}
	return nil
}

// heloWatch notices that the library fell back from EHLO to HELO.
type heloWatch struct{ seen bool }

func (w *heloWatch) Write(b []byte) (int, error) {
	w.seen = w.seen || bytes.HasPrefix(b, []byte("HELO "))
	return len(b), nil
}

// greet says EHLO and refuses to go on without: a HELO conversation has no
// extensions, so no way to sign in.
func (s *session) greet() error {
	watch := &heloWatch{}
	s.client.DebugWriter = watch
	err := s.client.Hello(s.server.hello())
	s.client.DebugWriter = nil // it would see the password next
	if watch.seen {
		return errNoEHLO
	}
	return err
}

// signIn sends the password, and only ever over TLS unless the operator chose
// a loopback address without.
func (s *session) signIn() error {
	if state, ok := s.client.TLSConnectionState(); s.server.Security != None && (!ok || !state.HandshakeComplete) {
		return errNoTLS
	}
	user, password := s.server.Username, string(s.server.Password)
	switch {
	case s.client.SupportsAuth(sasl.Plain):
		return s.client.Auth(sasl.NewPlainClient("", user, password))
	case s.client.SupportsAuth(sasl.Login):
		return s.client.Auth(sasl.NewLoginClient(user, password))
	}
	return errNoAuth
}
