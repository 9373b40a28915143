package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"strconv"
	"time"

	"bandbell/notify"
	"bandbell/notify/inbox"
	"bandbell/scheduler"
	"bandbell/store"
	"bandbell/templates"
)

// works are the workers of the daemon, wired to one database.
type works struct {
	scheduler *scheduler.Scheduler
	sender    *notify.Sender
	inbox     *inbox.Inbox
}

// server is the submission server as configured.
func (c *Config) server() (notify.Server, error) {
	password, err := c.password()
	if err != nil {
		return notify.Server{}, err
	}
	return notify.Server{
		Addr:           net.JoinHostPort(c.SMTP.Host, strconv.Itoa(c.SMTP.Port)),
		Security:       notify.Security(c.SMTP.Security),
		Username:       c.SMTP.User,
		Password:       notify.Secret(password),
		Hello:          c.SMTP.Hello,
		RootCAs:        c.SMTP.CAFile,
		CommandTimeout: c.SMTP.CommandTimeout,
		DotTimeout:     c.SMTP.DotTimeout,
	}, nil
}

// wire builds the workers. A scheduler's tick wakes the sender, a received
// message wakes the reader, and what the reader answers wakes the sender.
func (c *Config) wire(db *store.DB, log *slog.Logger, now func() time.Time, kick chan<- struct{}, alive func()) (works, error) {
	var w works
	server, err := c.server()
	if err != nil {
		return w, err
	}
	key, err := c.tokenKey()
	if err != nil {
		return w, err
	}
	catalog, err := c.messages()
	if err != nil {
		return w, err
	}
	wake := func() {
		select {
		case kick <- struct{}{}:
		default:
		}
	}
	w.scheduler = scheduler.New(scheduler.Config{
		Store: db, Now: now, Log: log, OnDue: wake, Alive: alive, FoldAt: c.Scheduler.FoldAt, Zone: c.Clinic.Zone,
	})
	w.sender = notify.New(notify.Config{
		Outbox: db, Server: server, Now: now, Log: log, Connections: c.SMTP.Connections, Gone: gone,
		Composer: &notify.Composer{
			Clinic: notify.Clinic{
				Name: c.Clinic.Name, From: c.Mail.From, Mailbox: c.Mail.ReplyTo,
				Phone: c.Clinic.Phone, Emergency: c.Clinic.Emergency, Notation: c.Clinic.Notation,
			},
			Texts:   notify.Messages{Catalog: catalog},
			Key:     key,
			Picture: notify.HookUp(c.Clinic.Notation),
		},
	})
	w.inbox, err = inbox.New(db, inbox.Options{
		Address: c.Mail.ReplyTo, Key: key, NotFound: store.ErrNotFound,
		MaxBytes: int64(c.Intake.MaxMessageBytes), MaxRecipients: c.Intake.MaxRecipients, MaxConns: c.Intake.MaxConnections,
		ReadTimeout: c.Intake.ReadTimeout, WriteTimeout: c.Intake.WriteTimeout,
		Now: now, Log: log, OnAnswer: wake,
	})
	return w, err
}

// gone reports that a message in flight was taken off file or moved on by
// somebody else, so that its outcome has nowhere to go.
func gone(err error) bool {
	var step *store.StepError
	return errors.Is(err, store.ErrNotFound) || errors.As(err, &step)
}

// messages are the clinic's texts: the built-in ones, with its own edited files
// laid over them.
func (c *Config) messages() (*templates.Catalog, error) {
	if c.Messages.Directory == "" {
		return templates.Load(nil)
	}
	catalog, err := templates.Load(os.DirFS(c.Messages.Directory))
	if err != nil {
		return nil, fmt.Errorf("messages in %s: %w", c.Messages.Directory, err)
	}
	return catalog, nil
}

// logger writes structured lines to w. They hold internal names only: never an
// address, a person's name or a word of a message.
func (c *Config) logger(w io.Writer) *slog.Logger {
	var level slog.Level
	_ = level.UnmarshalText([]byte(c.Log.Level)) // one of four words, checked on reading
	options := &slog.HandlerOptions{Level: level}
	if c.Log.Format == "json" {
		return slog.New(slog.NewJSONHandler(w, options))
	}
	return slog.New(slog.NewTextHandler(w, options))
}
