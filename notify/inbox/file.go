package inbox

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/mail"

	"bandbell/scheduler/plan"
)

// File stores one message from r as if it had come by mail; Step then reads it
// like any other. Lines may end in LF. The envelope is taken from the header:
// Return-Path or else From for the sender, Delivered-To and its like for the
// recipients; the topmost Received says when it came, so that a message kept
// for a week tells of that week. id is the message's number; fresh is false
// when it was on file already. name stands in errors, which say what is wrong
// with the file.
func (i *Inbox) File(ctx context.Context, r io.Reader, name string) (id int64, fresh bool, err error) {
	raw, err := io.ReadAll(io.LimitReader(r, i.opts.MaxBytes+1))
	switch {
	case err != nil:
		return 0, false, fmt.Errorf("%s: read message: %w", name, err)
	case int64(len(raw)) > i.opts.MaxBytes:
		return 0, false, fmt.Errorf("%s: the message is larger than %d octets; raise the size limit or take out its attachments", name, i.opts.MaxBytes)
	case len(bytes.TrimSpace(raw)) == 0:
		return 0, false, fmt.Errorf("%s: the file is empty; give one whole message with its header", name)
	}
	// A file saved on this side has LF alone; with CRLF it is the same octets
	// as the message by mail and is known for it. A mixture is left as it is.
	if !bytes.Contains(raw, []byte("\r\n")) {
		raw = bytes.ReplaceAll(raw, []byte("\n"), []byte("\r\n"))
	}
	h := scan(raw)
	in := plan.Inbound{Raw: raw, Received: i.now().UTC(), Source: "file"}
	if !h.taken.IsZero() && h.taken.Before(in.Received) {
		in.Received = h.taken.UTC()
	}
	for _, v := range h.delivered {
		if a, err := mail.ParseAddress(v); err == nil {
			in.To = append(in.To, a.Address)
		}
	}
	from := h.path
	if from == "" {
		from = h.from
	}
	if from != "<>" {
		if list, err := mail.ParseAddressList(from); err == nil {
			in.From = list[0].Address
		}
	}
	id, fresh, err = i.receive(ctx, in)
	if err != nil {
		return 0, false, fmt.Errorf("%s: %w", name, err)
	}
	return id, fresh, nil
}
