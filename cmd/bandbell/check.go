package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"bandbell/notify"
	"bandbell/store"

	"github.com/spf13/cobra"
)

// finding is one thing `check` looked at.
type finding struct {
	What  string `json:"what"`
	OK    bool   `json:"ok"`
	Fault string `json:"fault,omitempty"`
}

// onlineWait bounds the sign-in that `check --online` tries.
const onlineWait = 30 * time.Second

func (a *app) checkVerb() *cobra.Command {
	var online bool
	c := &cobra.Command{
		Use:   "check",
		Short: "Check configuration, secrets, database and messages, and tell every fault at once",
		Long: `Check the configuration, the secrets, the database and the messages, and print
every fault at once. Nothing is changed. With --online the submission server is
signed in to as well; nothing is sent.`,
		Args: exactly(0, "no argument"),
	}
	c.Flags().BoolVar(&online, "online", false, "sign in to the submission server too")
	c.RunE = func(c *cobra.Command, _ []string) error {
		cfg, err := loadConfig(findConfig(a.file))
		if err != nil {
			return err
		}
		found := a.look(c.Context(), cfg, online)
		bad := 0
		for _, f := range found {
			if !f.OK {
				bad++
			}
		}
		if a.json {
			if err := a.print(map[string]any{"checked": found, "faults": bad}); err != nil {
				return err
			}
		} else {
			for _, f := range found {
				if f.OK {
					fmt.Fprintf(a.out, "ok     %s\n", f.What)
				} else {
					fmt.Fprintf(a.out, "fault  %s: %s\n", f.What, f.Fault)
				}
			}
		}
		if bad > 0 {
			return &badConfig{fmt.Errorf("%d of %d checks found a fault", bad, len(found))}
		}
		return nil
	}
	return c
}

// look runs every check, whatever the ones before it found.
func (a *app) look(ctx context.Context, cfg *Config, online bool) []finding {
	var out []finding
	note := func(what string, err error) {
		f := finding{What: what, OK: err == nil}
		if err != nil {
			f.Fault = err.Error()
			var h hinted
			if errors.As(err, &h) && h.hint != "" && !strings.Contains(f.Fault, "hint:") {
				f.Fault += "\n  hint: " + h.hint
			}
		}
		out = append(out, f)
	}
	note("configuration "+cfg.file, nil)
	_, err := cfg.tokenKey()
	note("token key", err)
	server, err := cfg.server()
	if cfg.SMTP.User != "" {
		note("mail password", err)
	}
	if err == nil {
		note("mail server settings", server.Check())
	}
	note("database "+cfg.Database.Path, a.lookAtDatabase(ctx, cfg))
	_, err2 := cfg.messages()
	note("messages", err2)
	if online && err == nil {
		ctx, cancel := context.WithTimeout(ctx, onlineWait)
		defer cancel()
		note("sign-in at "+server.Addr, notify.Probe(ctx, server))
	}
	return out
}

func (a *app) lookAtDatabase(ctx context.Context, cfg *Config) error {
	info, err := os.Stat(cfg.Database.Path)
	if err == nil && info.Mode().Perm()&0o077 != 0 {
		return hinted{fmt.Sprintf("can be read by others (mode %04o)", info.Mode().Perm()), "chmod 600 " + cfg.Database.Path}
	}
	if err == nil {
		// A look must not migrate: a reader opens the file as it stands.
		db, err := store.Open(cfg.Database.Path, store.Options{ReadOnly: true})
		if err != nil {
			return err
		}
		defer db.Close()
		return db.Check(ctx)
	}
	db, err := openDatabase(cfg) // it is missing, and this says so best
	if err == nil {
		err = db.Close()
	}
	return err
}
