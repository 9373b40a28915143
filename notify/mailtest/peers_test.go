//go:build peers

package mailtest

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"net"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

func TestPeersCarryMailBothWays(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	clinic, err := NewServer()
	if err != nil {
		t.Fatal(err)
	}
	defer clinic.Close()
	p, err := StartPeers(ctx, clinic.Addr(), "ada")
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	pem, err := os.ReadFile(p.CAFile)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(pem)
	settings := &tls.Config{RootCAs: pool, ServerName: "localhost"}

	send := func(c *smtp.Client, err error, password string) error {
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if err := c.Auth(sasl.NewPlainClient("", p.User, password)); err != nil {
			return err
		}
		return c.SendMail(p.User, []string{"ada@" + PatientDomain}, bytes.NewReader([]byte("From: <bands@clinic.test>\r\nSubject: x\r\n\r\nhello\r\n")))
	}
	c, err := smtp.DialTLS(p.Implicit, settings)
	if err := send(c, err, p.Pass); err != nil {
		t.Errorf("implicit TLS: %v\n%s", err, p.Log())
	}
	c, err = smtp.DialStartTLS(p.Explicit, settings)
	if err := send(c, err, p.Pass); err != nil {
		t.Errorf("STARTTLS: %v\n%s", err, p.Log())
	}
	c, err = smtp.DialStartTLS(p.Explicit, settings)
	if err := send(c, err, "wrong"); err == nil {
		t.Error("a wrong password was taken")
	}
	if _, err := p.Wait(ctx, "ada", 2); err != nil {
		t.Fatal(err)
	}
	host, port, _ := net.SplitHostPort(p.Exchanger)
	out, err := exec.CommandContext(ctx, "swaks", "--server", host, "--port", port, "--from", "ada@patients.test",
		"--to", "reply+abc@clinic.test", "--body", "yes", "--helo", "client.test").CombinedOutput()
	if err != nil {
		t.Fatalf("swaks: %v\n%s", err, out)
	}
	m, err := clinic.Next(ctx)
	if err != nil {
		t.Fatalf("%v\n%s", err, p.Log())
	}
	if m.To[0] != "reply+abc@clinic.test" || m.From != "ada@patients.test" {
		t.Errorf("envelope %q -> %q", m.From, m.To)
	}
}
