package notify

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/templates"
)

// BenchmarkCompose makes one whole message from the clinic's texts.
func BenchmarkCompose(b *testing.B) {
	c := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()}}
	c.Clinic.Emergency = "911"
	j := nudge(1)
	j.Plan = treated()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Compose(j, noon); err != nil {
			b.Fatal(err)
		}
	}
}

// endless is an outbox with n messages that keeps nothing.
type endless struct {
	Outbox
	job  plan.Job
	left int
}

func (e *endless) Claim(_ context.Context, _ time.Time, limit int) (jobs []plan.Job, err error) {
	for ; e.left > 0 && len(jobs) < limit; e.left-- {
		jobs = append(jobs, e.job)
	}
	return jobs, nil
}
func (*endless) Composed(context.Context, int64, plan.Composed) error { return nil }
func (*endless) DotSent(context.Context, int64, time.Time) error      { return nil }
func (*endless) Accepted(context.Context, int64, time.Time) error     { return nil }

// BenchmarkDrain sends over loopback to a server that says yes, two
// connections at once, from composing to the answer; the database is left out.
func BenchmarkDrain(b *testing.B) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go agree(c)
		}
	}()
	box := &endless{job: nudge(1), left: b.N}
	box.job.Plan = treated()
	composer := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()}}
	composer.Clinic.Emergency = "911"
	s := New(Config{Outbox: box, Composer: composer, Now: (&clock{t: noon}).now,
		Server: Server{Addr: l.Addr().String(), Security: None, PerConnection: 1000}})
	b.ResetTimer()
	if sent, err := s.Drain(context.Background()); sent != b.N || err != nil {
		b.Fatalf("Drain = %d, %v", sent, err)
	}
}

// agree says yes to everything.
func agree(c net.Conn) {
	defer c.Close()
	r := bufio.NewReader(c)
	fmt.Fprint(c, "220 hi\r\n")
	body := false
	for {
		line, err := r.ReadString('\n')
		switch {
		case err != nil:
			return
		case body && line != ".\r\n":
			continue
		case body:
			body = false
		case strings.HasPrefix(line, "DATA"):
			body = true
			fmt.Fprint(c, "354 go\r\n")
			continue
		}
		fmt.Fprint(c, "250 ok\r\n")
	}
}
