package mailtest

import (
	"errors"

	"github.com/emersion/go-smtp"
)

// The stages of a session, as the fault hook is asked about them.
const (
	StageConnect = "connect" // before the greeting; a reply can be given only without implicit TLS
	StageHello   = "hello"   // at EHLO or HELO, once a session
	StageAuth    = "auth"    // at AUTH, before the password is looked at
	StageMail    = "mail"    // at MAIL FROM
	StageRcpt    = "rcpt"    // at RCPT TO
	StageData    = "data"    // after 354, before any of the body is read; a reply comes after the dot
	StageDot     = "dot"     // after the final dot, before the answer to it
)

// What the fault hook may return beside a *smtp.SMTPError.
var (
	// ErrDrop closes the connection without a reply.
	ErrDrop = errors.New("drop the connection")
	// ErrReset does so with a TCP reset where the system has one.
	ErrReset = errors.New("reset the connection")
	// ErrHang leaves the client without a reply, and at StageData with a peer
	// that does not read, until the server is closed.
	ErrHang = errors.New("hang until closed")
	// ErrBye takes the message at StageDot, answers 250 and closes the
	// connection, so that QUIT finds nobody. Elsewhere it closes after the
	// reply of that stage.
	ErrBye = errors.New("answer, then drop the connection")
)

// Keep wraps a fault for StageDot: the message is taken as if all was well, and
// then the fault happens in place of the 250. Keep(ErrDrop) is the answer that
// was lost on its way, from which duplicates are made (RFC 1047).
func Keep(fault error) error { return &kept{fault} }

type kept struct{ error }

func (k *kept) Unwrap() error { return k.error }

// ask runs the hook for a stage and counts the visit.
func (s *Server) ask(stage string) error {
	if s.opts.fault == nil {
		return nil
	}
	s.mu.Lock()
	s.reached[stage]++
	n := s.reached[stage]
	s.mu.Unlock()
	return s.opts.fault(stage, n)
}

// errGone is what a handler returns when its connection is no more; the library
// writes it into the void.
var errGone = &smtp.SMTPError{Code: 421, EnhancedCode: smtp.EnhancedCode{4, 4, 2}, Message: "Connection ended"}

// commit carries out a fault on a connection and returns what the handler has
// to return: nil to go on.
func (s *Server) commit(w *wire, fault error) error {
	var reply *smtp.SMTPError
	switch {
	case fault == nil:
		return nil
	case errors.Is(fault, ErrDrop):
		w.Close()
		return errGone
	case errors.Is(fault, ErrReset):
		w.reset()
		return errGone
	case errors.Is(fault, ErrHang):
		<-s.done
		w.Close()
		return errGone
	case errors.Is(fault, ErrBye):
		w.closeAfterWrite()
		return nil
	case errors.As(fault, &reply):
		return reply
	}
	return &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: fault.Error()}
}
