package inbox

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"

	"bandbell/notify/reply"
	"bandbell/scheduler/plan"
)

// lines is a log that two goroutines may write to.
type lines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// Whatever goes wrong is logged, and no line holds a word, a name or an address
// of a message.
func TestLogQuotesNothing(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	out := &lines{}
	i := newInbox(t, rec, func(o *Options) {
		o.Log = slog.New(slog.NewTextHandler(out, &slog.HandlerOptions{Level: slog.LevelDebug}))
		o.MaxLine = 1000
	})
	i.read = func(raw []byte, _ reply.Asked) reply.Reading { panic(string(raw)) }
	addr, end := serve(t, i)

	send := func(text string) string {
		c := dial(t, addr)
		c.open("zacarias@patients.test", address(t, a))
		c.write("From: Zacarias <zacarias@patients.test>\r\n\r\n" + text + "\r\n.\r\n")
		return c.answer()
	}
	rec.receive = errDisk
	if got := send("Zinnia hurts"); !strings.HasPrefix(got, "451") {
		t.Fatal(got)
	}
	rec.mu.Lock()
	rec.receive, rec.onReceive = nil, func() { panic("Zinnia hurts") }
	rec.mu.Unlock()
	if got := send("Zinnia hurts"); !strings.HasPrefix(got, "421") {
		t.Fatal(got)
	}
	rec.mu.Lock()
	rec.onReceive = nil
	rec.mu.Unlock()
	if got := send("Zinnia hurts"); !strings.HasPrefix(got, "250") {
		t.Fatal(got)
	}
	dial(t, addr).Close()
	rec.record = func(int64, plan.Heard) error { panic("Zinnia hurts") }
	if _, err := i.Step(t.Context()); err == nil || strings.Contains(err.Error(), "Zinnia") {
		t.Errorf("Step: %v", err)
	}
	rec.record = func(int64, plan.Heard) error { return errors.New("constraint failed") }
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- i.Run(ctx) }()
	for !strings.Contains(out.String(), "constraint failed") {
	}
	cancel()
	<-done
	if err := end(); err != nil {
		t.Error(err)
	}
	log := out.String()
	for _, want := range []string{"disk is full", "panic while reading a message", "id=1", "smtp server"} {
		if !strings.Contains(log, want) {
			t.Errorf("the log lacks %q:\n%s", want, log)
		}
	}
	for _, word := range []string{"Zinnia", "acarias", "patients.test", "Ana", tok(t, a), "127.0.0.1"} {
		if strings.Contains(log, word) {
			t.Errorf("the log holds %q:\n%s", word, log)
		}
	}
}
