package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"

	"github.com/spf13/cobra"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
	exitConfig = 78 // EX_CONFIG of sysexits.h: bad configuration or schema
)

// wrongUse is an error in how the program was called.
type wrongUse struct{ error }

func (w wrongUse) Unwrap() error { return w.error }

func usage(format string, args ...any) error { return wrongUse{fmt.Errorf(format, args...)} }

// badConfig is an error in the configuration or the database's schema.
type badConfig struct{ error }

func (b *badConfig) Unwrap() error { return b.error }

// app is what every verb works with.
type app struct {
	in       io.Reader
	out, err io.Writer
	file     string // --config
	asOf     string // --as-of
	json     bool   // --json
}

// run is the whole program: it does what args say and returns the exit code.
// Results go to stdout, talk and errors to stderr.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{in: stdin, out: stdout, err: stderr}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	fmt.Fprintln(stderr, "bandbell: "+strings.TrimSuffix(err.Error(), "\n"))
	var use wrongUse
	var config *badConfig
	var refused *store.RefusedError
	switch {
	case errors.As(err, &use), strings.HasPrefix(err.Error(), "unknown command"), strings.HasPrefix(err.Error(), "required flag"):
		return exitUsage
	case errors.As(err, &config), errors.As(err, &refused):
		return exitConfig
	}
	return exitFailed
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "bandbell",
		Short: "Remind patients of their bands, read their answers, tell the clinic whom to call",
		Long: `bandbell writes to people in orthodontic treatment at three points: after each
meal, when the bands start in week three, and in the sore first week. It reads
what they answer, keeps a record for each day, and tells the desk whom to call.

Try it with nothing to set up:  bandbell demo
Set up a clinic:                bandbell init, then bandbell check, then bandbell run`,
		SilenceErrors:              true,
		SilenceUsage:               true,
		SuggestionsMinimumDistance: 2,
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usage("%w\n  hint: %s --help", err, c.CommandPath())
	})
	flags := root.PersistentFlags()
	flags.StringVar(&a.file, "config", "", "configuration `FILE` (default bandbell.toml here, then /etc/bandbell/bandbell.toml)")
	flags.StringVar(&a.asOf, "as-of", "", "look at the records as they stood at this `TIME` (RFC 3339; default now)")
	flags.BoolVar(&a.json, "json", false, "print JSON")
	root.AddCommand(a.demoVerb(), a.initVerb(), a.checkVerb(), a.runVerb(), a.patientVerbs(), a.planVerbs(),
		a.readVerb(), a.replyVerbs(), a.figuresVerb(), a.visitVerbs(), a.morningVerb(), a.sheetVerb(), a.versionVerb())
	return root
}

// exactly makes a check of the number of arguments that counts as wrong use.
func exactly(n int, names string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usage("%s needs %s\n  hint: %s --help", c.CommandPath(), names, c.CommandPath())
		}
		return nil
	}
}

// now is the moment the verb works at.
func (a *app) now() (time.Time, error) {
	if a.asOf == "" {
		return time.Now(), nil
	}
	t, err := time.Parse(time.RFC3339, a.asOf)
	if err != nil {
		return t, usage("--as-of %q is not a time\n  hint: write it as RFC 3339: 2026-06-01T08:00:00-04:00", a.asOf)
	}
	return t, nil
}

// open reads the configuration and opens its database.
func (a *app) open() (*store.DB, *Config, error) {
	c, err := loadConfig(findConfig(a.file))
	if err != nil {
		return nil, nil, err
	}
	db, err := openDatabase(c)
	return db, c, err
}

func openDatabase(c *Config) (*store.DB, error) {
	if _, err := os.Stat(c.Database.Path); errors.Is(err, os.ErrNotExist) {
		return nil, &badConfig{fmt.Errorf("open the database: %s does not exist\n  hint: `bandbell init` makes it; a lost database is restored from a backup", c.Database.Path)}
	}
	db, err := store.Open(c.Database.Path, store.Options{MustExist: true, Readers: c.Database.Readers, Program: programVersion()})
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	return db, nil
}

// print writes a value as one line of JSON.
func (a *app) print(v any) error {
	e := json.NewEncoder(a.out)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// input reads a named file, or standard input for "-".
func (a *app) input(name string) ([]byte, error) {
	if name == "-" {
		return io.ReadAll(a.in)
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, errors.Unwrap(err))
	}
	return b, nil
}

// inputName is how faults name an input.
func inputName(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}

// actor is who the audit trail names for a verb.
const actor = "command line"

// date reads a date flag.
func date(flag, value string) (plan.Date, error) {
	d, err := plan.ParseDate(value)
	if err != nil {
		return d, usage("--%s: %w", flag, err)
	}
	return d, nil
}
