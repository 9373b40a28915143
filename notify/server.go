package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"strings"
	"time"
)

// Security is how the connection to the mail server is protected.
type Security string

// The ways to protect it. RFC 8314 section 3.3 prefers TLS from the first
// byte. None is accepted for a loopback address only.
const (
	ImplicitTLS Security = "tls"
	StartTLS    Security = "starttls"
	None        Security = "none"
)

// Time limits. RFC 5321 section 4.5.3.2 names minimum values meant for
// transfer over the whole network; a submission server is near, so commands
// get less. The wait after the dot is the one of section 4.5.3.2.6: a shorter
// one makes duplicates.
const (
	DefaultCommandTimeout = 60 * time.Second
	DefaultDotTimeout     = 10 * time.Minute
	defaultPerConnection  = 20 // messages; common practice of large providers, no source
	quitTimeout           = 5 * time.Second
	defaultGrace          = 20 * time.Second // for a dot already sent when the daemon is told to stop
)

// Secret is a text that never prints itself.
type Secret string

// String hides the secret.
func (Secret) String() string { return "[secret]" }

// GoString hides the secret from %#v.
func (Secret) GoString() string { return "[secret]" }

// LogValue hides the secret from logs.
func (Secret) LogValue() slog.Value { return slog.StringValue("[secret]") }

// Server is the submission server that takes our mail.
type Server struct {
	Addr     string   // host:port
	Security Security // empty: ImplicitTLS
	Username string   // empty: no sign-in
	Password Secret   //
	Hello    string   // our name in EHLO; empty: localhost
	RootCAs  string   // PEM file of private authorities; empty: the system's

	// Roots are private authorities already read; they stand over RootCAs.
	Roots *x509.CertPool

	CommandTimeout time.Duration // 0: DefaultCommandTimeout
	DotTimeout     time.Duration // 0: DefaultDotTimeout
	PerConnection  int           // messages on one connection; 0: 20

	// Dial opens the connection; nil is a plain TCP dial.
	Dial func(ctx context.Context, network, addr string) (net.Conn, error)
}

// Check reports every fault of the settings at once.
func (s *Server) Check() error {
	var faults []error
	host, _, err := net.SplitHostPort(s.Addr)
	if err != nil || host == "" {
		faults = append(faults, fmt.Errorf("mail server %q has no host and port; write it as mail.example.org:465", s.Addr))
	}
	switch s.Security {
	case ImplicitTLS, StartTLS, "":
	case None:
		if err == nil && !loopbackHost(host) {
			faults = append(faults, errors.New(`security "none" is for a loopback address only; use "tls" or "starttls"`))
		}
	default:
		faults = append(faults, fmt.Errorf("security %q is not known; use tls, starttls or none", string(s.Security)))
	}
	if s.Username == "" && s.Password != "" {
		faults = append(faults, errors.New("a password is given without a user name"))
	}
	if s.Username != "" && s.Password == "" {
		faults = append(faults, errors.New("a user name is given without a password"))
	}
	if strings.ContainsFunc(s.Hello, func(r rune) bool { return r <= ' ' || r > '~' }) {
		faults = append(faults, errors.New("the name in EHLO is not a host name; write it as desk.example.org"))
	}
	if s.CommandTimeout < 0 || s.DotTimeout < 0 {
		faults = append(faults, errors.New("a time limit is negative"))
	}
	if s.RootCAs != "" {
		if _, err := s.roots(); err != nil {
			faults = append(faults, err)
		}
	}
	return errors.Join(faults...)
}

func (s *Server) commandTimeout() time.Duration {
	if s.CommandTimeout > 0 {
		return s.CommandTimeout
	}
	return DefaultCommandTimeout
}

func (s *Server) dotTimeout() time.Duration {
	if s.DotTimeout > 0 {
		return s.DotTimeout
	}
	return DefaultDotTimeout
}

func (s *Server) perConnection() int {
	if s.PerConnection > 0 {
		return s.PerConnection
	}
	return defaultPerConnection
}

func (s *Server) hello() string {
	if s.Hello != "" {
		return s.Hello
	}
	return "localhost"
}

// roots reads the private authorities; nil stands for the system's.
func (s *Server) roots() (*x509.CertPool, error) {
	if s.Roots != nil || s.RootCAs == "" {
		return s.Roots, nil
	}
	pem, err := os.ReadFile(s.RootCAs)
	if err != nil {
		return nil, fmt.Errorf("read certificate authorities: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("%s holds no certificate in PEM form", s.RootCAs)
	}
	return pool, nil
}

// tlsConfig checks chain and name (RFC 7817) and takes TLS 1.2 or newer (RFC
// 8997 withdraws 1.1).
func (s *Server) tlsConfig() (*tls.Config, error) {
	host, _, err := net.SplitHostPort(s.Addr)
	if err != nil {
		return nil, fmt.Errorf("read mail server address: %w", err)
	}
	pool, err := s.roots()
	if err != nil {
		return nil, err
	}
	return &tls.Config{ServerName: host, RootCAs: pool, MinVersion: tls.VersionTLS12}, nil
}

func (s *Server) dial(ctx context.Context) (net.Conn, error) {
	if s.Dial != nil {
		return s.Dial(ctx, "tcp", s.Addr)
	}
	d := net.Dialer{Timeout: s.commandTimeout()}
	return d.DialContext(ctx, "tcp", s.Addr)
}

func loopbackHost(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
