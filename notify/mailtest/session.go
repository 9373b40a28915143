package mailtest

import (
	"bytes"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"io"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// errAuthRequired is the reply of RFC 4954 section 6 to a command given before
// signing in.
var errAuthRequired = &smtp.SMTPError{Code: 530, EnhancedCode: smtp.EnhancedCode{5, 7, 0}, Message: "Authentication required"}

// session is one EHLO and what follows it. The library calls it from one
// goroutine.
type session struct {
	server *Server
	wire   *wire
	helo   string
	tls    bool
	user   string
	from   string
	to     []string
}

func (s *Server) newSession(c *smtp.Conn) (smtp.Session, error) {
	if !s.enter() {
		return nil, errGone
	}
	defer s.running.Done()
	under := c.Conn()
	_, encrypted := under.(*tls.Conn)
	if encrypted {
		under = under.(*tls.Conn).NetConn()
	}
	w := under.(*wire) // the listener makes no other
	if err := s.commit(w, s.ask(StageHello)); err != nil {
		return nil, err
	}
	return &session{server: s, wire: w, helo: c.Hostname(), tls: encrypted}, nil
}

// at asks about a stage and carries out the answer.
func (c *session) at(stage string) error { return c.server.commit(c.wire, c.server.ask(stage)) }

func (c *session) AuthMechanisms() []string {
	if len(c.server.opts.users) == 0 {
		return nil
	}
	return []string{sasl.Plain, sasl.Login}
}

func (c *session) Auth(mech string) (sasl.Server, error) {
	if !c.server.enter() {
		return nil, errGone
	}
	defer c.server.running.Done()
	if err := c.at(StageAuth); err != nil {
		return nil, err
	}
	if len(c.server.opts.users) == 0 {
		return nil, smtp.ErrAuthUnsupported
	}
	switch mech {
	case sasl.Plain:
		return sasl.NewPlainServer(func(identity, user, password string) error {
			if identity != "" && identity != user {
				return smtp.ErrAuthFailed
			}
			return c.signIn(user, password)
		}), nil
	case sasl.Login:
		return &loginServer{signIn: c.signIn}, nil
	}
	return nil, smtp.ErrAuthUnknownMechanism
}

func (c *session) signIn(user, password string) error {
	want, ok := c.server.opts.users[user]
	if !ok || subtle.ConstantTimeCompare([]byte(want), []byte(password)) != 1 {
		return smtp.ErrAuthFailed
	}
	c.user = user
	return nil
}

func (c *session) Mail(from string, _ *smtp.MailOptions) error {
	if !c.server.enter() {
		return errGone
	}
	defer c.server.running.Done()
	if err := c.at(StageMail); err != nil {
		return err
	}
	if len(c.server.opts.users) > 0 && c.user == "" {
		return errAuthRequired
	}
	c.from = from
	return nil
}

func (c *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if !c.server.enter() {
		return errGone
	}
	defer c.server.running.Done()
	if err := c.at(StageRcpt); err != nil {
		return err
	}
	if err := c.server.refusal(to); err != nil {
		return err
	}
	c.to = append(c.to, to)
	return nil
}

func (c *session) Data(r io.Reader) error {
	if !c.server.enter() {
		return errGone
	}
	defer c.server.running.Done()
	if err := c.at(StageData); err != nil {
		return err
	}
	data, err := io.ReadAll(r)
	if err != nil {
		var reply *smtp.SMTPError
		if !errors.As(err, &reply) {
			// After a body cut short the library would go on and read what is
			// left of it as commands.
			c.wire.Close()
		}
		return err
	}
	m := Message{From: c.from, To: c.to, Data: data, User: c.user, Helo: c.helo, TLS: c.tls}
	c.to = nil // the message owns them now

	fault := c.server.ask(StageDot)
	var k *kept
	if fault == nil || errors.As(fault, &k) || errors.Is(fault, ErrBye) {
		c.server.keep(m)
	}
	return c.server.commit(c.wire, fault)
}

func (c *session) Reset() { c.from, c.to = "", nil }

func (c *session) Logout() error { return nil }

// loginServer is AUTH LOGIN, which was never a standard but is still all that
// some hosts offer (draft-murchison-sasl-login). A client may send the user's
// name with the command.
type loginServer struct {
	signIn func(user, password string) error
	user   []byte
	state  int
}

func (l *loginServer) Next(response []byte) (challenge []byte, done bool, err error) {
	if l.state == 0 {
		l.state++
		if response == nil {
			return []byte("Username:"), false, nil
		}
	}
	switch l.state {
	case 1:
		l.user = bytes.Clone(response)
		l.state++
		return []byte("Password:"), false, nil
	case 2:
		l.state++
		return nil, true, l.signIn(string(l.user), string(response))
	}
	return nil, false, sasl.ErrUnexpectedClientResponse
}
