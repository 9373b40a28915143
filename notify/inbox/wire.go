package inbox

import (
	"io"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// wire is one connection as the server library sees it. It adds three rules
// that the library lacks.
//
// Once a read has failed, every later read says that the connection is over.
// Without this a time-out in the middle of a message is answered and the rest
// of the message is then taken for commands.
//
// Lines end in CRLF and in nothing else (RFC 5321 section 2.3.8). A bare CR or
// LF is noted here, on the bytes as they came, because the library drops some
// of them together with the dot before them.
//
// When the server ends, a connection between two messages is told so (421,
// RFC 5321 section 3.8) and one in the middle of a message may finish it.
type wire struct {
	net.Conn
	gone func(*wire) // called once, when it is closed and no message is in hand

	over bool // a read has failed; the reading goroutine's own
	cr   bool // the last octet read was a CR; the reading goroutine's own
	bare atomic.Bool

	mu     sync.Mutex
	ending bool // no further command is to be read
	cut    bool // nothing more is to be read, not even of this message
	closed bool
	told   bool // gone was called
	bodies int  // messages being taken in: 0 or 1
}

func (w *wire) Read(b []byte) (int, error) {
	if w.over {
		return 0, io.EOF
	}
	if w.toEnd() {
		return 0, w.end()
	}
	n, err := w.Conn.Read(b)
	w.look(b[:n])
	if err != nil {
		w.over = true
		if w.toEnd() {
			return n, w.end()
		}
	}
	return n, err
}

// look notes a CR that no LF follows and an LF that follows no CR.
func (w *wire) look(b []byte) {
	cr := w.cr
	for _, c := range b {
		if (c == '\n') != cr {
			w.bare.Store(true)
		}
		cr = c == '\r'
	}
	w.cr = cr
}

// SetReadDeadline keeps a deadline that was set to wake a reader up.
func (w *wire) SetReadDeadline(t time.Time) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ending && w.bodies == 0 {
		return nil
	}
	return w.Conn.SetReadDeadline(t)
}

// enter marks the start of a message, leave its end.
func (w *wire) enter() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.bodies++
}

func (w *wire) leave() {
	w.mu.Lock()
	w.bodies--
	w.mu.Unlock()
	w.tell()
}

// tell says that the connection is done with. A message may outlive it: it was
// read whole and is being stored.
func (w *wire) tell() {
	w.mu.Lock()
	done := w.closed && w.bodies == 0 && !w.told
	w.told = w.told || done
	w.mu.Unlock()
	if done {
		w.gone(w)
	}
}

// hangUp lets no further command in. A reader that waits for one is woken; a
// message on its way in goes on.
func (w *wire) hangUp() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.ending = true
	if w.bodies == 0 {
		// The deadline of a socket is of the real clock; any past instant
		// wakes the reader.
		w.Conn.SetReadDeadline(time.Unix(1, 0))
	}
}

func (w *wire) toEnd() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.ending && w.bodies == 0 || w.cut
}

// cutOff lets nothing more in when a message is in hand, and reports whether
// one is.
func (w *wire) cutOff() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cut = w.cut || w.bodies > 0
	return w.cut
}

// end says goodbye for the server, which would call it a time-out.
func (w *wire) end() error {
	w.over = true
	io.WriteString(w.Conn, "421 4.3.2 Closing, try again later\r\n")
	return io.EOF
}

// Close closes the connection. It is called by the library and, when the
// server ends, from outside.
func (w *wire) Close() error {
	err := w.Conn.Close()
	w.mu.Lock()
	w.closed = true
	w.mu.Unlock()
	w.tell()
	return err
}
