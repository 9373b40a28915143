package main

import (
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The service manager is told READY once the daemon listens, gets signs of life
// at half its interval, and is told STOPPING (sd_notify(3)).
func TestServiceManagerIsTold(t *testing.T) {
	dir, err := os.MkdirTemp("", "sd") // a socket's path has at most 107 octets
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, "s")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	t.Setenv("NOTIFY_SOCKET", name)
	t.Setenv("WATCHDOG_USEC", "200000")
	t.Setenv("WATCHDOG_PID", "")

	server := newServer(t)
	c := newClinic(t, server.Addr(), "--smtp-security", "none")
	stop := c.start()
	said := func() string {
		b := make([]byte, 1000)
		if err := socket.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
			t.Fatal(err)
		}
		n, err := socket.Read(b)
		if err != nil {
			t.Fatal(err)
		}
		return string(b[:n])
	}
	if got := said(); !strings.HasPrefix(got, "READY=1\n") {
		t.Errorf("first word %q", got)
	}
	conn, err := net.Dial("tcp", c.intake)
	if err != nil {
		t.Errorf("it said READY and does not listen: %v", err)
	} else {
		conn.Close()
	}
	for range 2 {
		if got := said(); got != "WATCHDOG=1" {
			t.Errorf("sign of life %q", got)
		}
	}
	go stop()
	for {
		got := said()
		if strings.HasPrefix(got, "STOPPING=1") {
			break
		}
		if got != "WATCHDOG=1" {
			t.Errorf("last word %q", got)
		}
	}
	stop()
}
