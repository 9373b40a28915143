package mailtest

import (
	"crypto/tls"
	"maps"

	"github.com/emersion/go-smtp"
)

// Option changes what a server does; see NewServer.
type Option func(*options)

type security int

const (
	plain security = iota
	startTLS
	implicitTLS
)

type options struct {
	security  security
	names     []string          // what the certificate is for; empty means this host
	expired   bool              // whether the certificate ran out a day ago
	tune      func(*tls.Config) // last word on the TLS settings
	users     map[string]string // password by user; empty asks for no AUTH
	refusals  map[string]*smtp.SMTPError
	fault     func(stage string, n int) error
	onMessage func(Message)
	discard   bool
}

// StartTLS offers STARTTLS (RFC 3207) with a certificate made for localhost and
// 127.0.0.1; see CertPool. AUTH is offered only once TLS stands.
func StartTLS() Option { return func(o *options) { o.security = startTLS } }

// ImplicitTLS speaks TLS from the first byte (RFC 8314 section 3.3).
func ImplicitTLS() Option { return func(o *options) { o.security = implicitTLS } }

// CertificateFor makes the certificate for other names than this host, for a
// test of the name check.
func CertificateFor(names ...string) Option { return func(o *options) { o.names = names } }

// ExpiredCertificate makes a certificate that ran out a day ago.
func ExpiredCertificate() Option { return func(o *options) { o.expired = true } }

// TuneTLS gets the TLS settings before they are used, to narrow the versions
// for example.
func TuneTLS(f func(*tls.Config)) Option { return func(o *options) { o.tune = f } }

// RequireAuth refuses MAIL from a client that has not signed in as this user by
// AUTH PLAIN or LOGIN. Several users may be given by several options.
func RequireAuth(user, password string) Option {
	return func(o *options) {
		if o.users == nil {
			o.users = map[string]string{}
		}
		o.users[user] = password
	}
}

// RefuseRecipients starts the server with refusals by address; see
// Server.Refuse.
func RefuseRecipients(by map[string]*smtp.SMTPError) Option {
	by = maps.Clone(by)
	return func(o *options) { o.refusals = by }
}

// Fault asks f before each stage what should go wrong there; nil means nothing.
// The number counts from 1 how often the server has come to that stage. A
// *smtp.SMTPError is the reply; ErrDrop and its kin do worse; any other error
// is a reply 451. The hook is called from many connections at once.
func Fault(f func(stage string, n int) error) Option { return func(o *options) { o.fault = f } }

// OnMessage is called with each message the server takes, before the client
// has its answer, from the goroutine of that connection.
func OnMessage(f func(Message)) Option { return func(o *options) { o.onMessage = f } }

// Discard keeps no message, for long runs: Count and OnMessage still work,
// Messages and Next see nothing.
func Discard() Option { return func(o *options) { o.discard = true } }
