package mailtest

import (
	"errors"
	"io"
	"net"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/google/go-cmp/cmp"
)

// try sends one message and says at which stage it failed.
func try(s *Server, timeout time.Duration) (stage string, err error) {
	conn, err := net.Dial("tcp", s.Addr())
	if err != nil {
		return "dial", err
	}
	c := smtp.NewClient(conn)
	defer c.Close()
	c.CommandTimeout, c.SubmissionTimeout = timeout, timeout
	if err := c.Hello("client.test"); err != nil {
		return StageHello, err
	}
	if ok, _ := c.Extension("AUTH"); ok {
		if err := c.Auth(sasl.NewPlainClient("", "bands", "s3cret")); err != nil {
			return StageAuth, err
		}
	}
	if err := c.Mail("bands@clinic.test", nil); err != nil {
		return StageMail, err
	}
	if err := c.Rcpt("ana@patients.test", nil); err != nil {
		return StageRcpt, err
	}
	w, err := c.Data()
	if err != nil {
		return StageData, err
	}
	if _, err := io.WriteString(w, body); err != nil {
		return StageData, err
	}
	if err := w.Close(); err != nil {
		return StageDot, err
	}
	if err := c.Quit(); err != nil {
		return "quit", err
	}
	return "", nil
}

func isCode(code int) func(error) bool {
	return func(err error) bool {
		var reply *smtp.SMTPError
		return errors.As(err, &reply) && reply.Code == code
	}
}

func isGone(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE)
}

func isTimeout(err error) bool {
	var ne net.Error
	return errors.As(err, &ne) && ne.Timeout()
}

func TestFaults(t *testing.T) {
	busy := &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 7, 1}, Message: "Try later"}
	no := &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "No such user"}
	const patient = 200 * time.Millisecond
	for _, tc := range []struct {
		name, at string
		fault    error
		fails    string // the stage the client sees fail
		how      func(error) bool
		kept     int
	}{
		// The client of go-smtp reads the greeting with EHLO, so a fault at
		// connect shows there.
		{"refused at connect", StageConnect, busy, StageHello, isCode(451), 0},
		{"dropped at connect", StageConnect, ErrDrop, StageHello, isGone, 0},
		{"hung at connect", StageConnect, ErrHang, StageHello, isTimeout, 0},
		{"dropped at hello", StageHello, ErrDrop, StageHello, isGone, 0},
		{"hung at hello", StageHello, ErrHang, StageHello, isTimeout, 0},
		{"4xx at auth", StageAuth, busy, StageAuth, isCode(451), 0},
		{"dropped at auth", StageAuth, ErrDrop, StageAuth, isGone, 0},
		{"4xx at mail", StageMail, busy, StageMail, isCode(451), 0},
		{"5xx at mail", StageMail, no, StageMail, isCode(550), 0},
		{"dropped at mail", StageMail, ErrDrop, StageMail, isGone, 0},
		{"4xx at rcpt", StageRcpt, busy, StageRcpt, isCode(451), 0},
		{"5xx at rcpt", StageRcpt, no, StageRcpt, isCode(550), 0},
		{"reset at rcpt", StageRcpt, ErrReset, StageRcpt, isGone, 0},
		{"hung at rcpt", StageRcpt, ErrHang, StageRcpt, isTimeout, 0},
		{"bye at rcpt", StageRcpt, ErrBye, StageData, isGone, 0},
		{"5xx at data", StageData, no, StageDot, isCode(550), 0},
		{"hung at data", StageData, ErrHang, StageDot, isTimeout, 0},
		{"4xx after the dot", StageDot, busy, StageDot, isCode(451), 0},
		{"5xx after the dot", StageDot, no, StageDot, isCode(550), 0},
		{"other error after the dot", StageDot, errors.New("disk full"), StageDot, isCode(451), 0},
		{"dropped after the dot", StageDot, ErrDrop, StageDot, isGone, 0},
		{"hung after the dot", StageDot, ErrHang, StageDot, isTimeout, 0},
		{"kept, answer lost", StageDot, Keep(ErrDrop), StageDot, isGone, 1},
		{"kept, answer late", StageDot, Keep(ErrHang), StageDot, isTimeout, 1},
		{"accepted, gone before quit", StageDot, ErrBye, "quit", isGone, 1},
		{"no fault", StageDot, nil, "", func(err error) bool { return err == nil }, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := start(t, RequireAuth("bands", "s3cret"), Fault(func(stage string, n int) error {
				if stage == tc.at {
					return tc.fault
				}
				return nil
			}))
			timeout := 20 * time.Second
			if errors.Is(tc.fault, ErrHang) {
				timeout = patient
			}
			stage, err := try(s, timeout)
			if stage != tc.fails || !tc.how(err) {
				t.Errorf("failed at %q with %v, want %q", stage, err, tc.fails)
			}
			if n := s.Count(); n != tc.kept {
				t.Errorf("%d messages kept, want %d", n, tc.kept)
			}
		})
	}
}

func TestFaultsCount(t *testing.T) {
	var mu sync.Mutex
	seen := map[string][]int{}
	s := start(t, Fault(func(stage string, n int) error {
		mu.Lock()
		seen[stage] = append(seen[stage], n)
		mu.Unlock()
		if stage == StageRcpt && n == 2 {
			return &smtp.SMTPError{Code: 450, Message: "once"}
		}
		return nil
	}))
	for i, want := range []string{"", StageRcpt, ""} {
		if stage, err := try(s, 20*time.Second); stage != want {
			t.Errorf("send %d failed at %q: %v", i+1, stage, err)
		}
	}
	mu.Lock()
	defer mu.Unlock()
	want := map[string][]int{
		StageConnect: {1, 2, 3}, StageHello: {1, 2, 3}, StageMail: {1, 2, 3},
		StageRcpt: {1, 2, 3}, StageData: {1, 2}, StageDot: {1, 2},
	}
	if d := cmp.Diff(want, seen); d != "" {
		t.Errorf("stages reached (-want +got):\n%s", d)
	}
}

func TestRefusals(t *testing.T) {
	unknown := &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "No such user"}
	s := start(t, RefuseRecipients(map[string]*smtp.SMTPError{"Luis@patients.test": unknown}))
	c := dial(t, s)
	if err := c.Mail("bands@clinic.test", nil); err != nil {
		t.Fatal(err)
	}
	if err := c.Rcpt("luis@PATIENTS.test", nil); !isCode(550)(err) {
		t.Errorf("refused recipient: %v", err)
	}
	if err := c.Rcpt("ana@patients.test", nil); err != nil {
		t.Errorf("other recipient: %v", err)
	}
	s.Refuse("luis@patients.test", nil)
	if err := c.Rcpt("luis@patients.test", nil); err != nil {
		t.Errorf("after the refusal was taken back: %v", err)
	}
}

// A hung client must not keep others waiting, and Close frees it.
func TestHangHoldsNobodyElse(t *testing.T) {
	s := start(t, Fault(func(stage string, n int) error {
		if (stage == StageConnect || stage == StageMail) && n == 1 {
			return ErrHang
		}
		return nil
	}))
	var hung sync.WaitGroup
	for range 2 { // the first hangs at connect, the second at mail
		hung.Go(func() {
			if stage, err := try(s, 20*time.Second); err == nil {
				t.Errorf("a hung client got through (%s)", stage)
			}
		})
	}
	// Whoever comes third gets through, once both of them are caught.
	for caught := false; !caught; {
		s.mu.Lock()
		caught = s.reached[StageConnect] >= 2 && s.reached[StageMail] >= 1
		s.mu.Unlock()
		time.Sleep(time.Millisecond)
	}
	if stage, err := try(s, 20*time.Second); err != nil {
		t.Errorf("the next client failed at %q: %v", stage, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	hung.Wait()
}

func TestNewSessionKeepsNothingOfTheLast(t *testing.T) {
	s := start(t)
	c := dial(t, s)
	if err := c.Mail("old@clinic.test", nil); err != nil {
		t.Fatal(err)
	}
	if err := c.Rcpt("old@patients.test", nil); err != nil {
		t.Fatal(err)
	}
	if err := c.Reset(); err != nil {
		t.Fatal(err)
	}
	if err := c.SendMail("new@clinic.test", []string{"new@patients.test"}, strings.NewReader(body)); err != nil {
		t.Fatal(err)
	}
	m := s.Messages()
	if len(m) != 1 || m[0].From != "new@clinic.test" || len(m[0].To) != 1 {
		t.Errorf("kept %+v", m)
	}
}
