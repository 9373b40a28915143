package notify

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
)

// authority signs certificates for tests.
type authority struct {
	t    *testing.T
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T) *authority {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Test authority"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return &authority{t, cert, key}
}

// file is the authority as a PEM file.
func (a *authority) file() string {
	name := filepath.Join(a.t.TempDir(), "ca.pem")
	b := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.cert.Raw})
	if err := os.WriteFile(name, b, 0o600); err != nil {
		a.t.Fatal(err)
	}
	return name
}

// server is the TLS side of a server named by IP or DNS name, valid until end.
func (a *authority) server(end time.Time, name string) *tls.Config {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	tmpl := &x509.Certificate{
		SerialNumber: big.NewInt(2), NotBefore: end.Add(-2 * time.Hour), NotAfter: end,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	if ip := net.ParseIP(name); ip != nil {
		tmpl.IPAddresses = []net.IP{ip}
	} else {
		tmpl.DNSNames = []string{name}
	}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, a.cert, &key.PublicKey, a.key)
	if err != nil {
		a.t.Fatal(err)
	}
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}
}

// leaks reports whether captured octets hold the test password, bare or in the
// forms AUTH gives it.
func leaks(captured []byte) bool {
	for _, form := range []string{
		"hunter22", base64.StdEncoding.EncodeToString([]byte("hunter22")),
		base64.StdEncoding.EncodeToString([]byte("\x00desk\x00hunter22")), "AUTH",
	} {
		if bytes.Contains(captured, []byte(form)) {
			return true
		}
	}
	return false
}

// TestNoPasswordWithoutTLS: submission over TLS only, certificate and name
// checked, nothing older than TLS 1.2, no credentials before (RFC 8314
// sections 3.3 and 5.3, RFC 7817, RFC 8997).
func TestNoPasswordWithoutTLS(t *testing.T) {
	ca, other := newAuthority(t), newAuthority(t)
	soon := time.Now().Add(time.Hour)
	good := ca.server(soon, "127.0.0.1")
	old := ca.server(soon, "127.0.0.1")
	old.MinVersion, old.MaxVersion = tls.VersionTLS10, tls.VersionTLS11
	just := ca.server(soon, "127.0.0.1")
	just.MaxVersion = tls.VersionTLS12
	cases := map[string]struct {
		set  func(*peer)
		kind Security
		sent int
		says string // in the reason; empty: sent
	}{
		"good":              {func(p *peer) { p.tls, p.implicit = good, true }, ImplicitTLS, 1, ""},
		"TLS 1.2":           {func(p *peer) { p.tls, p.implicit = just, true }, ImplicitTLS, 1, ""},
		"TLS 1.1":           {func(p *peer) { p.tls, p.implicit = old, true }, ImplicitTLS, 0, "TLS"},
		"unknown authority": {func(p *peer) { p.tls, p.implicit = other.server(soon, "127.0.0.1"), true }, ImplicitTLS, 0, "unknown authority"},
		"expired":           {func(p *peer) { p.tls, p.implicit = ca.server(time.Now().Add(-time.Minute), "127.0.0.1"), true }, ImplicitTLS, 0, "expired"},
		"other name":        {func(p *peer) { p.tls, p.implicit = ca.server(soon, "mail.elsewhere.test"), true }, ImplicitTLS, 0, "another name"},
		"plain port":        {nil, ImplicitTLS, 0, "not TLS"},

		"starttls good":              {func(p *peer) { p.tls = good }, StartTLS, 1, ""},
		"starttls TLS 1.1":           {func(p *peer) { p.tls = old }, StartTLS, 0, "TLS"},
		"starttls unknown authority": {func(p *peer) { p.tls = other.server(soon, "127.0.0.1") }, StartTLS, 0, "unknown authority"},
		"starttls expired":           {func(p *peer) { p.tls = ca.server(time.Now().Add(-time.Minute), "127.0.0.1") }, StartTLS, 0, "expired"},
		"starttls other name":        {func(p *peer) { p.tls = ca.server(soon, "mail.elsewhere.test") }, StartTLS, 0, "another name"},
		"starttls stripped":          {func(p *peer) { p.tls, p.noTLS = good, true }, StartTLS, 0, "STARTTLS"},
		"starttls refused":           {func(p *peer) { p.tls, p.faults["starttls"] = good, "454 4.7.0 not now" }, StartTLS, 0, "for now"},
		"starttls EHLO refused":      {func(p *peer) { p.tls, p.faults["hello"] = good, "502 5.5.1 what" }, StartTLS, 0, "EHLO"},
		"handshake hangs":            {func(p *peer) { p.tls, p.implicit, p.faults["tls"] = good, true, "hang" }, ImplicitTLS, 0, "in time"},
		"starttls handshake hangs":   {func(p *peer) { p.tls, p.faults["tls"] = good, "hang" }, StartTLS, 0, "in time"},
	}
	for name, tc := range cases {
		for _, mech := range []string{"PLAIN", "LOGIN", "LOGIN PLAIN"} {
			t.Run(name+"/"+mech, func(t *testing.T) {
				t.Parallel()
				p := newPeer(t, func(p *peer) {
					p.auth, p.password = mech, "desk:hunter22"
					if tc.set != nil {
						tc.set(p)
					}
				})
				box := newShelf(t, nudge(1))
				s, _ := newSender(t, box, p, func(c *Config) {
					c.Server.Security, c.Server.RootCAs = tc.kind, ca.file()
					c.Server.Username, c.Server.Password = "desk", "hunter22"
					if strings.Contains(name, "hangs") {
						impatient(c)
					}
				})
				if err := s.server.Check(); err != nil {
					t.Fatal(err)
				}
				sent, err := s.Drain(context.Background())
				row := box.row(1)
				if sent != tc.sent {
					t.Fatalf("sent %d, %v (%s); want %d", sent, err, row.Reason, tc.sent)
				}
				if leaks(p.clear()) {
					t.Error("credentials or AUTH crossed the wire in the clear")
				}
				if tc.says == "" {
					if err := s.Probe(context.Background()); err != nil {
						t.Errorf("Probe: %v", err)
					}
					return
				}
				if row.State != plan.Retry || !strings.Contains(row.Reason, tc.says) {
					t.Errorf("state %s, reason %q; want retry and %q", row.State, row.Reason, tc.says)
				}
				var held *HeldError
				if !errors.As(err, &held) {
					t.Errorf("Drain = %v, want a pause", err)
				}
				var fault *Fault
				if err := s.Probe(context.Background()); !errors.As(err, &fault) || fault.Hint() == "" {
					t.Errorf("Probe = %v, want a fault with a hint", err)
				}
			})
		}
	}
}

// TestSignInRefused: one wrong password is not tried over and over, and the
// messages stay until their moment passes.
func TestSignInRefused(t *testing.T) {
	for _, mech := range []string{"PLAIN", "LOGIN"} {
		ca := newAuthority(t)
		p := newPeer(t, func(p *peer) {
			p.tls, p.implicit, p.auth, p.password = ca.server(time.Now().Add(time.Hour), "127.0.0.1"), true, mech, "desk:right"
		})
		box := newShelf(t, nudge(1), nudge(2), nudge(3))
		s, c := newSender(t, box, p, func(c *Config) {
			c.Server.Security, c.Server.RootCAs = ImplicitTLS, ca.file()
			c.Server.Username, c.Server.Password = "desk", "hunter22"
		})
		for range 10 {
			s.Drain(context.Background())
			c.advance(time.Minute)
		}
		if n := p.said("AUTH"); n != 1 {
			t.Errorf("%s: %d sign-ins in ten minutes; want 1", mech, n)
		}
		var held *HeldError
		if err := s.Health(); !errors.As(err, &held) || !held.Broken {
			t.Errorf("%s: health %v; want a pause that needs a person", mech, err)
		}
		for id := int64(1); id <= 3; id++ {
			if r := box.row(id); r.State != plan.Retry {
				t.Errorf("%s: message %d is %s", mech, id, r.State)
			}
		}
		err := s.Probe(context.Background())
		var fault *Fault
		if !errors.As(err, &fault) || fault.Stage != StageAuth || !strings.Contains(fault.Hint(), "password") {
			t.Errorf("%s: Probe = %v", mech, err)
		}
		// The password is mended: what is still in its window leaves.
		p.mu.Lock()
		p.password = "desk:hunter22"
		p.mu.Unlock()
		s.Resume()
		if sent, err := s.Drain(context.Background()); sent != 3 || err != nil {
			t.Errorf("%s: after mending: %d, %v", mech, sent, err)
		}
	}
}

// TestStartTLSInjection: what is said in the clear after the answer to
// STARTTLS must not be taken for something said under TLS (RFC 3207 section 6,
// CVE-2011-0411).
func TestStartTLSInjection(t *testing.T) {
	ca := newAuthority(t)
	p := newPeer(t, func(p *peer) {
		p.tls = ca.server(time.Now().Add(time.Hour), "127.0.0.1")
		p.auth, p.password = "PLAIN", "desk:hunter22"
		p.faults["starttls"] = "220 2.0.0 go on\r\n250-mail.example.org\r\n250 AUTH LOGIN"
	})
	srv := Server{Addr: p.addr(), Security: StartTLS, RootCAs: ca.file(), Username: "desk", Password: "hunter22", CommandTimeout: 5 * time.Second}
	if err := Probe(context.Background(), srv); err == nil {
		t.Error("injected replies were believed")
	}
	if leaks(p.clear()) {
		t.Error("the password followed")
	}
}

// TestPlainOnlyOnLoopback: without TLS only a loopback address is spoken to,
// whatever its name resolves to.
func TestPlainOnlyOnLoopback(t *testing.T) {
	for addr, ok := range map[string]bool{
		"127.0.0.1:25": true, "localhost:25": true, "[::1]:25": true,
		"mail.example.org:25": false, "192.0.2.1:25": false, "": false,
	} {
		if err := (&Server{Addr: addr, Security: None}).Check(); (err == nil) != ok {
			t.Errorf("Check(%q) = %v, want ok %v", addr, err, ok)
		}
	}
	p := newPeer(t, func(p *peer) { p.auth = "PLAIN" })
	srv := Server{Addr: "mail.example.org:25", Security: None, Username: "desk", Password: "hunter22",
		Dial: func(ctx context.Context, network, _ string) (net.Conn, error) { return net.Dial(network, p.addr()) }}
	if err := Probe(context.Background(), srv); !errors.Is(err, errRemote) {
		t.Errorf("Probe = %v, want %v", err, errRemote)
	}
	if leaks(p.clear()) {
		t.Error("the password crossed the wire")
	}
}

// TestSettingsFaultsAllAtOnce: Check lists every fault, and a Secret never
// prints itself.
func TestSettingsFaultsAllAtOnce(t *testing.T) {
	s := Server{Addr: "nowhere", Security: "ssl", Hello: "two words", Password: "hunter22", DotTimeout: -1, RootCAs: filepath.Join(t.TempDir(), "none.pem")}
	err := s.Check()
	if err == nil {
		t.Fatal("no fault found")
	}
	for _, want := range []string{"host and port", `"ssl"`, "without a user name", "negative", "EHLO", "certificate authorities"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("Check does not mention %q: %v", want, err)
		}
	}
	for _, form := range []string{fmt.Sprint(s.Password), fmt.Sprintf("%v %+v %#v %s", s, s, s, s.Password)} {
		if strings.Contains(form, "hunter22") {
			t.Errorf("the secret prints itself: %s", form)
		}
	}
}

// TestNoEHLONoMail: a server that refuses EHLO is not spoken to in HELO, even
// where neither TLS nor sign-in is asked for.
func TestNoEHLONoMail(t *testing.T) {
	for _, code := range []string{"500 5.5.1 what", "502 5.5.1 what", "550 no"} {
		p := newPeer(t, func(p *peer) { p.faults["hello"] = code })
		box := newShelf(t, nudge(1))
		s, _ := newSender(t, box, p, nil)
		s.Drain(context.Background())
		if r := box.row(1); r.State != plan.Retry || len(p.letters()) != 0 || p.said("MAIL") != 0 {
			t.Errorf("%s: state %s (%s), %d copies; want retry, none", code, r.State, r.Reason, len(p.letters()))
		}
	}
}
