package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"bandbell/store"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

func (a *app) replyVerbs() *cobra.Command {
	c := &cobra.Command{
		Use:   "reply",
		Short: "List and show what patients wrote; mark it seen; correct what was misread; export test cases",
		RunE:  needVerb,
	}
	c.AddCommand(a.replyListVerb(), a.replyShowVerb(), a.replySeenVerb(), a.replyCorrectVerb(), a.replyExportVerb())
	return c
}

// replyID reads the argument that names a reply.
func replyID(arg string) (int64, error) {
	id, err := strconv.ParseInt(arg, 10, 64)
	if err != nil || id < 1 {
		return 0, usage("%q is not the number of a reply\n  hint: bandbell reply list shows the numbers", arg)
	}
	return id, nil
}

func (a *app) replyListVerb() *cobra.Command {
	var person bool
	var ref string
	var limit int
	c := &cobra.Command{
		Use:   "list",
		Short: "List received messages, the newest first",
		Long: `List received messages, the newest first. --needs-person lists those that a
person must read and nobody has marked seen.`,
		Example: "  bandbell reply list --needs-person\n  bandbell reply list --patient K7MQ2X --limit 10",
		Args:    exactly(0, "no argument, only flags"),
	}
	c.Flags().BoolVar(&person, "needs-person", false, "only those that a person must read and nobody has seen yet")
	c.Flags().StringVar(&ref, "patient", "", "only those of this `PATIENT`")
	c.Flags().IntVar(&limit, "limit", 50, "at most `N`")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if limit < 1 {
			return usage("--limit %d lists nothing\n  hint: 1 or more", limit)
		}
		db, cfg, err := a.open()
		if err != nil {
			return err
		}
		defer db.Close()
		var replies []store.Reply
		if ref == "" {
			replies, err = db.Replies(c.Context(), person, limit)
		} else {
			replies, err = db.PatientReplies(c.Context(), ref, person, limit)
		}
		if err != nil {
			return fmt.Errorf("list the replies: %w", err)
		}
		out := []replyLine{}
		t := newTable(a.out, "reply", "received", "patient", "kind", "changed", "", "text")
		for _, r := range replies {
			l := lineJSON(r)
			out = append(out, l)
			t.row(strconv.FormatInt(r.ID, 10), r.Received.In(cfg.Clinic.Zone).Format("2006-01-02 15:04"), r.PatientRef, r.Kind, l.Changed, standing(r), short(r.Text, 60))
		}
		if a.json {
			return a.print(map[string]any{"replies": out})
		}
		t.flush()
		return nil
	}
	return c
}

// standing says where a reply stands with the desk.
func standing(r store.Reply) string {
	switch {
	case !r.Read:
		return "not read yet"
	case !r.Corrected.IsZero():
		return "corrected"
	case !r.Seen.IsZero():
		return "seen"
	case r.NeedsPerson:
		return "needs a person"
	}
	return ""
}

// short is the beginning of a text on one line, at most n letters.
func short(text string, n int) string {
	r := []rune(strings.Join(strings.Fields(text), " "))
	if len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return string(r)
}

// replyLine is a reply in a list.
type replyLine struct {
	ID          int64   `json:"id"`
	Received    string  `json:"received"`
	Kind        string  `json:"kind"` // empty: not read yet
	Patient     string  `json:"patient"`
	Slot        string  `json:"slot"`
	Changed     string  `json:"changed"` // as it was read
	Text        string  `json:"text"`
	Why         string  `json:"why"`
	NeedsPerson bool    `json:"needs_person"` // as it was read
	Seen        *string `json:"seen"`
	SeenBy      string  `json:"seen_by"`
	Corrected   *string `json:"corrected"` // when last
}

func lineJSON(r store.Reply) replyLine {
	return replyLine{ID: r.ID, Received: r.Received.UTC().Format(time.RFC3339), Kind: r.Kind, Patient: r.PatientRef, Slot: r.Slot, Changed: readingOf(r).Changed,
		Text: r.Text, Why: r.Why, NeedsPerson: r.NeedsPerson, Seen: instant(r.Seen), SeenBy: r.SeenBy, Corrected: instant(r.Corrected)}
}

// reading is what a stored reading says, as far as it is needed here.
type reading struct {
	Changed    string   `json:"changed"`
	HoursWorn  *float64 `json:"hours_worn"`
	HoursOff   *float64 `json:"hours_off"`
	OutOfBands bool     `json:"out_of_bands"`
	Broken     *string  `json:"broken"`
	Soreness   *float64 `json:"soreness"`
	Allergy    string   `json:"allergy"`
	Question   *string  `json:"question"`
	Off        []struct {
		From string `json:"from"`
		To   string `json:"to"`
	} `json:"off"`
}

// readingOf reads a stored reading; a message that could not be read has an
// empty one.
func readingOf(r store.Reply) (out reading) {
	if json.Unmarshal(r.Reading, &out) != nil {
		return reading{}
	}
	return out
}

func (a *app) replySeenVerb() *cobra.Command {
	var by string
	c := &cobra.Command{
		Use:   "seen REPLY",
		Short: "Note that a reply was dealt with",
		Long: `Note that a reply was dealt with: it leaves the list of those that need a
person, and its questions and the like are closed. What put the patient on hold
stays open until the hold is lifted (patient resume --lift-hold).`,
		Example: `  bandbell reply seen 12 --by "Ana at the desk"`,
		Args:    exactly(1, "a REPLY"),
	}
	c.Flags().StringVar(&by, "by", "", "`WHO` dealt with it")
	c.RunE = func(c *cobra.Command, args []string) error {
		id, err := replyID(args[0])
		if err != nil {
			return err
		}
		who := actor
		if c.Flags().Changed("by") {
			var fault string
			if who, fault = desk(by); fault != "" {
				return usage("--by %s", fault)
			}
		}
		return a.change(c, "note that a reply was seen", func(ctx context.Context, db *store.DB, now time.Time) error {
			return db.Seen(ctx, id, who, now)
		})
	}
	return c
}

// desk names a member of staff for the audit trail; fault says why the name is
// refused.
func desk(by string) (who, fault string) {
	switch by = strings.TrimSpace(by); {
	case by == "":
		return "", "is needed: who does this"
	case len(by) > 200 || printable(by) != by:
		return "", "holds a control character or is too long"
	}
	return "desk:" + by, ""
}

func (a *app) replyShowVerb() *cobra.Command {
	var raw bool
	c := &cobra.Command{
		Use:   "show REPLY",
		Short: "Show a reply, what was read from it, and what staff corrected",
		Long: `Show a reply, what was read from it and why, what staff corrected, and whether
its patient is on hold. --raw prints the message as it came instead; on a terminal
without its control characters.`,
		Example: "  bandbell reply show 12\n  bandbell reply show 12 --raw >12.eml",
		Args:    exactly(1, "a REPLY"),
	}
	c.Flags().BoolVar(&raw, "raw", false, "print the message as it was received")
	c.RunE = func(c *cobra.Command, args []string) error {
		id, err := replyID(args[0])
		if err != nil {
			return err
		}
		db, cfg, err := a.open()
		if err != nil {
			return err
		}
		defer db.Close()
		if raw {
			return a.replyRaw(c.Context(), db, id)
		}
		w, err := wholeReply(c.Context(), db, id, cfg.Clinic.Zone)
		if err != nil {
			return fmt.Errorf("show reply %d: %w", id, err)
		}
		if a.json {
			return a.print(w.json())
		}
		w.write(a.out)
		return nil
	}
	return c
}

func (a *app) replyRaw(ctx context.Context, db *store.DB, id int64) error {
	raw, err := db.RawReply(ctx, id)
	if err != nil {
		return fmt.Errorf("show reply %d: %w", id, err)
	}
	if a.json {
		return a.print(map[string]any{"id": id, "raw": raw}) // a list of octets is base64 in JSON
	}
	if f, ok := a.out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		raw = []byte(printableLines(string(raw)))
	}
	_, err = a.out.Write(raw)
	return err
}

// printableLines is printable, line by line.
func printableLines(text string) string {
	lines := strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	for i, l := range lines {
		lines[i] = printable(l)
	}
	return strings.Join(lines, "\n")
}
