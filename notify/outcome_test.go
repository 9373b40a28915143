package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"testing"

	"github.com/emersion/go-smtp"
)

// TestDecideReplies: the first digit decides (RFC 5321 section 4.3.2), after
// the enhanced codes of RFC 3463 that say whom a refusal is about.
func TestDecideReplies(t *testing.T) {
	type code = smtp.EnhancedCode
	for _, tc := range []struct {
		stage   Stage
		code    int
		status  code
		verdict Verdict
		dead    bool
	}{
		// RFC 3463 section 3.2, RFC 7505 section 4.2: the address is no more.
		{StageRcpt, 550, code{5, 1, 1}, VerdictFail, true},
		{StageRcpt, 550, code{5, 1, 2}, VerdictFail, true},
		{StageRcpt, 553, code{5, 1, 3}, VerdictFail, true},
		{StageRcpt, 551, code{5, 1, 6}, VerdictFail, true},
		{StageRcpt, 556, code{5, 1, 10}, VerdictFail, true},
		{StageDot, 550, code{5, 1, 1}, VerdictFail, true},
		// ... or not said to be.
		{StageRcpt, 550, code{5, 1, 0}, VerdictFail, false},
		{StageRcpt, 550, code{}, VerdictFail, false},
		{StageRcpt, 550, code{5, 2, 1}, VerdictFail, false},
		{StageRcpt, 552, code{5, 2, 2}, VerdictRetry, false},
		{StageRcpt, 550, code{-1, -1, -1}, VerdictFail, false},
		// RFC 3463: bad sender address. Not the patient's fault.
		{StageMail, 553, code{5, 1, 7}, VerdictBroken, false},
		{StageRcpt, 550, code{5, 1, 8}, VerdictBroken, false},
		// RFC 5321 section 4.5.3.1.10.
		{StageRcpt, 552, code{}, VerdictRetry, false},
		{StageMail, 552, code{5, 3, 4}, VerdictFail, false},
		{StageDot, 552, code{5, 3, 4}, VerdictFail, false},
		// RFC 4954 section 6 and policy.
		{StageAuth, 535, code{5, 7, 8}, VerdictBroken, false},
		{StageAuth, 535, code{}, VerdictBroken, false},
		{StageAuth, 454, code{4, 7, 0}, VerdictRetry, false},
		{StageMail, 530, code{5, 7, 0}, VerdictBroken, false},
		{StageMail, 530, code{}, VerdictBroken, false},
		{StageAuth, 538, code{5, 7, 11}, VerdictBroken, false},
		{StageRcpt, 554, code{5, 7, 1}, VerdictBroken, false},
		{StageDot, 550, code{5, 7, 26}, VerdictBroken, false},
		{StageDot, 550, code{5, 7, 515}, VerdictBroken, false},
		{StageRcpt, 450, code{4, 7, 1}, VerdictRetry, false},
		// RFC 5321 section 4.2.5: a reply after the dot is never ambiguous.
		{StageDot, 450, code{4, 2, 0}, VerdictRetry, false},
		{StageDot, 421, code{4, 3, 2}, VerdictRetry, false},
		{StageDot, 554, code{}, VerdictFail, false},
		{StageDot, 299, code{}, VerdictAccepted, false},
		{StageDot, 354, code{}, VerdictUncertain, false},
		{StageDot, 600, code{}, VerdictUncertain, false},
		{StageMail, 399, code{}, VerdictRetry, false},
		{StageHello, 554, code{}, VerdictBroken, false},
		{StageHello, 421, code{}, VerdictRetry, false},
		{StageTLS, 454, code{4, 7, 0}, VerdictRetry, false},
	} {
		reply := &smtp.SMTPError{Code: tc.code, EnhancedCode: tc.status, Message: "<anna@home.test> is Anna's"}
		d := decide(fmt.Errorf("send: %w", &Fault{tc.stage, reply}))
		if d.Verdict != tc.verdict || d.Dead != tc.dead {
			t.Errorf("%s %d %v: %s, dead %v; want %s, %v", tc.stage, tc.code, tc.status, d.Verdict, d.Dead, tc.verdict, tc.dead)
		}
		if (d.Reason == "") != (tc.verdict == VerdictAccepted) {
			t.Errorf("%s %d: reason %q", tc.stage, tc.code, d.Reason)
		}
	}
}

// TestDecideSilence: without a reply only the end after the dot is ambiguous
// (RFC 1047).
func TestDecideSilence(t *testing.T) {
	for _, stage := range []Stage{StageDial, StageHello, StageTLS, StageAuth, StageMail, StageRcpt, StageData, StageBody, StageDot} {
		for _, err := range []error{io.EOF, io.ErrUnexpectedEOF, context.DeadlineExceeded, errors.New("unexpected: <html>")} {
			d := decide(&Fault{stage, err})
			want := VerdictRetry
			switch {
			case stage == StageDot:
				want = VerdictUncertain
			case stage == StageTLS && err.Error() == "unexpected: <html>":
				want = VerdictBroken // what answers there does not speak TLS
			}
			if d.Verdict != want || d.Reason == "" {
				t.Errorf("%s, %v: %s (%s), want %s", stage, err, d.Verdict, d.Reason, want)
			}
		}
	}
}

// TestDeadAddressIsSaidSo in the outbox, and only that.
func TestDeadAddressIsSaidSo(t *testing.T) {
	for fault, want := range map[string]string{"550 5.1.1 nobody": "dead 1", "550 5.2.1 off": "fail 1", "550 no": "fail 1"} {
		p, box := newPeer(t, func(p *peer) { p.faults["rcpt"] = fault }), newShelf(t, nudge(1))
		s, _ := newSender(t, box, p, nil)
		s.Drain(context.Background())
		if log := box.log(); log[len(log)-1] != want {
			t.Errorf("%s: %v, want %s", fault, log, want)
		}
	}
}
