package notify

import (
	"net"
	"sync/atomic"
	"time"
)

// wire is the connection below the SMTP client. The client sets and clears
// deadlines as it likes and has none while a body is written, so its wishes
// are ignored: the session sets one for each stage, and a write of the body
// renews it (RFC 5321 section 4.5.3.2.5 limits each block, not the whole).
type wire struct {
	net.Conn
	renew   atomic.Int64 // time limit of one Write, in ns; 0: the stage's stands
	onWrite func([]byte) // sees what is written, before TLS only; nil: nobody
	onRead  func()       // called before each Read; nil: nobody
}

func (w *wire) SetDeadline(time.Time) error      { return nil }
func (w *wire) SetReadDeadline(time.Time) error  { return nil }
func (w *wire) SetWriteDeadline(time.Time) error { return nil }

// within gives everything on the connection d from now.
func (w *wire) within(d time.Duration) { w.Conn.SetDeadline(time.Now().Add(d)) }

func (w *wire) Read(b []byte) (int, error) {
	if w.onRead != nil {
		w.onRead()
	}
	return w.Conn.Read(b)
}

func (w *wire) Write(b []byte) (int, error) {
	if d := w.renew.Load(); d > 0 {
		w.within(time.Duration(d))
	}
	if w.onWrite != nil {
		w.onWrite(b)
	}
	return w.Conn.Write(b)
}
