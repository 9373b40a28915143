package inbox

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-smtp"
	"golang.org/x/net/netutil"
)

// Serve takes mail in over SMTP on l until ctx ends, and closes l. At the end
// connections between two messages are told to come back later, messages on
// their way in have Options.Grace to arrive, and Serve returns nil when the
// last one is stored or given up. The error is that of a listener that failed.
//
// There is no sign-in, no relaying and no encryption: it stands behind the
// clinic's own mail server, or takes mail for one domain from any.
func (i *Inbox) Serve(ctx context.Context, l net.Listener) error {
	d := &door{
		Listener: netutil.LimitListener(l, i.opts.MaxConns),
		open:     map[*wire]bool{},
	}
	store := context.WithoutCancel(ctx)
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) {
		w, ok := c.Conn().(*wire)
		if !ok {
			return nil, errBroken
		}
		return &session{inbox: i, wire: w, store: store}, nil
	}))
	srv.Domain = i.opts.Hostname
	srv.MaxRecipients = i.opts.MaxRecipients
	// The library refuses a message of exactly its limit, and one with a line
	// over its limit without reading the rest: both are checked by readBody,
	// and here only bound what may be held.
	srv.MaxMessageBytes = i.opts.MaxBytes + 1
	srv.MaxLineLength = i.opts.MaxLine + 64<<10
	srv.ReadTimeout = i.opts.ReadTimeout
	srv.WriteTimeout = i.opts.WriteTimeout
	srv.EnableSMTPUTF8 = true
	srv.ErrorLog = quietLog{i.log}

	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(d) }()
	var err error
	select {
	case err = <-failed:
		err = fmt.Errorf("take in mail: %w", err)
	case <-ctx.Done():
	}
	d.end(i.opts.Grace)
	srv.Close()
	d.wait()
	return err
}

// door is a listener that knows what is open, because the library's own way to
// end either waits for idle connections or does not close them.
type door struct {
	net.Listener
	mu     sync.Mutex
	open   map[*wire]bool
	ending bool
	none   sync.WaitGroup // connections not yet done with
}

// Accept waits for the next connection.
func (d *door) Accept() (net.Conn, error) {
	c, err := d.Listener.Accept()
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ending {
		c.Close()
		return nil, net.ErrClosed
	}
	w := &wire{Conn: c, gone: d.gone}
	d.open[w] = true
	d.none.Add(1)
	return w, nil
}

func (d *door) gone(w *wire) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.open, w)
	d.none.Done()
}

// end lets nobody in any more and waits for those inside, up to grace.
func (d *door) end(grace time.Duration) {
	d.mu.Lock()
	d.ending = true
	open := make([]*wire, 0, len(d.open))
	for w := range d.open {
		open = append(open, w)
	}
	d.mu.Unlock()
	d.Close()
	for _, w := range open {
		w.hangUp()
	}
	left := make(chan struct{})
	go func() {
		d.none.Wait()
		close(left)
	}()
	select {
	case <-left:
	case <-time.After(grace):
		for _, w := range open {
			w.Close()
		}
	}
}

// wait returns when no message is being stored any more.
func (d *door) wait() { d.none.Wait() }

// quietLog passes the library's lines on without what they quote: the address
// of a peer, or a panic's value, which may hold what a patient wrote.
type quietLog struct{ log *slog.Logger }

func (q quietLog) Printf(format string, v ...any) {
	for _, a := range v {
		if err, ok := a.(error); ok && errors.Is(err, net.ErrClosed) {
			return
		}
	}
	fault, _, _ := strings.Cut(format, "%")
	q.log.Warn("smtp server", "fault", strings.TrimRight(fault, " :"))
}

func (q quietLog) Println(...any) { q.log.Warn("smtp server", "fault", "unnamed") }
