package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/mail"
	"net/smtp"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"bandbell/notify/mailtest"
)

// clinic is a directory with a configuration that points at a test server.
type clinic struct {
	t      testing.TB
	dir    string
	config string
	intake string // where the daemon takes in replies
}

// newServer starts a mail server that ends with the test.
func newServer(t testing.TB, opts ...mailtest.Option) *mailtest.Server {
	t.Helper()
	s, err := mailtest.NewServer(opts...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// newClinic runs init against a submission server on loopback.
func newClinic(t testing.TB, submission string, extra ...string) *clinic {
	t.Helper()
	host, port, err := net.SplitHostPort(submission)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &clinic{t: t, dir: t.TempDir(), intake: l.Addr().String()}
	l.Close()
	c.config = filepath.Join(c.dir, "bandbell.toml")
	c.ok(append([]string{"init", "--dir", c.dir, "--clinic-name", "Fern Street Orthodontics", "--clinic-phone", "+1 555 0100",
		"--emergency-number", "911", "--zone", "America/New_York", "--from", "bands@clinic.test", "--reply-to", "reply@clinic.test",
		"--smtp-host", host, "--smtp-port", port}, extra...)...)
	c.append("\n[intake]\nlisten = \"" + c.intake + "\"\n")
	return c
}

func (c *clinic) append(text string) {
	c.t.Helper()
	f, err := os.OpenFile(c.config, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		c.t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(text); err != nil {
		c.t.Fatal(err)
	}
}

// edit replaces the one place of a text in the configuration.
func (c *clinic) edit(old, new string) {
	c.t.Helper()
	src, err := os.ReadFile(c.config)
	if err != nil {
		c.t.Fatal(err)
	}
	if n := bytes.Count(src, []byte(old)); n != 1 {
		c.t.Fatalf("%q stands %d times in the configuration", old, n)
	}
	if err := os.WriteFile(c.config, bytes.Replace(src, []byte(old), []byte(new), 1), 0o600); err != nil {
		c.t.Fatal(err)
	}
}

// run runs a verb and returns what it printed and its exit code.
func (c *clinic) run(args ...string) (out, talk string, code int) {
	var o, e bytes.Buffer
	if args[0] != "init" {
		args = append(args, "--config", c.config)
	}
	code = run(c.t.Context(), args, strings.NewReader(""), &o, &e)
	return o.String(), e.String(), code
}

// ok runs a verb that must succeed.
func (c *clinic) ok(args ...string) string {
	c.t.Helper()
	out, talk, code := c.run(args...)
	if code != exitDone {
		c.t.Fatalf("%v: exit %d\n%s%s", args, code, out, talk)
	}
	return strings.TrimSpace(out)
}

// start runs the daemon; stop ends it as SIGTERM would and returns its exit
// code and log.
func (c *clinic) start() (stop func() (int, string)) {
	ctx, cancel := context.WithCancel(context.Background())
	var log safeBuffer
	done := make(chan int, 1)
	go func() { done <- run(ctx, []string{"run", "--config", c.config}, nil, &bytes.Buffer{}, &log) }()
	once := sync.OnceValues(func() (int, string) { cancel(); return <-done, log.String() })
	c.t.Cleanup(func() { once() })
	return once
}

// safeBuffer is a buffer that many goroutines may write to.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// enrolDue enrols a patient who is owed a band-change nudge right now.
func (c *clinic) enrolDue(address string) (ref string) {
	c.t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		c.t.Fatal(err)
	}
	// The meal ended a minute ago; the plan is older than that.
	meal := time.Now().In(zone).Add(-61 * time.Minute)
	before := meal.Add(-48 * time.Hour).Format(time.RFC3339)
	ref = c.ok("patient", "add", "--first-name", "Ada", "--address", address, "--latex-allergy", "no", "--as-of", before)
	c.ok("patient", "consent", ref, "--how", "paper", "--by", "front desk", "--as-of", before)
	plan := filepath.Join(c.dir, "plan.json")
	text := fmt.Sprintf(`{"aligner_start":%q,"days_per_tray":10,"trays":24,"useful_min":600,"meals":[{"code":"PC","at":%q,"minutes":60}],
 "bands":[{"from":%[1]q,"side":"right","pattern":"class-2","upper":[13],"lower":[46],"lumen_mm":6.35,"force_oz":4.5,"latex":true}]}`,
		meal.AddDate(0, 0, -40).Format(time.DateOnly), meal.Format("15:04"))
	if err := os.WriteFile(plan, []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
	c.ok("plan", "set", ref, plan, "--as-of", before)
	return ref
}

// answer writes a reply to a message as a mail program would and hands it to
// the daemon's listener.
func (c *clinic) answer(m mailtest.Message, text string) {
	c.t.Helper()
	h, err := mail.ReadMessage(bytes.NewReader(m.Data))
	if err != nil {
		c.t.Fatal(err)
	}
	to, err := mail.ParseAddress(h.Header.Get("Reply-To"))
	if err != nil {
		c.t.Fatal(err)
	}
	raw := fmt.Sprintf("From: <%s>\r\nTo: <%s>\r\nDate: %s\r\nMessage-ID: <%d@patients.test>\r\nIn-Reply-To: %s\r\nSubject: Re: x\r\n\r\n%s\r\n",
		m.To[0], to.Address, time.Now().Format(time.RFC1123Z), time.Now().UnixNano(), h.Header.Get("Message-ID"), text)
	c.deliver(m.To[0], to.Address, raw)
}

func (c *clinic) deliver(from, to, raw string) {
	c.t.Helper()
	if err := smtp.SendMail(c.intake, nil, from, []string{to}, []byte(raw)); err != nil {
		c.t.Fatal(err)
	}
}

// figures waits until the figures of a patient satisfy a condition.
func (c *clinic) figures(ref string, want func(counts map[string]any) bool) {
	c.t.Helper()
	var f struct {
		Counts map[string]any `json:"counts"`
	}
	for range 100 {
		out := c.ok("figures", ref, "--json", "--as-of", time.Now().Add(24*time.Hour).Format(time.RFC3339))
		if err := json.Unmarshal([]byte(out), &f); err != nil {
			c.t.Fatal(err)
		}
		if want(f.Counts) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	c.t.Fatalf("the record never came to it: %v", f.Counts)
}

// A due nudge leaves, its answer stands in the record, and SIGTERM ends the
// daemon with exit code 0; started again it sends nothing a second time.
func TestDaemonCarriesANudgeAndItsAnswer(t *testing.T) {
	server := newServer(t)
	c := newClinic(t, server.Addr(), "--smtp-security", "none")
	ref := c.enrolDue("ada@patients.test")
	stop := c.start()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	m, err := server.Next(ctx)
	if err != nil {
		_, log := stop()
		t.Fatalf("no nudge came: %v\n%s", err, log)
	}
	if m.To[0] != "ada@patients.test" || !strings.HasPrefix(m.From, "reply+") {
		t.Errorf("envelope %s -> %v", m.From, m.To)
	}
	c.answer(m, "yes")
	c.figures(ref, func(n map[string]any) bool { return n["confirmed"] == 1.0 })
	code, log := stop()
	if code != exitDone {
		t.Errorf("exit %d\n%s", code, log)
	}
	for _, private := range []string{"ada@", "Ada", "patients.test"} {
		if strings.Contains(log, private) {
			t.Errorf("the log names %q:\n%s", private, log)
		}
	}

	again := c.start()
	time.Sleep(300 * time.Millisecond)
	if code, log := again(); code != exitDone {
		t.Errorf("second start: exit %d\n%s", code, log)
	}
	if n := server.Count(); n != 1 {
		t.Errorf("%d messages left, want 1", n)
	}
}

// A second daemon on the same database gives up with a clear word.
func TestSecondDaemonIsRefused(t *testing.T) {
	server := newServer(t)
	c := newClinic(t, server.Addr(), "--smtp-security", "none")
	stop := c.start()
	waitListening(t, c.intake)
	_, talk, code := c.run("run")
	if code != exitFailed || !strings.Contains(talk, "already runs on this database") || !strings.Contains(talk, "hint:") {
		t.Errorf("exit %d: %s", code, talk)
	}
	if code, log := stop(); code != exitDone {
		t.Errorf("the first: exit %d\n%s", code, log)
	}
}

func waitListening(t testing.TB, addr string) {
	t.Helper()
	for range 200 {
		if conn, err := net.Dial("tcp", addr); err == nil {
			conn.Close()
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("nothing listens on %s", addr)
}

// A wrong password and a server that is not there are told by check with a
// hint, and a message waits for better days.
func TestCheckOnlineTellsWhatIsWrong(t *testing.T) {
	server := newServer(t, mailtest.ImplicitTLS(), mailtest.RequireAuth("bands@clinic.test", "right"))
	secret := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(secret, []byte("wrong\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := newClinic(t, server.Addr(), "--smtp-security", "tls", "--smtp-user", "bands@clinic.test", "--smtp-password-file", secret)

	out, _, code := c.run("check", "--online")
	if code != exitConfig || !strings.Contains(out, "certificate") {
		t.Errorf("an unknown certificate: exit %d\n%s", code, out)
	}
	ca := filepath.Join(c.dir, "ca.pem")
	if err := os.WriteFile(ca, server.CertPEM(), 0o600); err != nil {
		t.Fatal(err)
	}
	c.edit("[smtp]\n", "[smtp]\nca_file = \"ca.pem\"\n")
	out, _, code = c.run("check", "--online")
	if code != exitConfig || !strings.Contains(out, "password") || strings.Contains(out, "wrong") {
		t.Errorf("a wrong password: exit %d\n%s", code, out)
	}
	if err := os.WriteFile(filepath.Join(c.dir, "smtp.password"), []byte("right\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, _, code = c.run("check", "--online"); code != exitDone {
		t.Errorf("the right password: exit %d\n%s", code, out)
	}
	server.Close()
	if out, _, code = c.run("check", "--online"); code != exitConfig || !strings.Contains(out, "refused") {
		t.Errorf("no server: exit %d\n%s", code, out)
	}
}

// A reply of 20 MB and one to an unknown token hurt nobody: the first is
// refused so that its sender keeps it, the second waits for a person.
func TestDaemonTakesWhatIsThrownAtIt(t *testing.T) {
	server := newServer(t)
	c := newClinic(t, server.Addr(), "--smtp-security", "none")
	stop := c.start()
	waitListening(t, c.intake)
	head := "From: <ada@patients.test>\r\nTo: <reply@clinic.test>\r\nSubject: x\r\n\r\n"
	big := head + strings.Repeat(strings.Repeat("a", 70)+"\r\n", 20<<20/72)
	err := smtp.SendMail(c.intake, nil, "ada@patients.test", []string{"reply@clinic.test"}, []byte(big))
	if err == nil || !strings.Contains(err.Error(), "552") && !strings.Contains(err.Error(), "reset") && !strings.Contains(err.Error(), "pipe") {
		t.Errorf("20 MB: %v", err)
	}
	c.deliver("eve@elsewhere.test", "reply+"+strings.Repeat("a", 39)+"@clinic.test", head+"yes\r\n")
	code, log := stop()
	if code != exitDone {
		t.Errorf("exit %d\n%s", code, log)
	}
	if n := server.Count(); n != 0 {
		t.Errorf("%d messages were sent", n)
	}
}
