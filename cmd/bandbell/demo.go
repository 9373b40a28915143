package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"bandbell/cmd/bandbell/demo"
	"bandbell/store"

	"github.com/spf13/cobra"
)

func (a *app) demoVerb() *cobra.Command {
	var days, patients int
	var seed uint64
	var once bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "Live an invented clinic through six weeks in under a minute, with nothing to set up",
		Long: `Live an invented clinic through some weeks, with real SMTP over loopback both
ways, a real database file and a clock that runs fast. It prints a line a day,
some messages and replies, the morning list and the counts, and where the
database lies, so that every verb can be tried on it. Afterwards the clinic
stays open until interrupted, unless --once is given.`,
		Example: "  bandbell demo\n  bandbell demo --once --days 10 --patients 4 --json",
		Args:    exactly(0, "no argument, only flags"),
	}
	c.Flags().IntVar(&days, "days", demo.DefaultDays, "how many `DAYS` to live")
	c.Flags().IntVar(&patients, "patients", demo.DefaultPatients, "how many `PATIENTS` to enrol")
	c.Flags().Uint64Var(&seed, "seed", demo.DefaultSeed, "`SEED` of the people's luck; the same one gives the same weeks")
	c.Flags().BoolVar(&once, "once", false, "exit when the days are lived")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if days < 1 || days > 1000 || patients < 1 || patients > 10000 {
			return usage("demo takes 1 to 1000 days and 1 to 10000 patients")
		}
		return a.demo(c.Context(), demo.Options{Days: days, Patients: patients, Seed: seed}, once)
	}
	return c
}

func (a *app) demo(ctx context.Context, o demo.Options, once bool) error {
	dir, err := os.MkdirTemp("", "bandbell-demo-")
	if err != nil {
		return fmt.Errorf("make a directory for the demo: %w", err)
	}
	if o.Listener, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		return fmt.Errorf("listen for replies: %w", err)
	}
	addr := o.Listener.Addr().String()
	file, err := demoFiles(dir, addr)
	if err != nil {
		return err
	}
	cfg, err := loadConfig(file)
	if err != nil {
		return err
	}
	if o.Key, err = cfg.tokenKey(); err != nil {
		return err
	}
	if o.DB, err = store.Open(cfg.Database.Path, store.Options{Program: programVersion()}); err != nil {
		return fmt.Errorf("make the demo's database: %w", err)
	}
	defer o.DB.Close()
	o.Log = slog.New(slog.NewTextHandler(a.err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	if o.Talk = a.out; a.json {
		o.Talk = nil
	}
	clinic, err := demo.Open(ctx, o)
	if err != nil {
		return err
	}
	defer clinic.Close()
	sum, err := clinic.Live(ctx)
	if err != nil {
		return fmt.Errorf("live the demo: %w", err)
	}
	if a.json {
		if err := a.print(sum); err != nil {
			return err
		}
	} else if err := a.closeDemo(ctx, o.DB, clinic, sum, file); err != nil {
		return err
	}
	if once {
		return nil
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return fmt.Errorf("stay open: %w", err)
	}
	fmt.Fprintf(a.err, "The clinic stays open, taking in replies on %s. Interrupt (Ctrl-C) to end it.\n", addr)
	return clinic.Stay(ctx, l)
}

func (a *app) closeDemo(ctx context.Context, db *store.DB, clinic *demo.Clinic, sum demo.Summary, file string) error {
	m, err := db.Morning(ctx, clinic.Now())
	if err != nil {
		return err
	}
	fmt.Fprintln(a.out)
	if err := printMorning(a.out, m, clinic.Now().Location()); err != nil {
		return err
	}
	sum.Print(a.out)
	_, err = fmt.Fprintf(a.out, `
Everything is kept in %s. Try the verbs on it, as of the last lived moment:
  bandbell patient list --config %[2]s
  bandbell morning --config %[2]s --as-of %[3]s
  bandbell sheet DEMO01 --config %[2]s --as-of %[3]s
  bandbell figures DEMO01 --config %[2]s --as-of %[3]s
  bandbell plan preview DEMO01 --config %[2]s --as-of %[3]s
`, filepath.Dir(file), file, clinic.Now().Format(time.RFC3339))
	return err
}

// demoFiles writes the configuration and the secret of the demo's clinic.
func demoFiles(dir, listen string) (string, error) {
	src := initConfig(map[string]string{
		"name": "Fern Street Orthodontics", "phone": "+1 555 0100", "emergency_number": "911", "zone": demo.ZoneName, "language": "en",
		"from": string(demo.From), "reply_to": string(demo.ReplyTo), "host": "127.0.0.1", "security": securityNone,
	}, "2525", false) + "\n[intake]\nlisten = " + strconv.Quote(listen) + "\n"
	if err := writeSecret(filepath.Join(dir, "token.key"), newTokenKey()); err != nil {
		return "", err
	}
	file := filepath.Join(dir, "bandbell.toml")
	return file, writeSecret(file, []byte(src))
}
