package notify

import (
	"context"
	"errors"
	"sync"
	"time"

	"github.com/emersion/go-smtp"

	"bandbell/scheduler/plan"
)

// session is one conversation with the mail server. It is used by one
// goroutine; only cut, called when the context ends, comes from another.
type session struct {
	server *Server
	wire   *wire
	client *smtp.Client
	used   int // messages it was used for
	closed bool
	saying bool // between DATA and the dot: any command would end the message and send it
	grace  time.Duration
	at     func(step string)

	mu    sync.Mutex
	stage Stage
	dead  bool        // cut: nothing more may be said
	late  *time.Timer // ends a wait for the answer to a dot
}

// envelope is one message for one recipient.
type envelope struct {
	from  plan.Address // empty: the null path (RFC 5321 section 4.5.5)
	to    plan.Address
	bytes []byte
}

// send delivers one message. beforeDot is called when all but the final dot
// was said; where it fails the connection is closed and nothing was sent. The
// error is a *Fault; nil means the server took the message.
func (s *session) send(ctx context.Context, m envelope, beforeDot func() error) error {
	defer s.watch(ctx)()
	s.used++
	err := s.deliver(m, beforeDot)
	if err == nil {
		return nil
	}
	fault := &Fault{s.now(), err}
	var reply *smtp.SMTPError
	switch {
	case errors.Is(err, errSender), errors.Is(err, errRecipient), errors.Is(err, errUTF8):
		// Refused by us before a word was said.
	case s.saying || !errors.As(err, &reply) || reply.Code == 421:
		s.close()
	case fault.Stage != StageDot:
		// A server that refused one step still holds the transaction open.
		s.wire.within(s.server.commandTimeout())
		if s.client.Reset() != nil {
			s.close()
		}
	}
	return fault
}

func (s *session) deliver(m envelope, beforeDot func() error) error {
	s.enter(StageMail)
	utf8, err := s.checkAddresses(m)
	if err != nil {
		return err
	}
	if err := s.client.Mail(string(m.from), &smtp.MailOptions{UTF8: utf8, Size: int64(len(m.bytes))}); err != nil {
		return err
	}
	s.enter(StageRcpt)
	if err := s.client.Rcpt(string(m.to), nil); err != nil {
		return err
	}
	s.enter(StageData)
	body, err := s.client.Data()
	if err != nil {
		return err
	}
	s.saying = true
	s.enter(StageBody)
	s.wire.renew.Store(int64(s.server.commandTimeout()))
	defer s.wire.renew.Store(0)
	if _, err := body.Write(m.bytes); err != nil {
		return err
	}
	if err := beforeDot(); err != nil {
		return err
	}
	s.wire.renew.Store(0)
	if !s.enter(StageDot) {
		return errStopped
	}
	err = body.Close()
	s.saying = false
	return err
}

// checkAddresses refuses what could become a second command or parameter (the
// library only refuses line ends) and reports whether SMTPUTF8 is needed (RFC
// 6531 section 3.2: not to be sent where it is not offered).
func (s *session) checkAddresses(m envelope) (utf8 bool, err error) {
	if m.from != "" {
		if a, err := plan.ParseAddress(string(m.from)); err != nil || a != m.from {
			return false, errSender
		}
	}
	if a, err := plan.ParseAddress(string(m.to)); err != nil || a != m.to {
		s.enter(StageRcpt)
		return false, errRecipient
	}
	if m.from.ASCII() && m.to.ASCII() {
		return false, nil
	}
	if ok, _ := s.client.Extension("SMTPUTF8"); !ok {
		s.enter(StageRcpt)
		return false, errUTF8
	}
	return true, nil
}

// enter moves to a stage and gives it its time. It reports false where the
// conversation was cut, so that no dot leaves after that.
func (s *session) enter(st Stage) bool {
	s.mu.Lock()
	alive := !s.dead
	if alive {
		s.stage = st
	}
	s.mu.Unlock()
	if !alive {
		return false
	}
	limit := s.server.commandTimeout()
	if st == StageDot {
		limit = s.server.dotTimeout()
	}
	s.wire.within(limit)
	s.at(string(st))
	return true
}

func (s *session) now() Stage {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.stage
}

// watch ends the conversation when ctx does: at once while nothing was sent,
// after a grace once the dot has left, since the answer may be on its way.
func (s *session) watch(ctx context.Context) (done func()) {
	stop := context.AfterFunc(ctx, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.stage == StageDot {
			if errors.Is(context.Cause(ctx), errLate) {
				return // the window bounds what is said, not the wait for the answer
			}
			s.late = time.AfterFunc(s.grace, func() { s.wire.Conn.Close() })
			return
		}
		s.dead = true
		s.wire.Conn.Close()
	})
	return func() {
		stop()
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.late != nil {
			s.late.Stop()
		}
	}
}

// quit says goodbye; what the server answers changes nothing any more. In the
// middle of a message it hangs up instead: the library would first end the
// message with a dot.
func (s *session) quit() {
	if s.closed || s.saying {
		s.close()
		return
	}
	s.mu.Lock()
	s.stage = StageQuit
	s.mu.Unlock()
	s.wire.within(min(quitTimeout, s.server.commandTimeout()))
	s.client.Quit()
	s.close()
}

// close drops the connection.
func (s *session) close() {
	if s.closed {
		return
	}
	s.closed = true
	s.wire.Conn.Close()
}
