package notify

import (
	"context"
	"errors"

	"github.com/emersion/go-smtp"
)

// Probe connects to the mail server, agrees on TLS, signs in and leaves,
// sending nothing. The error is a *Fault with the stage and a hint.
func (s *Sender) Probe(ctx context.Context) error { return Probe(ctx, s.server) }

// Probe does the same for settings not yet in use.
func Probe(ctx context.Context, srv Server) error {
	c, err := open(ctx, &srv, defaultGrace, nil)
	if err != nil {
		return err
	}
	c.quit()
	return nil
}

// Hint says what an operator may do about the fault.
func (f *Fault) Hint() string {
	var reply *smtp.SMTPError
	d := decide(f)
	switch {
	case errors.Is(f, context.Canceled):
		return "try again"
	case errors.As(f, &reply) && f.Stage == StageAuth && reply.Code >= 500:
		return "check the user name and the password; some providers want a password made for this program"
	case errors.Is(f, errNoAuth):
		return "the provider may want another port, or a sign-in that is not a password"
	case errors.Is(f, errNoStartTLS):
		return `use security "tls" with port 465, or ask the provider which port offers STARTTLS`
	case errors.Is(f, errRemote):
		return `security "none" is for a server on this very machine; use "tls" or "starttls"`
	case errors.As(f, &reply) && reply.Code < 500:
		return "the server asks to come back later"
	case errors.As(f, &reply):
		return "ask the provider what the code " + d.Reason[lastParen(d.Reason):] + " means"
	case f.Stage == StageTLS:
		return "check host name and port, that security fits the port (tls for 465, starttls for 587), and root_cas for a private authority: " + kindOf(f)
	case f.Stage == StageDial:
		return "check host name, port and firewall: " + kindOf(f)
	case f.Stage == StageHello:
		return `check that security fits the port ("tls" for 465, "starttls" for 587): ` + kindOf(f)
	}
	return kindOf(f)
}

func lastParen(s string) int {
	for i := len(s) - 1; i > 0; i-- {
		if s[i] == '(' {
			return i
		}
	}
	return 0
}
