package notify

import (
	"errors"
	"log/slog"
	"math/rand/v2"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Defaults of a Sender.
const (
	defaultConnections = 2
	defaultEvery       = 15 * time.Second // between looks when nobody kicks
	batchPerConnection = 10               // messages claimed at once for each connection
)

// Config is what a Sender needs.
type Config struct {
	Outbox   Outbox
	Composer *Composer
	Server   Server
	Now      func() time.Time // decides due, until and dates; nil: time.Now

	// Gone reports whether an error of the outbox says that a row is gone or
	// final, so that writing its outcome again cannot help. Nil: none says so.
	Gone func(error) bool

	Connections int           // at once; 0: 2
	PerMinute   int           // most messages a minute over all connections; 0: no limit
	Every       time.Duration // between looks in Run; 0: 15 s
	Grace       time.Duration // for an answer to a dot after we were told to stop; 0: 20 s
	Log         *slog.Logger  // nil: nothing is logged
}

// Sender drains the outbox. One of its Drain or Run calls works at a time.
type Sender struct {
	outbox   Outbox
	composer *Composer
	server   Server
	now      func() time.Time
	lanes    int
	every    time.Duration
	grace    time.Duration
	log      *slog.Logger
	pace     *rate.Limiter
	breaker  breaker
	books    books

	turn sync.Mutex        // one drain at a time
	roll func() float64    // jitter in [0, 1)
	at   func(step string) // called at each step that matters; tests only
}

// New makes a Sender. It opens nothing; Config.Server.Check tells whether the
// settings can work.
func New(c Config) *Sender {
	s := &Sender{
		outbox: c.Outbox, composer: c.Composer, server: c.Server, now: c.Now, lanes: c.Connections,
		every: c.Every, grace: c.Grace, log: c.Log, roll: rand.Float64, at: func(string) {},
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.lanes < 1 {
		s.lanes = defaultConnections
	}
	if s.every <= 0 {
		s.every = defaultEvery
	}
	if s.grace <= 0 {
		s.grace = defaultGrace
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if c.PerMinute > 0 {
		s.pace = rate.NewLimiter(rate.Limit(float64(c.PerMinute)/60), 1)
	}
	s.books.outbox, s.books.gone = c.Outbox, c.Gone
	return s
}

// Health says why nothing leaves at the moment: a *HeldError while sending is
// paused, or an error while an outcome waits to be written. Nil is well.
func (s *Sender) Health() error {
	var err error
	if held := s.breaker.standing(s.now()); held != nil {
		err = held
	}
	return errors.Join(err, s.books.trouble())
}

// Resume ends a pause, after the settings were changed.
func (s *Sender) Resume() { s.breaker.reset() }
