package reply

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestRFC5322 reads the forms of the examples in RFC 5322 appendix A: the
// fields and values are those of the sections named (from memory).
func TestRFC5322(t *testing.T) {
	tests := []struct {
		section, header string
		from            string
		date            string
		refs            []string
		to              []string
	}{
		{"A.1.1", "From: John Doe <jdoe@machine.example>\r\nTo: Mary Smith <mary@example.net>\r\nSubject: Saying Hello\r\nDate: Fri, 21 Nov 1997 09:55:06 -0600\r\nMessage-ID: <1234@local.machine.example>\r\n",
			"jdoe@machine.example", "1997-11-21T15:55:06Z", nil, []string{"mary@example.net"}},
		{"A.1.2", "From: \"Joe Q. Public\" <john.q.public@example.com>\r\nTo: Mary Smith <mary@x.test>, jdoe@example.org, Who? <one@y.test>\r\nCc: <boss@nil.test>, \"Giant; \\\"Big\\\" Box\" <sysservices@example.net>\r\nDate: Tue, 1 Jul 2003 10:52:37 +0200\r\nMessage-ID: <5678.21-Nov-1997@example.com>\r\n",
			"john.q.public@example.com", "2003-07-01T08:52:37Z", nil, []string{"mary@x.test", "jdoe@example.org", "one@y.test", "boss@nil.test", "sysservices@example.net"}},
		{"A.2", "From: John Doe <jdoe@machine.example>\r\nTo: \"Mary Smith: Personal Account\" <smith@home.example>\r\nSubject: Re: Saying Hello\r\nDate: Fri, 21 Nov 1997 11:00:00 -0600\r\nMessage-ID: <abcd.1234@local.machine.test>\r\nIn-Reply-To: <3456@example.net>\r\nReferences: <1234@local.machine.example> <3456@example.net>\r\n",
			"jdoe@machine.example", "1997-11-21T17:00:00Z", []string{"1234@local.machine.example", "3456@example.net"}, []string{"smith@home.example"}},
		{"A.5", "From: Pete(A nice \\) chap) <pete(his account)@silly.test(his host)>\r\nTo: jdoe@one.test\r\nDate: Thu,\r\n      13\r\n        Feb\r\n          1969\r\n      23:32\r\n               -0330 (Newfoundland Time)\r\nMessage-ID:              <testabcd.1234@silly.test>\r\n",
			"pete@silly.test", "1969-02-14T03:02:00Z", nil, []string{"jdoe@one.test"}},
		{"A.6.2", "From: Joe Q. Public <john.q.public@example.com>\r\nTo: Mary Smith <mary@x.test>\r\nDate: Tue, 1 Jul 2003 10:52:37 GMT\r\n",
			"john.q.public@example.com", "2003-07-01T10:52:37Z", nil, []string{"mary@x.test"}},
	}
	for _, tt := range tests {
		r := Read([]byte(tt.header+"\r\nyes\r\n"), Asked{})
		if r.Envelope.From != tt.from {
			t.Errorf("%s: from %q, want %q", tt.section, r.Envelope.From, tt.from)
		}
		if got := r.Envelope.Date.UTC().Format(time.RFC3339); got != tt.date {
			t.Errorf("%s: date %s, want %s", tt.section, got, tt.date)
		}
		if diff := cmp.Diff(tt.refs, r.Envelope.References); diff != "" {
			t.Errorf("%s: references %s", tt.section, diff)
		}
		if diff := cmp.Diff(tt.to, r.Envelope.Recipients); diff != "" {
			t.Errorf("%s: recipients %s", tt.section, diff)
		}
		if r.Changed != Yes {
			t.Errorf("%s: body not read: %q", tt.section, r.Text)
		}
	}
}

// TestRFC2047 decodes the encoded words of RFC 2047 section 8, whose display
// the section gives (from memory).
func TestRFC2047(t *testing.T) {
	for in, want := range map[string]string{
		"(=?ISO-8859-1?Q?a?=)":                     "(a)",
		"(=?ISO-8859-1?Q?a?= b)":                   "(a b)",
		"(=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=)":  "(ab)",
		"(=?ISO-8859-1?Q?a?=  =?ISO-8859-1?Q?b?=)": "(ab)",
		"(=?ISO-8859-1?Q?a_b?=)":                   "(a b)",
		"(=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=)": "(a b)",
		"=?ISO-8859-1?Q?Keld_J=F8rn_Simonsen?=":    "Keld Jørn Simonsen",
		"=?utf-8?q?a=0D=0ABcc:x?=":                 "a Bcc:x",
	} {
		if got := decodeWords(in); got != want {
			t.Errorf("%s: %q, want %q", in, got, want)
		}
	}
}

// TestRFC3676 joins soft lines by RFC 3676 sections 4.1-4.4: a line that ends
// in a space flows, quote depth by depth; one space of stuffing comes off; the
// signature's "-- " stands alone; with DelSp the joining space goes too.
func TestRFC3676(t *testing.T) {
	tests := []struct {
		in    string
		delsp bool
		want  string
	}{
		{"yes \nchanged\n", false, "yes changed\n"},
		{"yes\nchanged\n", false, "yes\nchanged\n"},
		{"> thou art \n> a villain\n", false, "> thou art a villain\n"},
		{"> a \nb\n", false, "> a \nb\n"},
		{" From here\n", false, "From here\n"},
		{"yes\n-- \nMaya\n", false, "yes\n-- \nMaya\n"},
		{"yes \n-- \nMaya\n", false, "yes \n-- \nMaya\n"},
		{"ye \ns\n", true, "yes\n"},
	}
	for _, tt := range tests {
		if got := unflow(tt.in, tt.delsp); got != tt.want {
			t.Errorf("%q: %q, want %q", tt.in, got, tt.want)
		}
	}
}

// TestRFC3464 reads reports of the shapes of RFC 3464 appendix E: one
// recipient, several of which one failed, and a delay.
func TestRFC3464(t *testing.T) {
	wrap := func(fields string) []byte {
		return []byte("From: Mail Delivery Subsystem <MAILER-DAEMON@host.example>\r\nTo: owner@clinic.example\r\nSubject: Returned mail\r\nMIME-Version: 1.0\r\nContent-Type: multipart/report; report-type=delivery-status;\r\n boundary=\"B\"\r\n\r\n--B\r\n\r\n   ----- The following addresses had delivery problems -----\r\n--B\r\nContent-Type: message/delivery-status\r\n\r\n" +
			strings.ReplaceAll(fields, "\n", "\r\n") + "\r\n--B\r\nContent-Type: message/rfc822\r\n\r\nMessage-ID: <n@clinic.example>\r\n\r\nhi\r\n--B--\r\n")
	}
	tests := []struct {
		name, fields string
		want         Bounce
	}{
		{"a simple report", "Reporting-MTA: dns; cs.host.example\n\nOriginal-Recipient: rfc822;louisl@larry.example\nFinal-Recipient: rfc822;louisl@larry.example\nAction: failed\nStatus: 4.0.0\nDiagnostic-Code: smtp; 426 connection timed out\nLast-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400\n",
			Bounce{Recipient: "louisl@larry.example", Class: "temporary", Status: "4.0.0", Diagnostic: "426 connection timed out", Cause: CauseNetwork, MessageID: "n@clinic.example"}},
		{"several recipients, one failed", "Reporting-MTA: dns; cs.host.example\n\nFinal-Recipient: rfc822;arathib@v.example\nAction: delayed\nStatus: 4.4.7\n\nFinal-Recipient: rfc822;johnh@hpnjld.example\nAction: failed\nStatus: 5.1.1\nDiagnostic-Code: smtp; 550 user unknown\n",
			Bounce{Recipient: "johnh@hpnjld.example", Class: "permanent", Status: "5.1.1", Diagnostic: "550 user unknown", Cause: CauseAddress, MessageID: "n@clinic.example"}},
		{"a delay", "Reporting-MTA: dns; sun2.host.example\n\nFinal-Recipient: rfc822; thomas@de-montfort.example\nAction: delayed\nStatus: 4.4.7\n",
			Bounce{Recipient: "thomas@de-montfort.example", Class: "temporary", Status: "4.4.7", Cause: CauseNetwork, MessageID: "n@clinic.example"}},
	}
	for _, tt := range tests {
		r := Read(wrap(tt.fields), Asked{})
		if r.Kind != KindBounce || r.Bounce == nil {
			t.Errorf("%s: kind %s", tt.name, r.Kind)
			continue
		}
		got := *r.Bounce
		if tt.want.Diagnostic == "" {
			got.Diagnostic = ""
		}
		if diff := cmp.Diff(tt.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.name, diff)
		}
	}
}

// TestClassesOfCodes: RFC 3463 section 3 gives the subjects; which of them
// speak against the address is this package's reading of it.
func TestClassesOfCodes(t *testing.T) {
	for status, want := range map[string]string{
		"5.1.1": CauseAddress, "5.1.2": CauseAddress, "5.1.10": CauseAddress, "5.2.1": CauseMailbox, "5.2.2": CauseMailbox, "5.2.3": CauseMailbox,
		"5.3.4": CauseMailbox, "4.4.1": CauseNetwork, "5.4.4": CauseAddress, "5.7.1": CausePolicy, "5.7.26": CausePolicy, "5.7.515": CausePolicy, "5.6.0": CauseOther,
	} {
		if got := bounceCause(status, ""); got != want {
			t.Errorf("%s: %s, want %s", status, got, want)
		}
	}
	if got := bounceCause("5.1.1", "550 5.1.1 message blocked as spam"); got != CausePolicy {
		t.Errorf("5.1.1 given to spam: %s", got)
	}
}

// TestGap: the wall times of 8 March and 1 November 2026 in New York, by the
// transitions of the IANA time zone database (2026-03-08T07:00Z and
// 2026-11-01T06:00Z).
func TestGap(t *testing.T) {
	spring := time.Date(2026, 3, 8, 12, 0, 0, 0, newYork)
	fall := time.Date(2026, 11, 1, 12, 0, 0, 0, newYork)
	tests := []struct {
		now    time.Time
		minute int
		want   string
	}{
		{spring, 1*60 + 59, "2026-03-08T06:59:00Z"},
		{spring, 2*60 + 30, "2026-03-08T07:00:00Z"},
		{spring, 3 * 60, "2026-03-08T07:00:00Z"},
		{fall, 1*60 + 30, "2026-11-01T05:30:00Z"},
		{fall, 2 * 60, "2026-11-01T07:00:00Z"},
	}
	for _, tt := range tests {
		if got := wall(tt.now, 0, tt.minute).UTC().Format(time.RFC3339); got != tt.want {
			t.Errorf("%d of %s: %s, want %s", tt.minute, tt.now.Format(time.DateOnly), got, tt.want)
		}
	}
	// Off from 1 to 4 on the day that skips an hour is two hours.
	r := Read([]byte("Date: Sun, 8 Mar 2026 12:00:00 -0400\r\nFrom: a@b.example\r\n\r\nyes, off 1am to 4am\r\n"), Asked{Sent: spring})
	if r.HoursOff == nil || *r.HoursOff != 2 {
		t.Errorf("hours off %v, want 2", r.HoursOff)
	}
}
