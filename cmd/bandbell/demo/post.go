package demo

import (
	"bytes"
	"container/heap"
	"context"
	"fmt"
	"html"
	"io"
	"mime"
	"net"
	"net/smtp"
	"strings"
	"time"

	"bandbell/notify/mailtest"

	"github.com/emersion/go-message/mail"
)

// received is a message as it lies in a person's mailbox.
type received struct {
	subject, text, messageID, replyTo string
	to                                string
	returnPath                        string
}

// open reads a message as a mail program would.
func open(m mailtest.Message) (received, error) {
	r, err := mail.CreateReader(bytes.NewReader(m.Data))
	if err != nil {
		return received{}, fmt.Errorf("open a message: %w", err)
	}
	out := received{returnPath: m.From, to: m.To[0]}
	if out.subject, err = r.Header.Subject(); err != nil {
		return out, fmt.Errorf("open a message: %w", err)
	}
	if out.messageID, err = r.Header.MessageID(); err != nil {
		return out, fmt.Errorf("open a message: %w", err)
	}
	if list, err := r.Header.AddressList("Reply-To"); err == nil && len(list) > 0 {
		out.replyTo = list[0].Address
	}
	for {
		part, err := r.NextPart()
		if err != nil {
			return out, nil
		}
		if t, _, _ := mime.ParseMediaType(part.Header.Get("Content-Type")); t == "text/plain" && out.text == "" {
			b, err := io.ReadAll(part.Body)
			if err != nil {
				return out, fmt.Errorf("open a message: %w", err)
			}
			out.text = strings.ReplaceAll(string(b), "\r\n", "\n")
		}
	}
}

// letter is a message on its way to the clinic.
type letter struct {
	at       time.Time
	from, to string // envelope; an empty from is the null path
	raw      []byte
	text     string // what the person wrote, to be shown
	seq      int    // letters of one moment arrive in the order they were written
}

// postbag holds letters by the moment they arrive.
type postbag []letter

func (b postbag) Len() int { return len(b) }
func (b postbag) Less(i, j int) bool {
	if !b[i].at.Equal(b[j].at) {
		return b[i].at.Before(b[j].at)
	}
	return b[i].seq < b[j].seq
}
func (b postbag) Swap(i, j int) { b[i], b[j] = b[j], b[i] }
func (b *postbag) Push(x any)   { *b = append(*b, x.(letter)) }
func (b *postbag) Pop() any {
	last := (*b)[len(*b)-1]
	*b = (*b)[:len(*b)-1]
	return last
}

// put adds a letter.
func (b *postbag) put(l letter) {
	heap.Push(b, l)
}

// due takes the next letter that has arrived by now.
func (b *postbag) due(now time.Time) (letter, bool) {
	if len(*b) == 0 || (*b)[0].at.After(now) {
		return letter{}, false
	}
	return heap.Pop(b).(letter), true
}

// write makes the letter in which a person answers a message.
func write(m received, a answer, at time.Time, seq int) letter {
	l := letter{at: at, from: m.to, to: m.replyTo, text: a.text, seq: seq}
	var b bytes.Buffer
	head := func(k, v string) { fmt.Fprintf(&b, "%s: %s\r\n", k, v) }
	head("From", "<"+m.to+">")
	head("To", "<"+m.replyTo+">")
	head("Date", at.Format(time.RFC1123Z))
	head("Message-ID", fmt.Sprintf("<%d.%d@mail.patients.example.org>", at.Unix(), seq))
	head("MIME-Version", "1.0")
	quoted := strings.TrimRight(m.text, "\n")
	attribution := fmt.Sprintf("On %s, Fern Street Orthodontics wrote:", at.Add(-a.after).Format("Mon, 2 Jan 2006 at 15:04"))
	switch {
	case a.auto:
		head("Subject", "Automatic reply: "+mime.QEncoding.Encode("utf-8", m.subject))
		head("Auto-Submitted", "auto-replied")
		head("In-Reply-To", "<"+m.messageID+">")
		l.from = ""
		text(&b, "text/plain", a.text)
	case a.press:
		// A pressed button opens a new message, without In-Reply-To.
		_, rest, _ := strings.Cut(m.replyTo, "+")
		token, _, _ := strings.Cut(rest, "@")
		head("Subject", "[ref "+token+"]")
		text(&b, "text/plain", a.text+"\n\nRef: "+token)
	case a.html:
		answered(head, m)
		text(&b, "text/html", "<div dir=\"ltr\">"+html.EscapeString(a.text)+"</div><br><div class=\"gmail_quote\"><div dir=\"ltr\" class=\"gmail_attr\">"+
			html.EscapeString(attribution)+"<br></div><blockquote class=\"gmail_quote\">"+strings.ReplaceAll(html.EscapeString(quoted), "\n", "<br>\n")+"</blockquote></div>")
	default:
		answered(head, m)
		text(&b, "text/plain", a.text+"\n\n"+attribution+"\n> "+strings.ReplaceAll(quoted, "\n", "\n> "))
	}
	l.raw = b.Bytes()
	return l
}

func answered(head func(k, v string), m received) {
	head("Subject", "Re: "+mime.QEncoding.Encode("utf-8", m.subject))
	head("In-Reply-To", "<"+m.messageID+">")
	head("References", "<"+m.messageID+">")
}

func text(b *bytes.Buffer, kind, body string) {
	fmt.Fprintf(b, "Content-Type: %s; charset=utf-8\r\nContent-Transfer-Encoding: 8bit\r\n\r\n%s\r\n", kind, strings.ReplaceAll(body, "\n", "\r\n"))
}

// bounce makes the report a mail server sends back for an address that does
// not exist (RFC 3464).
func bounce(m received, at time.Time, seq int) letter {
	raw := fmt.Sprintf(`From: Mail Delivery System <MAILER-DAEMON@patients.example.org>
To: <%[1]s>
Date: %[2]s
Message-ID: <bounce.%[3]d@patients.example.org>
Subject: Undelivered Mail Returned to Sender
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="b"

--b
Content-Type: text/plain

Your message could not be delivered: there is no such mailbox here.
--b
Content-Type: message/delivery-status

Reporting-MTA: dns; patients.example.org

Final-Recipient: rfc822; %[4]s
Action: failed
Status: 5.1.1
Diagnostic-Code: smtp; 550 5.1.1 User unknown

--b
Content-Type: text/rfc822-headers

Message-ID: <%[5]s>

--b--
`, m.returnPath, at.Format(time.RFC1123Z), seq, m.to, m.messageID)
	return letter{at: at, to: m.returnPath, raw: []byte(strings.ReplaceAll(raw, "\n", "\r\n")), seq: seq}
}

// carrier hands letters to the clinic's mail server over one SMTP connection.
type carrier struct{ client *smtp.Client }

func dialClinic(ctx context.Context, addr string) (*carrier, error) {
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("reach the clinic's mail server: %w", err)
	}
	c, err := smtp.NewClient(conn, "127.0.0.1")
	if err != nil {
		return nil, fmt.Errorf("greet the clinic's mail server: %w", err)
	}
	return &carrier{c}, nil
}

// deliver returns once the clinic's server has answered 250.
func (c *carrier) deliver(l letter) error {
	if err := c.client.Mail(l.from); err != nil {
		return fmt.Errorf("deliver a reply: %w", err)
	}
	if err := c.client.Rcpt(l.to); err != nil {
		return fmt.Errorf("deliver a reply: %w", err)
	}
	w, err := c.client.Data()
	if err != nil {
		return fmt.Errorf("deliver a reply: %w", err)
	}
	if _, err := w.Write(l.raw); err != nil {
		return fmt.Errorf("deliver a reply: %w", err)
	}
	if err := w.Close(); err != nil {
		return fmt.Errorf("deliver a reply: %w", err)
	}
	return nil
}

func (c *carrier) close() { c.client.Quit() }
