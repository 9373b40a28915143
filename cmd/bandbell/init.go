package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"bandbell/store"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// question is one thing init has to know.
type question struct {
	flag, ask, suggest string
	value              *string
}

func (a *app) initVerb() *cobra.Command {
	var name, phone, emergency, zone, language, from, replyTo, host, port, security, user, passwordFile, dir string
	questions := []question{
		{"clinic-name", "How does the clinic sign its messages?", "", &name},
		{"clinic-phone", "Which number do patients call?", "", &phone},
		{"emergency-number", "Which number is for life-threatening signs?", "", &emergency},
		{"zone", "In which time zone is the clinic? (IANA name)", "America/New_York", &zone},
		{"language", "Language of the messages, en or es?", "en", &language},
		{"from", "Which address do messages come from?", "", &from},
		{"reply-to", "Which address takes the replies?", "", &replyTo},
		{"smtp-host", "Submission server of the mail provider?", "", &host},
		{"smtp-port", "Its port?", "465", &port},
		{"smtp-security", "tls, starttls or none?", "tls", &security},
		{"smtp-user", "User to sign in as? (empty: none)", "", &user},
	}
	c := &cobra.Command{
		Use:   "init",
		Short: "Write a configuration, its secrets and an empty database",
		Long: `Write bandbell.toml, the secret files and an empty database into a directory,
readable by their owner only. On a terminal what no flag says is asked for.
Nothing that exists is replaced. The password is typed on the terminal without
echo, or read from --smtp-password-file (- is standard input): never from a flag.`,
		Example: `  bandbell init
  bandbell init --dir /etc/bandbell --clinic-name "Fern Street Orthodontics" --clinic-phone "+1 555 0100" \
    --emergency-number 911 --from bands@clinic.example.org --reply-to reply@clinic.example.org \
    --smtp-host mail.clinic.example.org --smtp-user bands@clinic.example.org --smtp-password-file - <password`,
		Args: exactly(0, "no argument, only flags"),
	}
	for _, q := range questions {
		what := q.ask
		if q.suggest != "" {
			what += " (suggested: " + q.suggest + ")"
		}
		c.Flags().StringVar(q.value, q.flag, "", what)
	}
	c.Flags().StringVar(&dir, "dir", ".", "`DIRECTORY` to write into")
	c.Flags().StringVar(&passwordFile, "smtp-password-file", "", "`FILE` to read the password from (- is standard input)")
	c.RunE = func(c *cobra.Command, _ []string) error {
		file := filepath.Join(dir, "bandbell.toml")
		if _, err := os.Stat(file); err == nil {
			return fmt.Errorf("%s exists already\n  hint: edit it, or choose another --dir", file)
		}
		if err := a.askAll(c, questions); err != nil {
			return err
		}
		password, err := a.askPassword(user, passwordFile)
		if err != nil {
			return err
		}
		src := initConfig(map[string]string{
			"name": name, "phone": phone, "emergency_number": emergency, "zone": zone, "language": language,
			"from": from, "reply_to": replyTo, "host": host, "security": security, "user": user,
		}, port, user != "")
		if err := decodeConfig(&Config{file: file}, "the answers", []byte(src)); err != nil {
			return wrongUse{err}
		}
		return a.writeClinic(dir, file, src, password)
	}
	return c
}

// askAll fills what no flag said, by asking on a terminal; elsewhere it takes
// the suggestions and tells everything missing at once.
func (a *app) askAll(c *cobra.Command, questions []question) error {
	terminal := a.terminal()
	lines := bufio.NewReader(a.in)
	var missing []string
	for _, q := range questions {
		if *q.value != "" || c.Flags().Changed(q.flag) {
			continue
		}
		if !terminal {
			if *q.value = q.suggest; q.suggest == "" && q.flag != "smtp-user" {
				missing = append(missing, "--"+q.flag)
			}
			continue
		}
		fmt.Fprint(a.err, q.ask+" ")
		if q.suggest != "" {
			fmt.Fprintf(a.err, "[%s] ", q.suggest)
		}
		line, err := lines.ReadString('\n')
		if err != nil {
			return fmt.Errorf("read the answer: %w", err)
		}
		if *q.value = strings.TrimSpace(line); *q.value == "" {
			*q.value = q.suggest
		}
	}
	if len(missing) > 0 {
		return usage("init needs %s\n  hint: without a terminal everything is given by flags; bandbell init --help", strings.Join(missing, ", "))
	}
	return nil
}

func (a *app) terminal() bool {
	f, ok := a.in.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

func (a *app) askPassword(user, file string) ([]byte, error) {
	switch {
	case user == "":
		return nil, nil
	case file != "":
		b, err := a.input(file)
		return []byte(strings.TrimRight(string(b), "\r\n")), err
	case a.terminal():
		fmt.Fprint(a.err, "Password of "+user+"? (not shown) ")
		b, err := term.ReadPassword(int(a.in.(*os.File).Fd()))
		fmt.Fprintln(a.err)
		return b, err
	}
	return nil, usage("init needs the password of --smtp-user\n  hint: --smtp-password-file FILE, or - for standard input")
}

// initConfig writes the configuration as TOML, its strings quoted.
func initConfig(v map[string]string, port string, signIn bool) string {
	var b strings.Builder
	line := func(key string) { fmt.Fprintf(&b, "%s = %s\n", key, strconv.Quote(v[key])) }
	b.WriteString("# Written by bandbell init. config.example.toml explains every key;\n# `bandbell check` tells every fault.\n\n[clinic]\n")
	for _, k := range []string{"name", "phone", "emergency_number", "zone", "language"} {
		line(k)
	}
	b.WriteString("\n[database]\npath = \"bandbell.db\"\n\n[mail]\n")
	line("from")
	line("reply_to")
	b.WriteString("token_key_file = \"token.key\"\n\n[smtp]\n")
	line("host")
	fmt.Fprintf(&b, "port = %s\n", port)
	line("security")
	if signIn {
		line("user")
		b.WriteString("password_file = \"smtp.password\"\n")
	}
	return b.String()
}

// writeClinic writes the files: the configuration last, so that a run that was
// cut short can be begun again.
func (a *app) writeClinic(dir, file, src string, password []byte) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make %s: %w", dir, errors.Unwrap(err))
	}
	key := filepath.Join(dir, "token.key")
	if _, err := os.Stat(key); errors.Is(err, os.ErrNotExist) {
		if err := writeSecret(key, newTokenKey()); err != nil {
			return err
		}
	}
	if password != nil {
		secret := filepath.Join(dir, "smtp.password")
		if err := os.Remove(secret); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("replace %s: %w", secret, errors.Unwrap(err))
		}
		if err := writeSecret(secret, append(password, '\n')); err != nil {
			return err
		}
	}
	db, err := store.Open(filepath.Join(dir, "bandbell.db"), store.Options{Program: programVersion()})
	if err != nil {
		return fmt.Errorf("make the database: %w", err)
	}
	if err := db.Close(); err != nil {
		return fmt.Errorf("make the database: %w", err)
	}
	if err := writeSecret(file, []byte(src)); err != nil {
		return err
	}
	if a.json {
		return a.print(map[string]string{"config": file, "database": filepath.Join(dir, "bandbell.db")})
	}
	fmt.Fprintf(a.out, "wrote %s, its secrets and an empty database\n", file)
	fmt.Fprintf(a.err, "next: bandbell check --online --config %s\n", file)
	return nil
}
