package main

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/store/compliance"

	"golang.org/x/net/html"
)

// What people wrote is put on the page as it stands, and no more than that; the
// page is read back by a parser of the HTML standard.
func TestSheetIsInert(t *testing.T) {
	ctx := context.Background()
	db, err := store.Open(filepath.Join(t.TempDir(), "clinic.db"), store.Options{Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	now := time.Date(2026, 6, 20, 16, 0, 0, 0, time.UTC)
	const name, words = `<b onclick="x()">"O'Neil & 李`, `</dd><script>alert(1)</script> is this "ok" & <img src=x onerror=y>?`
	p, err := db.AddPatient(ctx, plan.Patient{Ref: "HOSTILE", FirstName: name, Phone: `"><svg onload=x>`, Language: "en", Zone: "America/New_York",
		Recipients: []plan.Recipient{{Role: plan.RolePatient, Address: "x@patients.example.org"}}}, "test", now.AddDate(0, 0, -30))
	if err != nil {
		t.Fatal(err)
	}
	r, _ := told(t, func(r *compliance.Record) {
		r.Plan.Bands[0].Bag, r.Plan.Bands[0].Latex = `<i>Bag</i>{{.}}`, false
	})
	if _, err := db.SetPlan(ctx, p.Ref, r.Plan, plan.NewDate(2026, 5, 21), "test", now.AddDate(0, 0, -30)); err != nil {
		t.Fatal(err)
	}
	at := now.Add(-48 * time.Hour)
	h := plan.Heard{At: at, Kind: "reply", How: "none", PatientID: p.ID, Text: words, Flags: []plan.Flag{{At: at, What: plan.FlagQuestion}}}
	totals(r, repeated(10, 20)...)
	for _, e := range r.Reports {
		h.Reports = append(h.Reports, plan.Stated{Report: e, Certainty: 1})
	}
	id, _, err := db.Receive(ctx, plan.Inbound{Raw: []byte("\r\nx\r\n"), Received: at, Source: "file"})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Record(ctx, id, h); err != nil {
		t.Fatal(err)
	}
	for i, mm := range []float64{6, 5.5} {
		v := store.Visit{Date: plan.NewDate(2026, 6, 1+10*i), Overjet: &compliance.Taken{Measured: mm, Unit: compliance.Millimetres, Target: 2}}
		if _, err := db.AddVisit(ctx, p.Ref, v, "<u>", now); err != nil {
			t.Fatal(err)
		}
	}
	cfg := &Config{}
	cfg.Clinic.Name = `Fern & "Street" </title>`
	s, err := readSheet(ctx, db, cfg, p.Ref, now)
	if err != nil {
		t.Fatal(err)
	}
	var page, text bytes.Buffer
	if err := s.html(&page); err != nil {
		t.Fatal(err)
	}
	if err := s.text(&text); err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(&page)
	if err != nil {
		t.Fatal(err)
	}
	known := " html head meta title style body header h1 small p strong main div section h2 ul li dl dt dd svg desc defs pattern circle path text " +
		"table caption thead tbody tr th td footer "
	count := map[string]int{}
	var all strings.Builder
	for n := range doc.Descendants() {
		switch n.Type {
		case html.TextNode:
			if n.Parent.Data != "style" {
				all.WriteString(n.Data + "\n")
			}
		case html.ElementNode:
			count[n.Data]++
			if !strings.Contains(known, " "+n.Data+" ") {
				t.Errorf("holds <%s>", n.Data)
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" || a.Key == "style" || strings.Contains(a.Val, "url(h") {
					t.Errorf("<%s> has %s=%q", n.Data, a.Key, a.Val)
				}
				if n.Data == "th" && a.Key == "scope" {
					count["scope"]++
				}
			}
		}
	}
	for _, want := range []string{name, words, `<i>Bag</i>{{.}}`, `Fern & "Street" </title>`, "not measured", "aligners and growth share it"} {
		if !strings.Contains(all.String(), want) {
			t.Errorf("%q is not on the page as it was written", want)
		}
	}
	if count["svg"] != 3 || count["title"] != 4 || count["h1"] != 1 || count["scope"] != count["th"] || count["caption"] != count["table"] || count["table"] != 2 {
		t.Errorf("elements: %v", count)
	}
	for _, want := range []string{name, "From the readings: bite done", "1 Jun 2026: overjet 4 mm"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is not in the text:\n%s", want, &text)
		}
	}
	for line := range strings.Lines(text.String()) {
		if n := len([]rune(line)); n > 101 {
			t.Errorf("a line of %d letters: %q", n, line)
		}
	}
}
