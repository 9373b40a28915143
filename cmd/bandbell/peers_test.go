//go:build peers

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bandbell/notify/mailtest"
)

// The daemon submits a nudge through a real Postfix with a password, it arrives
// in a maildir, and an answer written by swaks comes back through Postfix to our
// listener and stands in the patient's record; over implicit TLS and STARTTLS.
func TestPeerPostfixCarriesANudgeAndItsAnswer(t *testing.T) {
	for _, security := range []string{"tls", "starttls"} {
		t.Run(security, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
			defer cancel()
			intake := freeAddr(t)
			peers, err := mailtest.StartPeers(ctx, intake, "ada")
			if err != nil {
				t.Fatal(err)
			}
			defer peers.Close()
			submission := peers.Implicit
			if security == "starttls" {
				submission = peers.Explicit
			}
			secret := filepath.Join(t.TempDir(), "secret")
			if err := os.WriteFile(secret, []byte(peers.Pass+"\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			c := newClinic(t, submission, "--smtp-security", security, "--smtp-user", peers.User, "--smtp-password-file", secret)
			c.edit("[smtp]\n", "[smtp]\nca_file = \""+peers.CAFile+"\"\n")
			c.edit(c.intake, intake)
			c.intake = intake
			c.ok("check", "--online")

			ref := c.enrolDue("ada@" + mailtest.PatientDomain)
			stop := c.start()
			box, err := peers.Wait(ctx, "ada", 1)
			if err != nil {
				_, log := stop()
				t.Fatalf("%v\n%s", err, log)
			}
			m, err := mail.ReadMessage(bytes.NewReader(box[0]))
			if err != nil {
				t.Fatal(err)
			}
			if got := m.Header.Get("Auto-Submitted"); got != "auto-generated" {
				t.Errorf("Auto-Submitted: %q (RFC 3834 section 5)", got)
			}
			if !strings.HasPrefix(m.Header.Get("Return-Path"), "<reply+") {
				t.Errorf("Return-Path: %q, want the token's address", m.Header.Get("Return-Path"))
			}
			to, err := mail.ParseAddress(m.Header.Get("Reply-To"))
			if err != nil {
				t.Fatal(err)
			}
			host, port, err := net.SplitHostPort(peers.Exchanger)
			if err != nil {
				t.Fatal(err)
			}
			out, err := exec.CommandContext(ctx, "swaks", "--server", host, "--port", port, "--helo", "client.test",
				"--from", "ada@"+mailtest.PatientDomain, "--to", to.Address, "--header", "Subject: Re: x",
				"--add-header", "In-Reply-To: "+m.Header.Get("Message-ID"), "--body", "yes, just now").CombinedOutput()
			if err != nil {
				t.Fatalf("swaks: %v\n%s", err, out)
			}
			c.figures(ref, func(n map[string]any) bool { return n["confirmed"] == 1.0 })

			record := c.ok("patient", "export", ref, "--as-of", time.Now().Add(time.Hour).Format(time.RFC3339))
			var r struct {
				Reports []map[string]any `json:"reports"`
			}
			if err := json.Unmarshal([]byte(record), &r); err != nil {
				t.Fatal(err)
			}
			if len(r.Reports) != 1 || r.Reports[0]["what"] != "on" || r.Reports[0]["fresh"] != true {
				t.Errorf("the record holds %v", r.Reports)
			}
			if code, log := stop(); code != exitDone {
				t.Errorf("exit %d\n%s", code, log)
			}
		})
	}
}

// A wrong password is told by check and by the daemon, and nothing is lost: with
// the right one the same nudge leaves.
func TestPeerWrongPasswordLosesNothing(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	intake := freeAddr(t)
	peers, err := mailtest.StartPeers(ctx, intake, "ada")
	if err != nil {
		t.Fatal(err)
	}
	defer peers.Close()
	secret := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(secret, []byte("not it\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := newClinic(t, peers.Implicit, "--smtp-user", peers.User, "--smtp-password-file", secret)
	c.edit("[smtp]\n", "[smtp]\nca_file = \""+peers.CAFile+"\"\n")
	if out, _, code := c.run("check", "--online"); code != exitConfig || !strings.Contains(out, "535") && !strings.Contains(out, "password") {
		t.Errorf("check: exit %d\n%s", code, out)
	}
	c.enrolDue("ada@" + mailtest.PatientDomain)
	stop := c.start()
	time.Sleep(5 * time.Second)
	code, log := stop()
	if code != exitDone || strings.Contains(log, "not it") {
		t.Errorf("exit %d, or the password in the log:\n%s", code, log)
	}
	if box, err := peers.Mailbox("ada"); err != nil || len(box) != 0 {
		t.Fatalf("%d messages arrived: %v", len(box), err)
	}
	if err := os.WriteFile(filepath.Join(c.dir, "smtp.password"), []byte(peers.Pass+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	again := c.start()
	if _, err := peers.Wait(ctx, "ada", 1); err != nil {
		_, log := again()
		t.Fatalf("%v\n%s", err, log)
	}
}

func freeAddr(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
