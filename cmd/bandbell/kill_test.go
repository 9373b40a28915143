package main

import (
	"bytes"
	"context"
	"net/mail"
	"os"
	"os/exec"
	"testing"
	"time"

	"bandbell/notify/mailtest"
)

// startProcess runs the daemon as a process of its own, so that it can be
// killed as a power cut would.
func (c *clinic) startProcess() *exec.Cmd {
	c.t.Helper()
	self, err := os.Executable()
	if err != nil {
		c.t.Fatal(err)
	}
	cmd := exec.Command(self, "run", "--config", c.config)
	cmd.Args[0] = "bandbelld" // TestMain runs main under this name
	log := &safeBuffer{}
	cmd.Stderr = log
	if err := cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
		if c.t.Failed() {
			c.t.Logf("the daemon said:\n%s", log.String())
		}
	})
	return cmd
}

// A daemon killed in the middle of a send loses nothing and repeats nothing but
// what nobody can know: where the server took the message and its answer was
// never read, one more copy with the same Message-ID and the same bytes.
func TestKilledInTheMiddleOfASend(t *testing.T) {
	tests := []struct {
		name  string
		stage string
		fault error
		want  int // copies at the server in the end
	}{
		{"before the message", mailtest.StageRcpt, mailtest.ErrHang, 1},
		{"after the message, answer never read", mailtest.StageDot, mailtest.Keep(mailtest.ErrHang), 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			reached := make(chan struct{}, 1)
			server := newServer(t, mailtest.Fault(func(stage string, n int) error {
				if stage != tt.stage || n > 1 {
					return nil
				}
				reached <- struct{}{}
				return tt.fault
			}))
			c := newClinic(t, server.Addr(), "--smtp-security", "none")
			c.enrolDue("ada@patients.test")
			first := c.startProcess()
			select {
			case <-reached:
			case <-time.After(20 * time.Second):
				t.Fatal("the daemon never came to the stage")
			}
			// Keep takes the message before it hangs; give it the time to.
			time.Sleep(200 * time.Millisecond)
			if err := first.Process.Kill(); err != nil {
				t.Fatal(err)
			}
			first.Wait()

			c.startProcess()
			ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
			defer cancel()
			var copies []mailtest.Message
			for range tt.want {
				m, err := server.Next(ctx)
				if err != nil {
					t.Fatalf("%d of %d copies came: %v", len(copies), tt.want, err)
				}
				copies = append(copies, m)
			}
			time.Sleep(500 * time.Millisecond)
			if n := server.Count(); n != tt.want {
				t.Errorf("%d copies, want %d", n, tt.want)
			}
			for _, m := range copies {
				if !bytes.Equal(m.Data, copies[0].Data) {
					t.Error("a copy differs from the first")
				}
				h, err := mail.ReadMessage(bytes.NewReader(m.Data))
				if err != nil || h.Header.Get("Message-ID") == "" {
					t.Errorf("no Message-ID: %v", err)
				}
			}
		})
	}
}
