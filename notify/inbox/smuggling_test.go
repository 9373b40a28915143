package inbox

import (
	"strings"
	"testing"
)

// Only CRLF "." CRLF ends a message (RFC 5321 section 4.1.1.4), and a bare CR
// or LF may not stand in one (section 2.3.8). The endings are those by which
// servers were made to see two messages in one (CVE-2023-51764 and its kin).
func TestSmuggling(t *testing.T) {
	for _, ending := range []string{
		"\n.\n", "\n.\r\n", "\r\n.\n", "\r.\r", "\r\n.\r", "\r.\r\n", "\n\n.\r\n", "\r\n\x00.\r\n", "\r\r\n.\r\r\n", ".\n", "\n", "\r",
		"\r\n.\rx", "\n.\n.\r\nx", "\r\n.\r.\r\nx",
	} {
		second := "MAIL FROM:<smuggler@x.test>\r\nRCPT TO:<" + ours + ">\r\nDATA\r\nSubject: smuggled\r\n\r\nboo"
		rec := newShelf()
		addr, _ := serve(t, newInbox(t, rec))
		c := dial(t, addr)
		c.open("ana@patients.test", ours)
		c.write("Subject: first\r\n\r\nhello" + ending + second + "\r\n.\r\n")
		got := c.answer()
		stored := rec.stored()
		bare := strings.Contains(strings.ReplaceAll(ending, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(ending, "\r\n", ""), "\r")
		switch {
		case bare && (!strings.HasPrefix(got, "554 5.6.0") || len(stored) != 0):
			t.Errorf("%q: answer %q, %d stored", ending, got, len(stored))
		case !bare && (!strings.HasPrefix(got, "250") || len(stored) != 1 || stored[0].From != "ana@patients.test"):
			t.Errorf("%q: answer %q, %d stored", ending, got, len(stored))
		}
		if bare {
			c.over()
		}
	}
}

// The fault of one message is not the next one's: the connection ends, so that
// an innocent message is sent again on another.
func TestBareThenGood(t *testing.T) {
	rec := newShelf()
	addr, _ := serve(t, newInbox(t, rec))
	c := dial(t, addr)
	c.open("ana@patients.test", ours)
	c.write("Subject: x\r\n\r\nbare\nline\r\n.\r\n")
	c.want("554 5.6.0", c.answer())
	c.write("MAIL FROM:<ana@patients.test>\r\n")
	if got := c.answer(); strings.HasPrefix(got, "5") {
		t.Errorf("the next message was refused for good: %q", got)
	}
	c.over()
}
