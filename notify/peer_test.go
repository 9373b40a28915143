package notify

import (
	"bufio"
	"bytes"
	"crypto/tls"
	"encoding/base64"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// peer is a mail server that misbehaves on request. It knows just enough of
// RFC 5321 to take a message and is written for these tests alone, so that it
// shares no code with the client under test.
type peer struct {
	t        *testing.T
	listener net.Listener
	tls      *tls.Config // with implicit or offered STARTTLS
	implicit bool
	noTLS    bool // STARTTLS is stripped from EHLO
	auth     string
	offers   []string // further EHLO lines
	password string   // user:password taken; empty: any
	narrow   bool     // takes little at a time

	mu       sync.Mutex
	faults   map[string]string // step -> fault: "450 ...", "drop", "hang", "421", "reset"
	once     map[string]bool   // steps whose fault happens once only
	taken    []letter
	dials    int
	commands []string
	plain    bytes.Buffer // what came before TLS
	hold     chan struct{}
	conns    map[net.Conn]bool
	onStep   func(step string)
}

// letter is one message the peer took responsibility for.
type letter struct {
	from, to string
	data     []byte
}

// newPeer starts a plain peer that takes everything.
func newPeer(t *testing.T, set func(*peer)) *peer {
	t.Helper()
	p := &peer{t: t, faults: map[string]string{}, once: map[string]bool{}, hold: make(chan struct{}), conns: map[net.Conn]bool{}}
	if set != nil {
		set(p)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p.listener = l
	var wg sync.WaitGroup
	wg.Add(1)
	go func() {
		defer wg.Done()
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			p.mu.Lock()
			p.dials++
			p.conns[c] = true
			p.mu.Unlock()
			wg.Add(1)
			go func() { defer wg.Done(); p.serve(c) }()
		}
	}()
	t.Cleanup(func() {
		l.Close()
		close(p.hold)
		p.mu.Lock()
		for c := range p.conns {
			c.Close()
		}
		p.mu.Unlock()
		wg.Wait()
	})
	return p
}

func (p *peer) addr() string { return p.listener.Addr().String() }

func (p *peer) fault(step, what string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.faults[step] = what
}

func (p *peer) letters() []letter {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]letter{}, p.taken...)
}

func (p *peer) dialled() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.dials
}

func (p *peer) said(prefix string) (n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, c := range p.commands {
		if strings.HasPrefix(c, prefix) {
			n++
		}
	}
	return n
}

func (p *peer) clear() []byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	return bytes.Clone(p.plain.Bytes())
}

// tap records what arrives on a connection before TLS.
type tap struct {
	net.Conn
	p *peer
}

func (c tap) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.p.mu.Lock()
	c.p.plain.Write(b[:n])
	c.p.mu.Unlock()
	return n, err
}

// meet plays the fault of a step; it reports false where the connection ended.
func (p *peer) meet(step string, c net.Conn, reply string) bool {
	p.mu.Lock()
	f := p.faults[step]
	if p.once[step] {
		delete(p.faults, step)
	}
	notice := p.onStep
	p.mu.Unlock()
	if notice != nil {
		notice(step)
	}
	switch f {
	case "":
		fmt.Fprintf(c, "%s\r\n", reply)
		return true
	case "drop":
		c.Close()
		return false
	case "reset":
		if tcp, ok := c.(*net.TCPConn); ok {
			tcp.SetLinger(0)
		}
		c.Close()
		return false
	case "hang":
		<-p.hold
		return false
	case "421":
		fmt.Fprintf(c, "421 4.3.2 closing\r\n")
		c.Close()
		return false
	}
	fmt.Fprintf(c, "%s\r\n", f)
	return false
}

// refused reports whether a step has a plain refusal, after which the
// conversation goes on.
func (p *peer) talk(step string, c net.Conn, reply string) (done, on bool) {
	p.mu.Lock()
	f := p.faults[step]
	p.mu.Unlock()
	ok := p.meet(step, c, reply)
	return ok, ok || len(f) > 3 && f[3] == ' '
}

func (p *peer) serve(raw net.Conn) {
	defer raw.Close()
	raw.SetDeadline(time.Now().Add(30 * time.Second))
	if tcp, ok := raw.(*net.TCPConn); ok && p.narrow {
		tcp.SetReadBuffer(16 << 10)
	}
	var c net.Conn = raw
	secure := false
	if p.tls != nil && p.implicit {
		if p.faultOf("tls") == "hang" {
			<-p.hold
			return
		}
		t := tls.Server(tap{raw, p}, p.tls)
		if t.Handshake() != nil {
			return
		}
		c, secure = t, true
	}
	if _, on := p.talk("connect", c, "220 mail.example.org ESMTP"); !on {
		return
	}
	r := bufio.NewReader(p.reader(c, secure))
	var from, to string
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimRight(line, "\r\n")
		p.mu.Lock()
		p.commands = append(p.commands, line)
		p.mu.Unlock()
		verb, arg, _ := strings.Cut(line, " ")
		ok, on := true, true
		switch strings.ToUpper(verb) {
		case "EHLO":
			lines := append([]string{"mail.example.org"}, p.offers...)
			if p.tls != nil && !secure && !p.noTLS {
				lines = append(lines, "STARTTLS")
			}
			if p.auth != "" && (secure || p.tls == nil) {
				lines = append(lines, "AUTH "+p.auth)
			}
			lines = append(lines, "ENHANCEDSTATUSCODES")
			reply := ""
			for i, l := range lines {
				sep, end := "-", "\r\n"
				if i == len(lines)-1 {
					sep, end = " ", ""
				}
				reply += "250" + sep + l + end
			}
			_, on = p.talk("hello", c, reply)
		case "HELO":
			fmt.Fprintf(c, "250 mail.example.org\r\n")
		case "STARTTLS":
			if p.faultOf("tls") == "hang" {
				<-p.hold
				return
			}
			if ok, on = p.talk("starttls", c, "220 2.0.0 go on"); ok {
				t := tls.Server(raw, p.tls)
				if t.Handshake() != nil {
					return
				}
				c, secure = t, true
				r = bufio.NewReader(p.reader(c, true))
			}
		case "AUTH":
			on = p.signIn(c, r, arg)
		case "MAIL":
			from = between(arg)
			_, on = p.talk("mail", c, "250 2.1.0 ok")
		case "RCPT":
			to = between(arg)
			_, on = p.talk("rcpt", c, "250 2.1.5 ok")
		case "DATA":
			if ok, on = p.talk("data", c, "354 go on"); ok {
				on = p.body(c, r, from, to)
			}
		case "RSET", "NOOP":
			fmt.Fprintf(c, "250 2.0.0 ok\r\n")
		case "QUIT":
			p.meet("quit", c, "221 2.0.0 bye")
			return
		case "*":
			fmt.Fprintf(c, "501 5.7.0 cancelled\r\n")
		default:
			fmt.Fprintf(c, "500 5.5.2 what\r\n")
		}
		if !on {
			return
		}
	}
}

func (p *peer) faultOf(step string) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.faults[step]
}

func (p *peer) reader(c net.Conn, secure bool) io.Reader {
	if secure {
		return c
	}
	return tap{c, p}
}

func between(s string) string {
	_, s, _ = strings.Cut(s, "<")
	s, _, _ = strings.Cut(s, ">")
	return s
}

func (p *peer) signIn(c net.Conn, r *bufio.Reader, arg string) bool {
	mech, initial, _ := strings.Cut(arg, " ")
	raw, _ := base64.StdEncoding.DecodeString(initial)
	given := ""
	switch mech {
	case "PLAIN":
		parts := strings.Split(string(raw), "\x00")
		given = strings.Join(parts[1:], ":")
	case "LOGIN":
		fmt.Fprintf(c, "334 %s\r\n", base64.StdEncoding.EncodeToString([]byte("Password:")))
		line, err := r.ReadString('\n')
		if err != nil {
			return false
		}
		pw, _ := base64.StdEncoding.DecodeString(strings.TrimSpace(line))
		given = string(raw) + ":" + string(pw)
	}
	if p.password != "" && given != p.password {
		fmt.Fprintf(c, "535 5.7.8 no\r\n")
		return true
	}
	_, on := p.talk("auth", c, "235 2.7.0 welcome")
	return on
}

// body reads up to the dot. The fault "drop" at body ends the connection after
// the first bytes, "stop" stops reading.
func (p *peer) body(c net.Conn, r *bufio.Reader, from, to string) bool {
	switch p.faultOf("body") {
	case "drop":
		r.ReadByte()
		c.Close()
		return false
	case "reset":
		r.ReadByte()
		if tcp, ok := c.(*net.TCPConn); ok {
			tcp.SetLinger(0)
		}
		c.Close()
		return false
	case "hang":
		<-p.hold
		return false
	}
	var data bytes.Buffer
	for {
		line, err := r.ReadBytes('\n')
		if err != nil {
			return false
		}
		if bytes.Equal(line, []byte(".\r\n")) {
			break
		}
		data.Write(bytes.TrimPrefix(line, []byte(".")))
	}
	keep := func() {
		p.mu.Lock()
		p.taken = append(p.taken, letter{from, to, data.Bytes()})
		p.mu.Unlock()
	}
	switch f := p.faultOf("dot"); {
	case f == "lost": // taken, but the answer never arrives
		keep()
		c.Close()
		return false
	case f == "" || strings.HasPrefix(f, "2"):
		keep()
	}
	_, on := p.talk("dot", c, "250 2.0.0 queued")
	return on
}
