package inbox

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync/atomic"
	"time"

	"bandbell/notify/reply"
	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

// Recorder keeps messages and what they came to.
type Recorder interface {
	// Receive stores a raw message, once: the same bytes to the same
	// recipients again are not fresh and change nothing.
	Receive(ctx context.Context, in plan.Inbound) (id int64, fresh bool, err error)
	// Unread lists messages that are stored and not yet recorded, oldest first.
	Unread(ctx context.Context, limit int) ([]plan.Inbound, error)
	// AskedBySelector finds the outgoing message whose token has this
	// selector, and the cause the token was made over. The error wraps
	// Options.NotFound when there is none.
	AskedBySelector(ctx context.Context, selector string) (asked plan.Asked, cause string, err error)
	// AskedByMessageID finds the first outgoing message among these
	// Message-IDs (without brackets). The error wraps Options.NotFound when
	// there is none.
	AskedByMessageID(ctx context.Context, ids []string) (plan.Asked, error)
	// Record writes what one message came to, in one transaction, after which
	// the message is no longer unread.
	Record(ctx context.Context, id int64, h plan.Heard) error
}

// Defaults of Options.
const (
	// DefaultMaxBytes of one message. RFC 5321 section 4.5.3.1.7 asks for at
	// least 64 KiB; a reply with a photograph is a few megabytes.
	DefaultMaxBytes = 10 << 20
	// DefaultMaxHeld is what all messages being taken in at one time may hold
	// in memory.
	DefaultMaxHeld = 64 << 20
	// DefaultMaxLine of one text line. RFC 5321 section 4.5.3.1.6 has 1000,
	// and section 4.5.3.1 asks for no limit where that is possible.
	DefaultMaxLine = 32 << 10
	// DefaultMaxRecipients is the least RFC 5321 section 4.5.3.1.8 allows.
	DefaultMaxRecipients = 100
	// DefaultMaxConns is how many connections are served at one time; others
	// wait unanswered. Common practice, no source.
	DefaultMaxConns = 50
	// DefaultReadTimeout is the least wait for the next command: RFC 5321
	// section 4.5.3.2.7.
	DefaultReadTimeout = 5 * time.Minute
	// DefaultWriteTimeout of one answer. Common practice, no source.
	DefaultWriteTimeout = time.Minute
	// DefaultBodyTimeout of a whole message from 354 to its final dot. Common
	// practice, no source: 10 MB at 17 kB/s.
	DefaultBodyTimeout = 10 * time.Minute
	// DefaultGrace is how long messages on their way in may go on once the
	// listener is told to end.
	DefaultGrace = 10 * time.Second
	// DefaultPoll is how often Run looks without being told.
	DefaultPoll = 30 * time.Second
)

// Options of an Inbox. Address, Key and NotFound are required; a zero number
// takes its default.
type Options struct {
	// Address is our reply address. Mail is taken for it, for its subaddresses
	// (local+anything) and for postmaster of its domain.
	Address plan.Address
	// Key is what tokens are proved with.
	Key []byte
	// NotFound is the error of a Recorder that knows no such message; any
	// other error leaves the message unread.
	NotFound error
	// Hostname stands in the greeting; empty takes the domain of Address.
	Hostname string

	MaxBytes      int64         // octets of one message
	MaxHeld       int64         // octets of all messages being taken in; at least MaxBytes
	MaxLine       int           // octets of one text line with its CRLF
	MaxRecipients int           // of one message
	MaxConns      int           // served at one time
	ReadTimeout   time.Duration // for the next command
	WriteTimeout  time.Duration // for one answer
	BodyTimeout   time.Duration // for a whole message
	Grace         time.Duration // for messages on their way in when Serve ends
	Poll          time.Duration // between looks of Run

	// OnAnswer is called after a message was recorded that calls for an
	// automatic answer; nil is not called.
	OnAnswer func()
	// Now tells the time; nil is the real clock.
	Now func() time.Time
	// Log takes lines without any word, name or address of a message; nil
	// discards them.
	Log *slog.Logger
}

// Inbox takes mail in. Its methods may be called at the same time, but Step
// and Run are for one goroutine.
type Inbox struct {
	rec    Recorder
	opts   Options
	local  string // lower case
	domain string // lower case
	now    func() time.Time
	log    *slog.Logger
	read   func([]byte, reply.Asked) reply.Reading
	wake   chan struct{} // a message was stored
	tries  map[int64]int // failures to record, by message; Step's own
	held   atomic.Int64  // octets of bodies in memory
}

// New returns an Inbox that records with rec. The error names every option
// that is missing or wrong.
func New(rec Recorder, o Options) (*Inbox, error) {
	orInt64(&o.MaxBytes, DefaultMaxBytes)
	orInt64(&o.MaxHeld, max(DefaultMaxHeld, o.MaxBytes))
	orInt(&o.MaxLine, DefaultMaxLine)
	orInt(&o.MaxRecipients, DefaultMaxRecipients)
	orInt(&o.MaxConns, DefaultMaxConns)
	orTime(&o.ReadTimeout, DefaultReadTimeout)
	orTime(&o.WriteTimeout, DefaultWriteTimeout)
	orTime(&o.BodyTimeout, DefaultBodyTimeout)
	orTime(&o.Grace, DefaultGrace)
	orTime(&o.Poll, DefaultPoll)

	var faults []error
	fault := func(wrong bool, text string) {
		if wrong {
			faults = append(faults, errors.New(text))
		}
	}
	a, err := plan.ParseAddress(string(o.Address))
	if err != nil {
		faults = append(faults, fmt.Errorf("reply address: %w", err))
	} else if _, err := token.Address(string(a), strings.Repeat("a", token.Length)); err != nil {
		faults = append(faults, err)
	}
	fault(len(o.Key) < token.MinKey, token.ErrShortKey.Error())
	fault(o.NotFound == nil, "no error is named for an unknown message")
	fault(o.MaxBytes < 0, "the size limit is negative")
	fault(o.MaxHeld < o.MaxBytes, "all messages together may hold less than one of them")
	fault(o.MaxLine < 0, "the line limit is negative")
	fault(o.MaxRecipients < 0, "the limit of recipients is negative")
	fault(o.MaxConns < 0, "the limit of connections is negative")
	fault(o.ReadTimeout < 0 || o.WriteTimeout < 0 || o.BodyTimeout < 0 || o.Grace < 0 || o.Poll < 0, "a duration is negative")
	if len(faults) > 0 {
		return nil, fmt.Errorf("set up inbox: %w", errors.Join(faults...))
	}

	i := &Inbox{
		rec: rec, opts: o, local: strings.ToLower(a.Local()), domain: strings.ToLower(a.Domain()),
		now: o.Now, log: o.Log, read: reply.Read, wake: make(chan struct{}, 1), tries: map[int64]int{},
	}
	if i.now == nil {
		i.now = time.Now
	}
	if i.log == nil {
		i.log = slog.New(slog.DiscardHandler)
	}
	if i.opts.Hostname == "" {
		i.opts.Hostname = i.domain
	}
	return i, nil
}

// receive stores one message and wakes Run when it is a new one.
func (i *Inbox) receive(ctx context.Context, in plan.Inbound) (id int64, fresh bool, err error) {
	id, fresh, err = i.rec.Receive(ctx, in)
	if err != nil {
		return 0, false, fmt.Errorf("store message: %w", err)
	}
	if fresh {
		select {
		case i.wake <- struct{}{}:
		default:
		}
	}
	return id, fresh, nil
}

func orInt64(v *int64, d int64) {
	if *v == 0 {
		*v = d
	}
}

func orInt(v *int, d int) {
	if *v == 0 {
		*v = d
	}
}

func orTime(v *time.Duration, d time.Duration) {
	if *v == 0 {
		*v = d
	}
}
