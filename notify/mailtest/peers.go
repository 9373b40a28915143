//go:build peers

package mailtest

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// Peers are real mail servers on loopback: Postfix, which takes submissions
// with a password over implicit TLS and STARTTLS and acts as mail exchanger,
// and Dovecot, which checks the passwords for it. Nothing can leave the
// machine. They need root, and Debian's packages postfix and dovecot-core.
//
// clinic.test is relayed to the SMTP listener named at the start; the mailboxes
// of patients.test are maildirs.
type Peers struct {
	Dir        string // everything of theirs lies below it
	CAFile     string // the authority that signed their certificate, PEM
	Implicit   string // submission over implicit TLS, host:port
	Explicit   string // submission over STARTTLS, host:port
	Exchanger  string // mail exchanger, host:port, for swaks and the like
	User, Pass string // an account that may submit
}

// The domains the peers know (RFC 2606 keeps .test free).
const (
	ClinicDomain  = "clinic.test"
	PatientDomain = "patients.test"
)

// StartPeers starts both servers with their files below a new directory.
// intake is host:port of the clinic's SMTP listener; mailboxes are the names
// that exist in patients.test.
func StartPeers(ctx context.Context, intake string, mailboxes ...string) (*Peers, error) {
	dir, err := os.MkdirTemp("", "peers-")
	if err != nil {
		return nil, err
	}
	// Both servers give up root and must still reach their files.
	if err := os.Chmod(dir, 0o755); err != nil {
		return nil, err
	}
	p := &Peers{Dir: dir, CAFile: filepath.Join(dir, "ca.pem"), User: "bands@" + ClinicDomain, Pass: "correct horse 4"}
	ports, err := freePorts(3)
	if err != nil {
		return nil, err
	}
	p.Implicit, p.Explicit, p.Exchanger = ports[0], ports[1], ports[2]
	for _, step := range []func() error{
		p.certificates, p.dovecot, func() error { return p.postfix(intake, mailboxes) },
		func() error { return p.command(ctx, "dovecot", "-c", p.path("dovecot.conf")) },
		func() error { return p.command(ctx, "postfix", "-c", p.path("postfix/etc"), "start") },
		func() error { return waitFor(ctx, p.Implicit, p.Explicit, p.Exchanger) },
	} {
		if err := step(); err != nil {
			return nil, errors.Join(err, p.Close())
		}
	}
	return p, nil
}

// Close stops the servers and removes their files.
func (p *Peers) Close() error {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	// Either may never have started.
	_ = p.command(ctx, "postfix", "-c", p.path("postfix/etc"), "stop")
	_ = p.command(ctx, "doveadm", "-c", p.path("dovecot.conf"), "stop")
	return os.RemoveAll(p.Dir)
}

// Log is what Postfix logged, for a failing test to print.
func (p *Peers) Log() string {
	b, err := os.ReadFile(p.path("postfix/maillog"))
	if err != nil {
		return err.Error()
	}
	return string(b)
}

// Mailbox lists the raw messages delivered to a name in patients.test.
func (p *Peers) Mailbox(name string) ([][]byte, error) {
	var out [][]byte
	root := p.path("mail/" + name)
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil || d.IsDir() {
			return err
		}
		if box := filepath.Base(filepath.Dir(path)); box != "new" && box != "cur" {
			return nil
		}
		b, err := os.ReadFile(path)
		out = append(out, b)
		return err
	})
	return out, err
}

// Wait returns the messages of a mailbox once there are n.
func (p *Peers) Wait(ctx context.Context, name string, n int) ([][]byte, error) {
	for {
		box, err := p.Mailbox(name)
		if err != nil || len(box) >= n {
			return box, err
		}
		select {
		case <-ctx.Done():
			return box, fmt.Errorf("wait for %d messages in %s, have %d: %w\n%s", n, name, len(box), ctx.Err(), p.Log())
		case <-time.After(50 * time.Millisecond):
		}
	}
}

func (p *Peers) path(name string) string { return filepath.Join(p.Dir, name) }

func (p *Peers) command(ctx context.Context, name string, args ...string) error {
	c := exec.CommandContext(ctx, name, args...)
	// Files, not pipes: the daemons inherit them and would keep a pipe open.
	out, err := os.CreateTemp(p.Dir, "out-")
	if err != nil {
		return err
	}
	defer out.Close()
	c.Stdout, c.Stderr = out, out
	if err := c.Run(); err != nil {
		b, _ := os.ReadFile(out.Name())
		return fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, b)
	}
	return nil
}

func freePorts(n int) ([]string, error) {
	var out []string
	for range n {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return nil, err
		}
		defer l.Close() // all at once, so that no port is given twice
		out = append(out, l.Addr().String())
	}
	return out, nil
}

func waitFor(ctx context.Context, addrs ...string) error {
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	for _, a := range addrs {
		for {
			conn, err := new(net.Dialer).DialContext(ctx, "tcp", a)
			if err == nil {
				conn.Close()
				break
			}
			select {
			case <-ctx.Done():
				return fmt.Errorf("wait for %s: %w", a, err)
			case <-time.After(50 * time.Millisecond):
			}
		}
	}
	return nil
}

// certificates makes an authority and a leaf for localhost, 127.0.0.1 and
// mail.clinic.test.
func (p *Peers) certificates() error {
	now := time.Now()
	caKey, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	ca := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Test authority"}, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(24 * time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	caDER, err := x509.CreateCertificate(rand.Reader, ca, ca, &caKey.PublicKey, caKey)
	if err != nil {
		return err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	leaf := &x509.Certificate{SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "mail." + ClinicDomain}, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(24 * time.Hour),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: []string{"mail." + ClinicDomain, "localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	leafDER, err := x509.CreateCertificate(rand.Reader, leaf, ca, &key.PublicKey, caKey)
	if err != nil {
		return err
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	return errors.Join(
		os.WriteFile(p.CAFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: caDER}), 0o644),
		os.WriteFile(p.path("leaf.pem"), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: leafDER}), 0o644),
		os.WriteFile(p.path("leaf.key"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), 0o600),
	)
}

// dovecot writes the settings of the password checker.
func (p *Peers) dovecot() error {
	if err := os.MkdirAll(p.path("dovecot"), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(p.path("users"), []byte(p.User+":{PLAIN}"+p.Pass+"::::::\n"), 0o644); err != nil {
		return err
	}
	conf := strings.NewReplacer("DIR", p.Dir, "NAME", filepath.Base(p.Dir)).Replace(`
base_dir = DIR/dovecot/run
state_dir = DIR/dovecot/state
log_path = DIR/dovecot/log
instance_name = NAME
protocols =
listen = 127.0.0.1
ssl = no
auth_mechanisms = plain login
disable_plaintext_auth = no
first_valid_uid = 1
passdb {
  driver = passwd-file
  args = username_format=%u DIR/users
}
userdb {
  driver = static
  args = uid=nobody gid=nogroup home=DIR/dovecot
}
service auth {
  unix_listener auth-client {
    mode = 0660
    user = postfix
    group = postfix
  }
}
`)
	return os.WriteFile(p.path("dovecot.conf"), []byte(conf), 0o644)
}

// postfix writes a second instance beside whatever the machine has.
func (p *Peers) postfix(intake string, names []string) error {
	owner, err := user.Lookup("postfix")
	if err != nil {
		return fmt.Errorf("is postfix installed? %w", err)
	}
	uid, err := strconv.Atoi(owner.Uid)
	if err != nil {
		return err
	}
	gid, err := strconv.Atoi(owner.Gid)
	if err != nil {
		return err
	}
	etc := p.path("postfix/etc")
	for _, d := range []string{etc, p.path("postfix/queue"), p.path("postfix/data"), p.path("mail")} {
		if err := os.MkdirAll(d, 0o755); err != nil {
			return err
		}
	}
	if err := errors.Join(os.Chown(p.path("postfix/data"), uid, gid), os.Chmod(p.path("postfix/data"), 0o700), os.Chown(p.path("mail"), uid, gid)); err != nil {
		return err
	}
	for _, f := range []string{"postfix-files", "dynamicmaps.cf"} {
		b, err := os.ReadFile(filepath.Join("/etc/postfix", f))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(etc, f), b, 0o644); err != nil {
			return err
		}
	}
	for _, d := range []string{"postfix-files.d", "dynamicmaps.cf.d"} {
		if err := os.MkdirAll(filepath.Join(etc, d), 0o755); err != nil {
			return err
		}
	}
	var boxes strings.Builder
	for _, name := range names {
		fmt.Fprintf(&boxes, "%s@%s %s/\n", name, PatientDomain, name)
	}
	host, port, err := net.SplitHostPort(intake)
	if err != nil {
		return err
	}
	fill := strings.NewReplacer("DIR", p.Dir, "UID", owner.Uid, "GID", owner.Gid, "INTAKE", "["+host+"]:"+port,
		"IMPLICIT", p.Implicit, "EXPLICIT", p.Explicit, "EXCHANGER", p.Exchanger)
	return errors.Join(
		os.WriteFile(filepath.Join(etc, "main.cf"), []byte(fill.Replace(postfixMain)), 0o644),
		os.WriteFile(filepath.Join(etc, "master.cf"), []byte(fill.Replace(postfixMaster)), 0o644),
		os.WriteFile(filepath.Join(etc, "mailboxes"), []byte(boxes.String()), 0o644),
	)
}

const postfixMain = `compatibility_level = 3.6
myhostname = mail.clinic.test
queue_directory = DIR/postfix/queue
data_directory = DIR/postfix/data
daemon_directory = /usr/lib/postfix/sbin
command_directory = /usr/sbin
mail_owner = postfix
setgid_group = postdrop
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
mynetworks =
mydestination =
alias_maps =
alias_database =
local_recipient_maps =
disable_dns_lookups = yes
recipient_delimiter = +
message_size_limit = 30000000
relay_domains = clinic.test
transport_maps = inline:{ { clinic.test = smtp:INTAKE } }
virtual_mailbox_domains = patients.test
virtual_mailbox_maps = texthash:DIR/postfix/etc/mailboxes
virtual_mailbox_base = DIR/mail
virtual_mailbox_limit = 0
virtual_uid_maps = static:UID
virtual_gid_maps = static:GID
virtual_minimum_uid = 1
default_transport = error:5.1.2 nothing leaves this machine
smtpd_tls_cert_file = DIR/leaf.pem
smtpd_tls_key_file = DIR/leaf.key
smtpd_tls_security_level = may
smtpd_tls_auth_only = yes
smtpd_sasl_type = dovecot
smtpd_sasl_path = unix:DIR/dovecot/run/auth-client
smtpd_relay_restrictions = permit_sasl_authenticated, reject_unauth_destination
smtpd_forbid_bare_newline = normalize
smtpd_forbid_bare_newline_exclusions =
maillog_file = DIR/postfix/maillog
maillog_file_prefixes = DIR
minimal_backoff_time = 2s
maximal_backoff_time = 5s
queue_run_delay = 2s
maximal_queue_lifetime = 5m
bounce_queue_lifetime = 5m
`

const postfixMaster = `EXCHANGER inet n - n - - smtpd
EXPLICIT inet n - n - - smtpd
  -o smtpd_tls_security_level=encrypt
  -o smtpd_sasl_auth_enable=yes
  -o smtpd_client_restrictions=permit_sasl_authenticated,reject
IMPLICIT inet n - n - - smtpd
  -o smtpd_tls_wrappermode=yes
  -o smtpd_sasl_auth_enable=yes
  -o smtpd_client_restrictions=permit_sasl_authenticated,reject
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
verify unix - - n - 1 verify
flush unix n - n 1000? 0 flush
proxymap unix - - n - - proxymap
smtp unix - - n - - smtp
relay unix - - n - - smtp
error unix - - n - - error
retry unix - - n - - error
discard unix - - n - - discard
virtual unix - n n - - virtual
anvil unix - - n - 1 anvil
scache unix - - n - 1 scache
postlog unix-dgram n - n - 1 postlogd
`
