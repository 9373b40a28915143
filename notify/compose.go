package notify

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"github.com/emersion/go-message"

	"bandbell/scheduler/plan"
)

// Clinic is who writes.
type Clinic struct {
	Name     string        // in From and in the texts
	From     plan.Address  // the address in From
	Mailbox  plan.Address  // takes replies and bounces at local+TOKEN@domain
	Notation plan.Notation // how teeth are numbered; empty: ISO

	Phone     string // printed in the texts
	Emergency string // the number printed where lives may depend on it
}

// Composer turns a job into a message.
type Composer struct {
	Clinic Clinic
	Texts  Texts
	Key    []byte // of the reply tokens and Message-IDs; at least token.MinKey bytes

	// Picture draws prescriptions as a PNG; nil: no pictures. It goes with
	// wear-start messages only, and one that cannot be drawn is left out: the
	// words are complete without.
	Picture func(bands []plan.Prescription, lang string) ([]byte, error)
}

// Compose makes the message a job asks for, dated at. The same job, texts and
// instant always make the same bytes: the boundary comes from the Message-ID.
// Lines end in CRLF, hold ASCII only and have at most 76 characters in the
// body (RFC 2045 section 6.7). A *ValueError says that a value cannot stand in
// a header; any other error that the texts could not be made.
func (c *Composer) Compose(job plan.Job, at time.Time) (plan.Composed, error) {
	id, err := c.identify(job)
	if err != nil {
		return plan.Composed{}, err
	}
	ask, err := c.request(job, id)
	if err != nil {
		return plan.Composed{}, fmt.Errorf("make the texts: %w", err)
	}
	pic := c.picture(job, id)
	ask.Picture = pic.id
	text, err := c.Texts.Render(ask)
	if err != nil {
		return plan.Composed{}, fmt.Errorf("make the texts: %w", err)
	}
	fields, err := c.fields(job, id, text, at)
	if err != nil {
		return plan.Composed{}, err
	}
	raw, err := assemble(fields, id.messageID, text, pic)
	if err != nil {
		return plan.Composed{}, fmt.Errorf("write message: %w", err)
	}
	if err := checkWire(raw, job.To.Address.ASCII()); err != nil {
		return plan.Composed{}, err
	}
	return plan.Composed{Bytes: raw, MessageID: id.messageID, Selector: id.selector, Version: text.Version}, nil
}

// envelope is the path a job's message travels. Bounces come back to the token
// address, so that they name the message; an answer has the null path, so that
// nothing answers it (RFC 3834 section 3.3).
func (c *Composer) envelope(job plan.Job, raw []byte) (envelope, error) {
	e := envelope{to: onWire(job.To.Address), bytes: raw}
	if job.Cause == plan.CauseAnswer {
		return e, nil
	}
	id, err := c.identify(job)
	e.from = id.reply
	return e, err
}

// assemble writes the parts: plain text first, since the last part is the
// preferred one (RFC 2046 section 5.1.4).
func assemble(fields []field, messageID string, text Text, pic picture) ([]byte, error) {
	var top message.Header
	top.SetContentType("multipart/alternative", map[string]string{"boundary": boundary("alternative", messageID)})
	top.AddRaw([]byte("MIME-Version: 1.0\r\n"))
	for i := len(fields) - 1; i >= 0; i-- { // the library puts the newest field on top
		if f := fields[i]; f.name == "Message-ID" {
			top.AddRaw([]byte(f.name + ": " + f.value + "\r\n")) // spelt as the standard does
		} else {
			top.Add(f.name, f.value)
		}
	}
	var buf bytes.Buffer
	w, err := message.CreateWriter(&buf, top)
	if err != nil {
		return nil, err
	}
	if err := writeText(w, "text/plain", text.Plain); err != nil {
		return nil, err
	}
	switch {
	case text.HTML == "":
	case pic.png == nil:
		err = writeText(w, "text/html", text.HTML)
	default:
		err = writeRelated(w, messageID, text.HTML, pic)
	}
	if err == nil {
		err = w.Close()
	}
	return buf.Bytes(), err
}

// boundary parts the parts of one message: always the same for it, and "=_" in
// it is nothing that quoted-printable writes (RFC 2045 section 6.7).
func boundary(use, messageID string) string {
	sum := sha256.Sum256([]byte(use + " " + messageID))
	return "=_" + hex.EncodeToString(sum[:12])
}

func writeText(w *message.Writer, kind, body string) error {
	var h message.Header
	h.Set("Content-Transfer-Encoding", "quoted-printable")
	h.SetContentType(kind, map[string]string{"charset": "utf-8"})
	return writePart(w, h, []byte(lineEnds.Replace(body)))
}

func writePart(w *message.Writer, h message.Header, body []byte) error {
	part, err := w.CreatePart(h)
	if err != nil {
		return err
	}
	if _, err := part.Write(body); err != nil {
		return err
	}
	return part.Close()
}

// lineEnds makes every line end the one the encoder turns into CRLF. It would
// make two of a lone CR, or lose what follows one.
var lineEnds = strings.NewReplacer("\r\n", "\n", "\r", "\n")

// maxLine is the longest line a message may have without its CRLF (RFC 5322
// section 2.1.1).
const maxLine = 998

// checkWire is the last look at a message before it is stored: CR and LF only
// as CRLF (RFC 5322 section 2.3; a lone one is how mail is smuggled), no line
// too long, no NUL, and ASCII only unless the address itself is not.
func checkWire(raw []byte, ascii bool) error {
	line := 0
	for i, b := range raw {
		switch {
		case b == '\r' && (i+1 == len(raw) || raw[i+1] != '\n'), b == '\n' && (i == 0 || raw[i-1] != '\r'):
			return fmt.Errorf("message has a lone line end at octet %d", i)
		case b == 0:
			return fmt.Errorf("message has a NUL at octet %d", i)
		case b >= 0x80 && ascii:
			return fmt.Errorf("message is not 7bit at octet %d", i)
		case b == '\n':
			line = 0
			continue
		case b != '\r':
			line++
		}
		if line > maxLine {
			return fmt.Errorf("message has a line of more than %d octets ending at octet %d", maxLine, i)
		}
	}
	return nil
}
