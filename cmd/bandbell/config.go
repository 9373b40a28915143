package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"bandbell/scheduler/plan"
)

// Config is everything the operator sets, read from one TOML file. Every key
// stands in config.example.toml with its meaning.
type Config struct {
	file string // where it was read from

	Clinic struct {
		Name      string
		Phone     string
		Emergency string // the number for life-threatening signs, as patients dial it
		Zone      *time.Location
		ZoneName  string
		Language  string
		Notation  plan.Notation
	}
	Database struct {
		Path    string
		Readers int
	}
	Mail struct {
		From    plan.Address // the address messages come from
		ReplyTo plan.Address // where replies go; the token is added to its local part
		KeyFile string       // the secret that signs reply addresses
	}
	SMTP struct {
		Host           string
		Port           int
		Security       string // tls, starttls, none
		User           string
		PasswordFile   string
		CAFile         string
		Hello          string
		Connections    int
		CommandTimeout time.Duration
		DotTimeout     time.Duration
	}
	Intake struct {
		Listen          string
		MaxMessageBytes int
		MaxRecipients   int
		MaxConnections  int
		ReadTimeout     time.Duration
		WriteTimeout    time.Duration
	}
	Messages  struct{ Directory string } // edited message files; empty: the built-in ones
	Scheduler struct{ FoldAt plan.Clock }
	Log       struct{ Format, Level string }
}

// Security of the way to the submission server.
const (
	securityTLS      = "tls"
	securityStartTLS = "starttls"
	securityNone     = "none"
)

// fields lists every key of the configuration, bound to c, in the order of the
// example file. It is the one place that knows them.
func fields(c *Config) []field {
	return []field{
		{"clinic.name", required, text(&c.Clinic.Name)},
		{"clinic.phone", required, text(&c.Clinic.Phone)},
		{"clinic.emergency_number", required, text(&c.Clinic.Emergency)},
		{"clinic.zone", required, zone(&c.Clinic.ZoneName, &c.Clinic.Zone)},
		{"clinic.language", "en", oneOf(&c.Clinic.Language, "en", "es")},
		{"clinic.tooth_notation", string(plan.ISO), oneOf((*string)(&c.Clinic.Notation), string(plan.ISO), string(plan.Universal), string(plan.Palmer))},
		{"database.path", required, path(c, &c.Database.Path)},
		{"database.readers", int64(4), number(&c.Database.Readers, 1, 64)},
		{"mail.from", required, address(&c.Mail.From, 64)},
		{"mail.reply_to", required, address(&c.Mail.ReplyTo, maxReplyLocal)},
		{"mail.token_key_file", "", path(c, &c.Mail.KeyFile)},
		{"smtp.host", required, text(&c.SMTP.Host)},
		{"smtp.port", int64(465), number(&c.SMTP.Port, 1, 65535)},
		{"smtp.security", securityTLS, oneOf(&c.SMTP.Security, securityTLS, securityStartTLS, securityNone)},
		{"smtp.user", "", text(&c.SMTP.User)},
		{"smtp.password_file", "", path(c, &c.SMTP.PasswordFile)},
		{"smtp.ca_file", "", path(c, &c.SMTP.CAFile)},
		{"smtp.hello_name", "localhost", text(&c.SMTP.Hello)},
		{"smtp.connections", int64(2), number(&c.SMTP.Connections, 1, 20)},
		{"smtp.command_timeout", "60s", duration(&c.SMTP.CommandTimeout, time.Second, time.Hour)},
		{"smtp.dot_timeout", "10m", duration(&c.SMTP.DotTimeout, time.Second, time.Hour)},
		{"intake.listen", "127.0.0.1:2526", listenAddress(&c.Intake.Listen)},
		{"intake.max_message_bytes", int64(10 << 20), number(&c.Intake.MaxMessageBytes, 64<<10, 100<<20)},
		{"intake.max_recipients", int64(10), number(&c.Intake.MaxRecipients, 1, 100)},
		{"intake.max_connections", int64(50), number(&c.Intake.MaxConnections, 1, 1000)},
		{"intake.read_timeout", "2m", duration(&c.Intake.ReadTimeout, time.Second, time.Hour)},
		{"intake.write_timeout", "1m", duration(&c.Intake.WriteTimeout, time.Second, time.Hour)},
		{"messages.directory", "", path(c, &c.Messages.Directory)},
		{"scheduler.fold_at", "03:40", clock(&c.Scheduler.FoldAt)},
		{"log.format", "text", oneOf(&c.Log.Format, "text", "json")},
		{"log.level", "info", oneOf(&c.Log.Level, "debug", "info", "warn", "error")},
	}
}

// maxReplyLocal is what is left of the 64 octets of a local part (RFC 5321
// section 4.5.3.1.1) beside a plus sign and a token of 39 characters.
const maxReplyLocal = 64 - 1 - 39

// defaultConfigs are looked for, in this order, when --config is not given.
var defaultConfigs = []string{"bandbell.toml", "/etc/bandbell/bandbell.toml"}

func findConfig(given string) string {
	if given != "" {
		return given
	}
	for _, f := range defaultConfigs {
		if _, err := os.Stat(f); err == nil {
			return f
		}
	}
	return defaultConfigs[0]
}

// loadConfig reads a configuration. Every fault in it is returned at once as
// plan.Faults, each with line and column.
func loadConfig(file string) (*Config, error) {
	src, err := os.ReadFile(file)
	if err != nil {
		return nil, &badConfig{fmt.Errorf("read the configuration: %w\n  hint: `bandbell init` writes one; name another with --config FILE", err)}
	}
	c := &Config{file: file}
	if err := decodeConfig(c, file, src); err != nil {
		return nil, &badConfig{err}
	}
	return c, nil
}

// checkTogether finds what is wrong between keys that are each right alone.
func (c *Config) checkTogether(fault func(key, what, hint string)) {
	s := &c.SMTP
	if s.Security == securityNone && !loopback(s.Host) {
		fault("smtp.security", `"none" is for a server on this machine only`, `use "tls" (port 465) or "starttls" (port 587)`)
	}
	if s.User != "" && s.PasswordFile == "" && credential("smtp-password") == "" {
		fault("smtp.user", "is given without a password", "name the file that holds it in smtp.password_file, or pass the service credential smtp-password")
	}
	if s.User == "" && s.PasswordFile != "" {
		fault("smtp.password_file", "is given without a user", "set smtp.user")
	}
	if c.Mail.KeyFile == "" && credential("token-key") == "" {
		fault("mail.token_key_file", "is missing", "`bandbell init` makes the file; or pass the service credential token-key")
	}
}

// credential is the path of a secret handed over by the service manager, or "".
func credential(name string) string {
	dir := os.Getenv("CREDENTIALS_DIRECTORY")
	if dir == "" {
		return ""
	}
	p := filepath.Join(dir, name)
	if _, err := os.Stat(p); err != nil {
		return ""
	}
	return p
}
