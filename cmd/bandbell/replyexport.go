package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"

	"github.com/spf13/cobra"
)

func (a *app) replyExportVerb() *cobra.Command {
	var corrected bool
	c := &cobra.Command{
		Use:   "export DIR|-",
		Short: "Write replies that staff have seen or corrected as labelled test cases",
		Long: `Write replies that staff have seen or corrected as labelled test cases for the
reader, a line each: labels | nudge | text. The file is put into DIR, or printed
for -. A reply that was corrected is labelled as it was corrected, one that was
only seen as it was read. What nobody can know from the record, such as which part
broke, is labelled with a ? to be filled in.

Names and addresses on file, and whatever looks like an address or a telephone
number, are replaced. Other people's names are not known to the program: read the
file before you pass it on.`,
		Example: "  bandbell reply export --corrected cases\n  bandbell reply export -",
		Args:    exactly(1, "a DIR, or - for standard output"),
	}
	c.Flags().BoolVar(&corrected, "corrected", false, "only those that were corrected")
	c.RunE = func(c *cobra.Command, args []string) error {
		db, cfg, err := a.open()
		if err != nil {
			return err
		}
		defer db.Close()
		cases, err := replyCases(c.Context(), db, corrected, cfg.Clinic.Zone)
		if err != nil {
			return fmt.Errorf("export replies: %w", err)
		}
		if a.json {
			return a.print(map[string]any{"cases": cases})
		}
		var b strings.Builder
		b.WriteString("# Replies that staff have seen or corrected: labels | nudge | text. Names and\n" +
			"# addresses on file were replaced; a ? is to be filled in by hand. Read it\n# before you pass it on.\n")
		for _, e := range cases {
			fmt.Fprintf(&b, "%s | %s | %s\n", e.Labels, e.Nudge, e.Text)
		}
		if args[0] == "-" {
			_, err := fmt.Fprint(a.out, b.String())
			return err
		}
		name := "seen.txt"
		if corrected {
			name = "corrected.txt"
		}
		path := filepath.Join(args[0], name)
		if err := writeNew(path, b.String()); err != nil {
			return err
		}
		fmt.Fprintf(a.err, "%d cases in %s\n", len(cases), path)
		return nil
	}
	return c
}

// writeNew writes a file that its owner alone can read, and overwrites nothing.
func writeNew(path, text string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("make the directory: %w", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already\n  hint: move it away, or name another directory", path)
	}
	if err != nil {
		return fmt.Errorf("write the cases: %w", err)
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

// replyCase is a labelled reply.
type replyCase struct {
	Labels string `json:"labels"`
	Nudge  string `json:"nudge"`
	Text   string `json:"text"`
}

func replyCases(ctx context.Context, db *store.DB, corrected bool, zone *time.Location) ([]replyCase, error) {
	replies, err := db.HandledReplies(ctx, corrected)
	if err != nil {
		return nil, err
	}
	out := []replyCase{}
	for _, r := range replies {
		w, err := wholeReply(ctx, db, r.ID, zone)
		if err != nil {
			return nil, err
		}
		text := strip(w.Text, w.patient)
		if n := len(w.facts.Corrections); text == "" || n > 0 && w.facts.Corrections[n-1].Changed == "" {
			continue // no words, or none that count: nothing to label
		}
		out = append(out, replyCase{w.labels(), w.nudge(), text})
	}
	return out, nil
}

// nudge names what a case answers: its kind, its meal and the wall time of the
// reply.
func (w whole) nudge() string {
	kind, meal := plan.BandChange, "-"
	if n := w.facts.Nudge; n.Slot != "" {
		kind = n.Kind
		if _, code, ok := strings.Cut(n.Slot, "/"); ok && kind == plan.BandChange {
			meal = code
		}
		if n.Whole {
			meal = "day"
		}
	}
	return fmt.Sprintf("%s %s at=%s", kind, meal, w.Received.In(w.zone).Format("15:04"))
}

// labels is what a careful reader takes the reply to say.
func (w whole) labels() string {
	r := readingOf(w.Reply)
	person := w.NeedsPerson
	if n := len(w.facts.Corrections); n > 0 {
		r, person = w.corrected(r, w.facts.Corrections[n-1].Changed)
	}
	out := []string{orUnclear(r.Changed)}
	add := func(ok bool, label string) {
		if ok {
			out = append(out, label)
		}
	}
	number := func(name string, v *float64) {
		if v != nil {
			out = append(out, name+"="+strconv.FormatFloat(*v, 'f', -1, 64))
		}
	}
	word := func(name string, v *string) {
		if v != nil {
			out = append(out, name+"="+*v)
		}
	}
	add(person, "P")
	add(r.Allergy == string(plan.Red) || r.Allergy == string(plan.Yellow), r.Allergy)
	add(w.Stop, "stop")
	add(r.OutOfBands, "out")
	word("broken", r.Broken)
	number("sore", r.Soreness)
	number("worn", r.HoursWorn)
	number("off", r.HoursOff)
	var spans []string
	for _, o := range r.Off {
		spans = append(spans, o.From+"-"+o.To)
	}
	add(len(spans) > 0, "span="+strings.Join(spans, ","))
	word("q", r.Question)
	return strings.Join(out, " ")
}

func orUnclear(changed string) string {
	if changed == "" {
		return "unclear"
	}
	return changed
}

// corrected is the reading as staff corrected it, and whether a person has to
// look at such a reply.
func (w whole) corrected(read reading, changed plan.Change) (r reading, person bool) {
	r.Changed = string(changed)
	sore := w.facts.Nudge.Kind == plan.Soreness
	if changed == plan.ChangeNone && !sore {
		r.Changed = "unclear" // the question was asked and not answered
	}
	person = w.Stop || w.Fewer || w.Start
	var off float64
	answered := changed != plan.ChangeNone // else the nudge's question may be answered in numbers
	for _, f := range w.facts.Reports {
		if f.Superseded != 0 {
			continue
		}
		switch f.What {
		case plan.ReportOff:
			if !f.Since.IsZero() {
				off += f.At.Sub(f.Since).Hours()
			}
		case plan.ReportOffSpan:
			off += f.To.Sub(f.From).Hours()
			r.Off = append(r.Off, struct {
				From string `json:"from"`
				To   string `json:"to"`
			}{f.From.In(w.zone).Format("15:04"), f.To.In(w.zone).Format("15:04")})
		case plan.ReportWornTotal:
			r.HoursWorn = &f.Hours
			answered = answered || w.facts.Nudge.Whole
		case plan.ReportSoreness:
			v := float64(f.Value)
			r.Soreness = &v
			person = person || f.Value >= 7
			answered = answered || sore
		}
	}
	if off > 0 {
		off = math.Round(100*off) / 100
		r.HoursOff = &off
	}
	for _, f := range w.facts.Flags {
		if f.Superseded != 0 {
			continue
		}
		person = true
		switch f.What {
		case plan.FlagAllergy:
			r.Allergy = string(f.Level)
		case plan.FlagOutOfBands:
			r.OutOfBands = true
		case plan.FlagBroken:
			r.Broken = known(read.Broken)
		case plan.FlagQuestion:
			r.Question = known(read.Question)
		}
	}
	return r, person || !answered
}

// known is what was read, or a ? for whoever takes the case up: a correction
// says that a part broke, not which.
func known(read *string) *string {
	if read != nil {
		return read
	}
	open := "?"
	return &open
}
