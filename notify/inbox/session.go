package inbox

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-smtp"

	"bandbell/scheduler/plan"
)

// Answers that do not depend on what we know of a sender or a token.
var (
	errBare    = &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 6, 0}, Message: "Lines must end in CR LF (RFC 5321 section 2.3.8)"}
	errStore   = &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "Cannot store the message now, try again later"}
	errNested  = &smtp.SMTPError{Code: 503, EnhancedCode: smtp.EnhancedCode{5, 5, 1}, Message: "A message is already begun"}
	errRelay   = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "Relaying denied"}
	errNobody  = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "No such mailbox here"}
	errMailbox = &smtp.SMTPError{Code: 553, EnhancedCode: smtp.EnhancedCode{5, 1, 3}, Message: "Mailbox name not allowed"}
	errTimeout = &smtp.SMTPError{Code: 421, EnhancedCode: smtp.EnhancedCode{4, 4, 2}, Message: "Timed out, closing"}
	errBroken  = &smtp.SMTPError{Code: 421, EnhancedCode: smtp.EnhancedCode{4, 4, 0}, Message: "Message broken off, closing"}
)

// session is one connection's conversation. The library calls Data in a
// goroutine of its own when the message comes in chunks (BDAT), while Reset may
// come from the reading one: hence the lock.
type session struct {
	inbox *Inbox
	wire  *wire
	store context.Context // outlives the order to end
	mu    sync.Mutex
	begun bool
	ended bool // no further message is taken on this connection
	from  string
	to    []string
}

// Reset forgets the message begun. One that is broken off between two of its
// chunks ends the conversation: the library may hand its outcome to the next
// message of the same connection.
func (s *session) Reset() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.begun, s.from, s.to = false, "", nil
	s.ended = s.wire.cutOff()
}

func (s *session) Logout() error { return nil }

// Mail takes any sender, the null path of bounces among them (RFC 5321 section
// 4.5.5): who wrote is for the token to say.
func (s *session) Mail(from string, o *smtp.MailOptions) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended {
		return errBroken
	}
	if s.begun {
		return errNested
	}
	// RFC 1870 section 6.1: a declared size is refused before it is sent.
	if o != nil && o.Size > s.inbox.opts.MaxBytes {
		return errTooLarge
	}
	s.begun, s.from = true, from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if err := s.inbox.recipient(to); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.to = append(s.to, to)
	return nil
}

// recipient takes our own address, its subaddresses, and postmaster (RFC 5321
// section 4.5.1). Whether a subaddress holds a token that we know is not
// looked at here: the answer would tell a stranger.
func (i *Inbox) recipient(to string) error {
	a, err := plan.ParseAddress(to)
	if err != nil {
		return errMailbox
	}
	local := strings.ToLower(a.Local())
	switch {
	case !strings.EqualFold(a.Domain(), i.domain):
		return errRelay
	case local == i.local, strings.HasPrefix(local, i.local+"+"), local == "postmaster":
		return nil
	}
	return errNobody
}

func (s *session) Data(r io.Reader) error {
	s.mu.Lock()
	in := plan.Inbound{From: s.from, To: append([]string(nil), s.to...), Source: "smtp"}
	s.mu.Unlock()

	s.wire.enter()
	defer s.wire.leave()
	// The library's deadline began with the command. Sockets live by the real
	// clock, whatever now says.
	s.wire.SetReadDeadline(time.Now().Add(s.inbox.opts.BodyTimeout))

	raw, room, err := s.inbox.readBody(r)
	defer s.inbox.held.Add(-room)
	if err == nil && s.wire.bare.Load() {
		// The next message would be refused for this one's fault.
		s.wire.hangUp()
		err = errBare
	}
	if err != nil {
		return refuse(err)
	}
	in.Raw, in.Received = raw, s.inbox.now().UTC()
	if _, _, err := s.inbox.receive(s.store, in); err != nil {
		s.inbox.log.Error("message not stored, its sender was asked to try again", "err", err)
		return errStore
	}
	return nil
}

// refuse turns a broken connection into an answer, should it still arrive. The
// wire lets nothing more in once a read has failed.
func refuse(err error) error {
	var answer *smtp.SMTPError
	if errors.As(err, &answer) {
		return answer
	}
	if ne := net.Error(nil); errors.As(err, &ne) && ne.Timeout() {
		return errTimeout
	}
	return errBroken
}
