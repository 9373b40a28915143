package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"
)

// whole is one reply with everything that was made of it.
type whole struct {
	store.Reply
	facts   store.Facts
	patient plan.Patient // zero: nobody was matched
	zone    *time.Location
}

// wholeReply reads a reply; its times are shown in the patient's zone, or, where
// nobody was matched, in the clinic's.
func wholeReply(ctx context.Context, db *store.DB, id int64, clinic *time.Location) (w whole, err error) {
	if w.Reply, err = db.Reply(ctx, id); err != nil {
		return w, err
	}
	if w.facts, err = db.ReplyFacts(ctx, id); err != nil {
		return w, err
	}
	w.zone = clinic
	if w.PatientRef == "" {
		return w, nil
	}
	if w.patient, err = db.Patient(ctx, w.PatientRef); err != nil {
		return w, err
	}
	w.zone, err = time.LoadLocation(w.patient.Zone)
	return w, err
}

type (
	replyOut struct {
		replyLine
		Source      string          `json:"source"`
		How         string          `json:"how"`
		Nudge       *nudgeOfReply   `json:"nudge"`
		Lang        string          `json:"lang"`
		Mismatch    bool            `json:"mismatch"`
		Stop        bool            `json:"stop"`
		Fewer       bool            `json:"fewer"`
		Start       bool            `json:"start"`
		Reading     json.RawMessage `json:"reading"`
		Reports     []factOut       `json:"reports"`
		Flags       []flagOut       `json:"flags"`
		Corrections []correctionOut `json:"corrections"`
		HoldSince   *string         `json:"hold_since"`
		HoldReason  string          `json:"hold_reason"`
	}
	nudgeOfReply struct {
		Kind  plan.Kind `json:"kind"`
		Slot  string    `json:"slot"`
		Due   string    `json:"due"`
		Whole bool      `json:"whole_day"`
	}
	factOut struct {
		What       plan.ReportKind `json:"what"`
		At         string          `json:"at"`
		Fresh      bool            `json:"fresh"`
		Since      *string         `json:"since"`
		From       *string         `json:"from"`
		To         *string         `json:"to"`
		Day        plan.Date       `json:"day"`
		Hours      *float64        `json:"hours"`
		Value      *int            `json:"value"`
		Words      string          `json:"words"` // the stretch of the text it was read from; empty: the whole
		Certainty  float64         `json:"certainty"`
		Correction *int64          `json:"correction"` // that states it; null: it was read
		Superseded *int64          `json:"superseded"` // the correction in its place; null: in force
	}
	flagOut struct {
		What       plan.FlagKind `json:"what"`
		Level      plan.Level    `json:"level"`
		At         string        `json:"at"`
		Closed     *string       `json:"closed"`
		ClosedBy   string        `json:"closed_by"`
		Correction *int64        `json:"correction"`
		Superseded *int64        `json:"superseded"`
	}
	correctionOut struct {
		ID      int64  `json:"id"`
		At      string `json:"at"`
		By      string `json:"by"`
		Changed string `json:"changed"` // empty: nothing of the message counts
	}
)

func (w whole) json() replyOut {
	out := replyOut{replyLine: lineJSON(w.Reply), Source: w.Source, How: w.How, Lang: w.Lang, Mismatch: w.Mismatch, Stop: w.Stop, Fewer: w.Fewer, Start: w.Start,
		Reading: w.Reading, Reports: []factOut{}, Flags: []flagOut{}, Corrections: []correctionOut{},
		HoldSince: instant(w.patient.Hold.Since), HoldReason: w.patient.Hold.Reason}
	if n := w.facts.Nudge; n.Slot != "" {
		out.Nudge = &nudgeOfReply{n.Kind, n.Slot, n.Due.UTC().Format(time.RFC3339), n.Whole}
	}
	for _, f := range w.facts.Reports {
		o := factOut{What: f.What, At: f.At.UTC().Format(time.RFC3339), Fresh: f.Fresh, Since: instant(f.Since), From: instant(f.From), To: instant(f.To),
			Day: f.Day, Words: w.words(f), Certainty: f.Certainty, Correction: idOrNull(f.Correction), Superseded: idOrNull(f.Superseded)}
		switch f.What {
		case plan.ReportWornTotal:
			o.Hours = &f.Hours
		case plan.ReportSoreness:
			o.Value = &f.Value
		}
		out.Reports = append(out.Reports, o)
	}
	for _, f := range w.facts.Flags {
		out.Flags = append(out.Flags, flagOut{f.What, f.Level, f.At.UTC().Format(time.RFC3339), instant(f.Closed), f.ClosedBy, idOrNull(f.Correction), idOrNull(f.Superseded)})
	}
	for _, c := range w.facts.Corrections {
		out.Corrections = append(out.Corrections, correctionOut{c.ID, c.At.UTC().Format(time.RFC3339), c.By, string(c.Changed)})
	}
	return out
}

func idOrNull(id int64) *int64 {
	if id == 0 {
		return nil
	}
	return &id
}

// words are those a report was read from.
func (w whole) words(f store.Fact) string {
	text := []rune(w.Text)
	if f.Correction != 0 || f.Span[0] < 0 || f.Span[0] >= f.Span[1] || f.Span[1] > len(text) {
		return ""
	}
	return string(text[f.Span[0]:f.Span[1]])
}

// write shows a reply for a person. What came from outside is shown as text,
// without its control characters.
func (w whole) write(out io.Writer) {
	t := newTable(out, "reply", strconv.FormatInt(w.ID, 10))
	t.row("received", w.at(w.Received)+", by "+w.Source)
	if w.PatientRef != "" {
		t.row("patient", strings.TrimSpace(w.PatientRef+" "+w.patient.FirstName+" "+w.patient.LastName))
	}
	if n := w.facts.Nudge; n.Slot != "" {
		t.row("answers", fmt.Sprintf("%s %s, due %s", n.Kind, n.Slot, w.at(n.Due)))
	}
	if !w.Read {
		t.row("not read yet")
		t.flush()
		return
	}
	t.row("kind", w.Kind+", matched by "+w.How)
	t.row("why", w.Why)
	person := "not needed"
	if w.NeedsPerson {
		person = "needed"
	}
	if !w.Seen.IsZero() {
		person += ", seen " + w.at(w.Seen) + " by " + w.SeenBy
	}
	t.row("a person", person)
	if w.Mismatch {
		t.row("from", "another address than the one written to")
	}
	for _, c := range w.facts.Corrections {
		t.row(fmt.Sprintf("correction %d", c.ID), fmt.Sprintf("%s by %s: changed %s", w.at(c.At), c.By, orNothing(string(c.Changed))))
	}
	if w.patient.Hold.Held() {
		t.row("on hold", w.patient.Hold.Reason+", since "+w.at(w.patient.Hold.Since))
	}
	t.flush()
	fmt.Fprintf(out, "\n  | %s\n\n", strings.ReplaceAll(printableLines(w.Text), "\n", "\n  | "))
	t = newTable(out, "taken to say", "", "from the words", "certainty", "")
	for _, f := range w.facts.Reports {
		by := "read"
		if f.Correction != 0 {
			by = fmt.Sprintf("correction %d", f.Correction)
		}
		t.row(string(f.What), w.fact(f.Report), short(w.words(f), 40), fmt.Sprintf("%.2f", f.Certainty), by+standsNoMore(f.Superseded))
	}
	for _, f := range w.facts.Flags {
		what := string(f.What)
		if f.Level != "" {
			what += ", " + string(f.Level)
		}
		state := "open"
		if !f.Closed.IsZero() {
			state = "closed " + w.at(f.Closed)
		}
		by := "read"
		if f.Correction != 0 {
			by = fmt.Sprintf("correction %d", f.Correction)
		}
		t.row(what, state, "", "", by+standsNoMore(f.Superseded))
	}
	t.flush()
}

func orNothing(s string) string {
	if s == "" {
		return "nothing counts"
	}
	return s
}

func standsNoMore(superseded int64) string {
	if superseded == 0 {
		return ""
	}
	return fmt.Sprintf(", until correction %d", superseded)
}

// fact is a report in words.
func (w whole) fact(r plan.Report) string {
	switch r.What {
	case plan.ReportOn:
		if r.Fresh {
			return "a fresh set, " + w.at(r.At)
		}
		return "worn, " + w.at(r.At)
	case plan.ReportOff:
		if !r.Since.IsZero() {
			return w.at(r.At) + ", since " + w.at(r.Since)
		}
		return w.at(r.At)
	case plan.ReportOffSpan:
		return w.at(r.From) + " to " + w.at(r.To)
	case plan.ReportWornTotal:
		return fmt.Sprintf("%g hours on %s", r.Hours, r.Day)
	}
	return fmt.Sprintf("%d of 10", r.Value)
}

func (w whole) at(t time.Time) string { return t.In(w.zone).Format("2006-01-02 15:04") }
