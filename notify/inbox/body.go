package inbox

import (
	"bytes"
	"errors"
	"io"

	"github.com/emersion/go-smtp"
)

// What may be wrong with a body that was read to its end.
var (
	errTooLarge = &smtp.SMTPError{Code: 552, EnhancedCode: smtp.EnhancedCode{5, 3, 4}, Message: "Message is too large"}
	errLongLine = &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 6, 0}, Message: "A line is too long"}
	errNoRoom   = &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 3, 1}, Message: "Too many messages at once, try again later"}
)

// readBody reads r to its end and returns what it held. Of a body that is too
// large, has too long a line, or finds no room beside the others being taken
// in, nothing is kept, but all is read, so that the answer comes at its right
// place. Any other error is the connection's and ends it. The caller gives
// back the room it was given.
func (i *Inbox) readBody(r io.Reader) (raw []byte, room int64, err error) {
	var (
		buf   = bytes.NewBuffer([]byte{}) // an empty message is not a missing one
		wrong error
		chunk = make([]byte, 16<<10)
		line  int
		total int64
	)
	for {
		n, err := r.Read(chunk)
		total += int64(n)
		if wrong == nil && total > i.opts.MaxBytes {
			wrong = errTooLarge
		}
		if wrong == nil {
			if line = longest(chunk[:n], line, i.opts.MaxLine); line > i.opts.MaxLine {
				wrong = errLongLine
			}
		}
		if wrong == nil {
			// A buffer doubles when it is full: what it may come to hold is
			// asked for, not what it holds.
			if need := int64(buf.Len()+n) * 2; need > room {
				more := max(need-room, 64<<10)
				if i.held.Add(more) > 2*i.opts.MaxHeld {
					i.held.Add(-more)
					wrong = errNoRoom
				} else {
					room += more
				}
			}
		}
		if wrong == nil {
			buf.Write(chunk[:n])
		} else {
			buf = nil
		}
		switch {
		case err == nil:
		case errors.Is(err, io.EOF) && wrong == nil:
			return buf.Bytes(), room, nil
		case errors.Is(err, io.EOF):
			return nil, room, wrong
		case errors.Is(err, smtp.ErrDataTooLarge):
			return nil, room, errTooLarge
		case errors.Is(err, smtp.ErrTooLongLine):
			return nil, room, errLongLine
		default:
			return nil, room, err
		}
	}
}

// longest returns the length of the line that b leaves open, begun with open
// octets before it, or the first length over limit. The CRLF counts (RFC 5321
// section 4.5.3.1.6).
func longest(b []byte, open, limit int) int {
	for len(b) > 0 {
		end := bytes.IndexByte(b, '\n')
		if end < 0 {
			return open + len(b)
		}
		if open += end + 1; open > limit {
			return open
		}
		b, open = b[end+1:], 0
	}
	return open
}
