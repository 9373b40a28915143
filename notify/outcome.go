package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"syscall"

	"github.com/emersion/go-smtp"
)

// Verdict is what an attempt came to.
type Verdict string

// The verdicts.
const (
	VerdictAccepted  Verdict = "accepted"  // the server took it and answers for it
	VerdictRetry     Verdict = "retry"     // certainly not sent; try again inside the window
	VerdictFail      Verdict = "fail"      // refused for good
	VerdictUncertain Verdict = "uncertain" // it may have been taken
	VerdictBroken    Verdict = "broken"    // our own configuration; no fault of this message
	VerdictReleased  Verdict = "released"  // we stopped before anything was sent
)

// Decision is a verdict with its reason, in words for staff: it quotes codes
// but never what the server said, since servers repeat addresses.
type Decision struct {
	Verdict Verdict
	Reason  string
	Stage   Stage
	Code    int    // SMTP reply code; 0: no reply
	Status  string // enhanced status code of RFC 3463; empty: none given
	Dead    bool   // with VerdictFail: the address is no more
}

// ours reports whether the failure concerns the server as a whole, so that
// other messages would meet it too.
func (d Decision) ours() bool { return d.Stage.ours() && d.Verdict != VerdictAccepted }

// decide maps what came of an attempt to a decision. A nil error is an
// acceptance.
func decide(err error) Decision {
	if err == nil {
		return Decision{Verdict: VerdictAccepted, Stage: StageDot, Code: 250}
	}
	stage := StageDial
	var fault *Fault
	if errors.As(err, &fault) {
		stage = fault.Stage
	}
	var reply *smtp.SMTPError
	if errors.As(err, &reply) {
		return decideReply(stage, reply)
	}
	d := Decision{Stage: stage}
	switch {
	case stage == StageDot && !errors.Is(err, errStopped):
		// RFC 1047: the dot may have arrived and its answer been lost.
		d.Verdict, d.Reason = VerdictUncertain, "the connection ended before the server answered for the message: "+kindOf(err)
	case errors.Is(err, errStopped), errors.Is(err, context.Canceled):
		d.Verdict, d.Reason = VerdictReleased, errStopped.Error()
	case errors.Is(err, errRecipient), errors.Is(err, errUTF8):
		d.Verdict, d.Reason = VerdictFail, base(err).Error()
	case isOurs(stage, err):
		d.Verdict, d.Reason = VerdictBroken, "our mail settings need attention: "+kindOf(err)
	case stage == StageDial:
		d.Verdict, d.Reason = VerdictRetry, "the mail server cannot be reached: "+kindOf(err)
	default:
		d.Verdict, d.Reason = VerdictRetry, fmt.Sprintf("the mail server did not go on at %s: %s", stage, kindOf(err))
	}
	return d
}

// decideReply acts on the first digit of the reply (RFC 5321 section 4.3.2),
// after the few codes that say more.
func decideReply(stage Stage, reply *smtp.SMTPError) Decision {
	d := Decision{Stage: stage, Code: reply.Code}
	class, subject, detail := reply.EnhancedCode[0], reply.EnhancedCode[1], reply.EnhancedCode[2]
	if class > 0 { // the library writes -1.-1.-1 or 0.0.0 where there was none
		d.Status = fmt.Sprintf("%d.%d.%d", class, subject, detail)
	}
	permanent := reply.Code >= 500 && reply.Code < 600
	switch {
	case reply.Code >= 200 && reply.Code < 300 && stage == StageDot:
		d.Verdict = VerdictAccepted // 2yz of any kind: the server has taken responsibility
	case stage == StageDot && (reply.Code < 400 || reply.Code > 599):
		d.Verdict, d.Reason = VerdictUncertain, "the server answered for the message with a code that means nothing"
	case permanent && ourCode(stage, reply.Code, class, subject, detail):
		d.Verdict, d.Reason = VerdictBroken, "our mail settings need attention: the server refused us"
	case reply.Code == 552 && stage == StageRcpt:
		// RFC 5321 section 4.5.3.1.10: "too many recipients" by an old code.
		d.Verdict, d.Reason = VerdictRetry, "the mail server refused it for now"
	case permanent && class == 5 && subject == 1:
		d.Verdict, d.Reason = VerdictFail, "the mail server refused the address for good"
		d.Dead = deadAddress(detail)
	case permanent:
		d.Verdict, d.Reason = VerdictFail, "the mail server refused the message for good"
	default:
		d.Verdict, d.Reason = VerdictRetry, "the mail server refused it for now"
	}
	if d.Verdict != VerdictAccepted {
		d.Reason += fmt.Sprintf(" (at %s: %d", stage, reply.Code)
		if d.Status != "" {
			d.Reason += " " + d.Status
		}
		d.Reason += ")"
	}
	return d
}

// ourCode names the permanent refusals that are about us: any before a message
// was named, sign-in asked for or refused (RFC 4954 section 6), our sender
// address (RFC 3463: 5.1.7, 5.1.8), and security or policy (5.7.x, among them
// 5.7.26 and 5.7.515 of large providers for mail that is not authenticated).
func ourCode(stage Stage, code, class, subject, detail int) bool {
	switch {
	case stage.ours():
		return true
	case code == 530, code == 534, code == 535, code == 538:
		return true
	case class != 5:
		return false
	case subject == 7:
		return true
	}
	return subject == 1 && (detail == 7 || detail == 8)
}

// deadAddress picks from the address statuses 5.1.x those that say the mailbox
// or its domain is no more: no such mailbox, no such domain, not an address,
// moved (RFC 3463 section 3.2), takes no mail (RFC 7505 section 4.2). The
// others are about us or leave it open.
func deadAddress(detail int) bool {
	switch detail {
	case 1, 2, 3, 6, 10:
		return true
	}
	return false
}

// isOurs reports whether an error without a reply is one that repeating cannot
// mend: a certificate, a protocol version, something the server does not
// offer.
func isOurs(stage Stage, err error) bool {
	for _, own := range []error{errNoEHLO, errNoStartTLS, errNoTLS, errNoAuth, errRemote, errSender} {
		if errors.Is(err, own) {
			return true
		}
	}
	return stage == StageTLS && !isNetwork(err)
}

// isNetwork reports whether the connection ended or stood still, as opposed to
// something being said that we do not accept. A TLS alert also arrives as a
// net.OpError, and is none.
func isNetwork(err error) bool {
	var alert tls.AlertError
	var op *net.OpError
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, net.ErrClosed),
		errors.Is(err, os.ErrDeadlineExceeded), errors.Is(err, context.DeadlineExceeded),
		errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return true
	case errors.As(err, &alert):
		return false
	}
	return errors.As(err, &op) && op.Op != "remote error" && op.Op != "local error"
}

// kindOf says in fixed words what an error was, so that nothing a server said
// gets into a reason.
func kindOf(err error) string {
	var (
		unknown x509.UnknownAuthorityError
		name    x509.HostnameError
		invalid x509.CertificateInvalidError
		alert   tls.AlertError
		dns     *net.DNSError
		timeout net.Error
	)
	switch {
	case errors.As(err, &unknown):
		return "its certificate is signed by an unknown authority"
	case errors.As(err, &name):
		return "its certificate is for another name"
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return "its certificate has expired or is not valid yet"
	case errors.As(err, &invalid):
		return "its certificate is not valid"
	case errors.As(err, &alert):
		return "TLS could not be agreed"
	case errors.As(err, &dns):
		return "its name cannot be looked up"
	case errors.Is(err, syscall.ECONNREFUSED):
		return "it refuses the connection"
	case errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return "the connection was reset"
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, net.ErrClosed):
		return "the connection was closed"
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		return "no answer in time"
	}
	for _, own := range []error{errNoEHLO, errNoStartTLS, errNoTLS, errNoAuth, errRemote, errSender} {
		if errors.Is(err, own) {
			return own.Error()
		}
	}
	return "it said something that is not SMTP or not TLS"
}

func base(err error) error {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err
		}
		err = next
	}
}
