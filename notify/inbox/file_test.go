package inbox

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

func stringsReader(b []byte) io.Reader { return bytes.NewReader(b) }

func TestFile(t *testing.T) {
	a := nudge()
	rec := newShelf(a)
	i := newInbox(t, rec)
	raw := letter(ours, "Yes", "Delivered-To: "+address(t, a), "Return-Path: <ana@patients.test>",
		"Received: from x by y; Mon, 1 Jun 2026 13:09:30 -0400", "Received: from w by x; Mon, 1 Jun 2026 09:00:00 -0400")
	lf := bytes.ReplaceAll(raw, []byte("\r\n"), []byte("\n"))
	id, fresh, err := i.File(t.Context(), bytes.NewReader(lf), "a.eml")
	if id != 1 || !fresh || err != nil {
		t.Fatalf("%d, %v, %v", id, fresh, err)
	}
	// The same by another way is the same message.
	if id, fresh, err := i.File(t.Context(), bytes.NewReader(raw), "b.eml"); id != 1 || fresh || err != nil {
		t.Errorf("with CRLF: %d, %v, %v", id, fresh, err)
	}
	want := []plan.Inbound{{
		ID: 1, Raw: raw, From: "ana@patients.test", To: []string{address(t, a)},
		Received: time.Date(2026, 6, 1, 17, 9, 30, 0, time.UTC), Source: "file",
	}}
	if d := cmp.Diff(want, rec.stored()); d != "" {
		t.Error(d)
	}
}

func TestFileEnvelope(t *testing.T) {
	for _, tc := range []struct {
		name, header, from string
		received           time.Time
	}{
		{"null path", "Return-Path: <>", "", received},
		{"no path: From", "X: y", "ana@patients.test", received},
		{"a path that cannot be read", "Return-Path: <<", "", received},
		{"received in the future", "Received: from x by y; Tue, 2 Jun 2026 13:09:30 -0400", "ana@patients.test", received},
		{"mixed line ends", "X: a\nY: b", "ana@patients.test", received},
	} {
		rec := newShelf()
		raw := letter(ours, "Yes", tc.header)
		if _, _, err := newInbox(t, rec).File(t.Context(), bytes.NewReader(raw), "a.eml"); err != nil {
			t.Fatal(err)
		}
		in := rec.stored()[0]
		if in.From != tc.from || !in.Received.Equal(tc.received) || !bytes.Equal(in.Raw, raw) {
			t.Errorf("%s: from %q, received %v, %d octets of %d", tc.name, in.From, in.Received, len(in.Raw), len(raw))
		}
	}
}

func TestFileRefuses(t *testing.T) {
	i := newInbox(t, newShelf(), func(o *Options) { o.MaxBytes = 500 })
	for _, tc := range []struct {
		name string
		r    io.Reader
		want string
	}{
		{"empty", strings.NewReader(""), "empty"},
		{"blank", strings.NewReader(" \n\n"), "empty"},
		{"large", strings.NewReader(strings.Repeat("x", 501)), "larger than 500"},
		{"broken", iotest.ErrReader(errDisk), errDisk.Error()},
	} {
		if _, _, err := i.File(t.Context(), tc.r, "box/a.eml"); err == nil || !strings.HasPrefix(err.Error(), "box/a.eml: ") || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	if _, _, err := i.File(t.Context(), strings.NewReader(strings.Repeat("x", 500)), "a.eml"); err != nil {
		t.Errorf("at the limit: %v", err)
	}
	rec := newShelf()
	rec.receive = errDisk
	if _, _, err := newInbox(t, rec).File(t.Context(), strings.NewReader("x"), "a.eml"); !errors.Is(err, errDisk) {
		t.Errorf("got %v", err)
	}
}
