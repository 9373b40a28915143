package notify

import (
	"errors"
	"fmt"
)

// Stage is how far a conversation with the mail server had come. The same Go
// errors come back at every stage, so only the stage tells whether a message
// may have been taken: the end of a connection after the dot is ambiguous,
// anywhere earlier nothing was sent.
type Stage string

// The stages, in order.
const (
	StageDial  Stage = "dial"
	StageHello Stage = "hello" // greeting and EHLO
	StageTLS   Stage = "tls"   // STARTTLS and the handshake
	StageAuth  Stage = "auth"
	StageMail  Stage = "mail"
	StageRcpt  Stage = "rcpt"
	StageData  Stage = "data"
	StageBody  Stage = "body"
	StageDot   Stage = "dot" // the final dot and its answer
	StageQuit  Stage = "quit"
)

// ours reports whether a failure at this stage is about the connection as a
// whole and not about one message.
func (s Stage) ours() bool {
	return s == StageDial || s == StageHello || s == StageTLS || s == StageAuth
}

// Fault is what went wrong in a conversation, and where.
type Fault struct {
	Stage Stage
	Err   error
}

// Error names the stage and the error. The text may hold what the server said;
// it is for people at a terminal, not for logs.
func (f *Fault) Error() string { return fmt.Sprintf("mail server, at %s: %v", f.Stage, f.Err) }

// Unwrap returns the error below.
func (f *Fault) Unwrap() error { return f.Err }

// What we refuse ourselves, before the server has to.
var (
	errNoEHLO     = errors.New("the server refused EHLO, so neither TLS nor sign-in can be agreed")
	errNoStartTLS = errors.New("the server does not offer STARTTLS")
	errNoTLS      = errors.New("the connection is not protected by TLS")
	errNoAuth     = errors.New("the server offers no sign-in by PLAIN or LOGIN")
	errRemote     = errors.New("the address without TLS is not a loopback address")
	errSender     = errors.New("the sender address cannot be used")
	errRecipient  = errors.New("the recipient address cannot be used")
	errUTF8       = errors.New("the server does not take addresses beyond ASCII (SMTPUTF8)")
	errStopped    = errors.New("stopped before it was sent")
)
