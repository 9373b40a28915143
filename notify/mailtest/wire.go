package mailtest

import (
	"errors"
	"fmt"
	"net"
	"sync/atomic"

	"github.com/emersion/go-smtp"
)

// listener takes connections for the SMTP library, after asking about faults.
type listener struct {
	net.Listener
	server *Server
}

func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		w := &wire{Conn: c, server: l.server}
		if !l.server.hold(w) {
			c.Close()
			continue
		}
		fault := l.server.ask(StageConnect)
		if fault == nil {
			return w, nil
		}
		// A hung client must not keep the next one waiting.
		if !l.server.enter() {
			w.Close()
			continue
		}
		go func() {
			defer l.server.running.Done()
			l.server.turnAway(w, fault)
		}()
	}
}

// turnAway carries out a fault on a connection that the SMTP library will never
// see.
func (s *Server) turnAway(w *wire, fault error) {
	defer w.Close()
	var reply *smtp.SMTPError
	if err := s.commit(w, fault); errors.As(err, &reply) && s.opts.security != implicitTLS {
		// The connection may be closed already, which is the fault asked for.
		_, _ = fmt.Fprintf(w, "%d %s\r\n", reply.Code, reply.Message)
	}
}

func (s *Server) hold(w *wire) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.conns[w] = struct{}{}
	return true
}

// wire is the TCP connection below SMTP and, where there is one, below TLS, so
// that it can be cut without a word of either.
type wire struct {
	net.Conn
	server *Server
	last   atomic.Bool // close once the next bytes are out
}

func (w *wire) Write(b []byte) (int, error) {
	n, err := w.Conn.Write(b)
	if w.last.Load() {
		w.Close()
	}
	return n, err
}

func (w *wire) Close() error {
	w.server.mu.Lock()
	delete(w.server.conns, w)
	w.server.mu.Unlock()
	return w.Conn.Close()
}

func (w *wire) closeAfterWrite() { w.last.Store(true) }

func (w *wire) reset() {
	if tcp, ok := w.Conn.(*net.TCPConn); ok {
		// Where the system refuses, an ordinary close is what is left.
		_ = tcp.SetLinger(0)
	}
	w.Close()
}
