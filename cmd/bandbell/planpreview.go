package main

import (
	"context"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/scheduler/timetable"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

// preview is what `plan preview --json` prints.
type preview struct {
	Nudges  []previewNudge   `json:"nudges"`
	Dropped []previewDropped `json:"dropped"`
}

type previewNudge struct {
	Kind  plan.Kind `json:"kind"`
	Slot  string    `json:"slot"`
	Due   string    `json:"due"`
	Until string    `json:"until"`
	Moved *string   `json:"moved"`
}

type previewDropped struct {
	Kind   plan.Kind `json:"kind"`
	Slot   string    `json:"slot"`
	Reason string    `json:"reason"`
}

// previewDays is how far ahead a preview looks when no range is given.
const previewDays = 7

func (a *app) planPreviewVerb() *cobra.Command {
	var record, from, to string
	c := &cobra.Command{
		Use:   "preview [PATIENT]",
		Short: "Print the coming nudges, and those that a rule dropped",
		Example: `  bandbell plan preview K7MQ2X
  bandbell plan preview --record patient.json --from 2026-06-01 --to 2026-06-14 --json`,
		Args: cobra.MaximumNArgs(1),
	}
	c.Flags().StringVar(&record, "record", "", "take the plan from this record `FILE` (- is standard input), without a database")
	c.Flags().StringVar(&from, "from", "", "first local `DATE` (default today)")
	c.Flags().StringVar(&to, "to", "", "last local `DATE` (default six days after the first)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if (record == "") == (len(args) == 0) {
			return usage("plan preview needs either a PATIENT or --record FILE\n  hint: bandbell plan preview --help")
		}
		versions, now, err := a.previewSource(c.Context(), record, args)
		if err != nil {
			return err
		}
		first, last, err := previewRange(from, to, versions[len(versions)-1].Zone, now)
		if err != nil {
			return err
		}
		p, err := previewOf(versions, first, last)
		if err != nil {
			return err
		}
		if a.json {
			return a.print(p)
		}
		return a.printPreview(p, first, last)
	}
	return c
}

// previewSource reads the plan versions of a record or of a patient on file.
func (a *app) previewSource(ctx context.Context, record string, args []string) ([]plan.Version, time.Time, error) {
	now, err := a.now()
	if err != nil {
		return nil, now, err
	}
	if record != "" {
		b, err := a.input(record)
		if err != nil {
			return nil, now, err
		}
		r, err := compliance.ReadRecord(inputName(record), b)
		if err != nil {
			return nil, now, err
		}
		if a.asOf == "" {
			now = r.AsOf
		}
		return []plan.Version{{Zone: r.Zone.String(), Plan: r.Plan}}, now, nil
	}
	db, _, err := a.open()
	if err != nil {
		return nil, now, err
	}
	defer db.Close()
	versions, err := db.PlanVersions(ctx, args[0])
	if err == nil && len(versions) == 0 {
		err = fmt.Errorf("patient %s has no plan\n  hint: bandbell plan set %s FILE", args[0], args[0])
	}
	return versions, now, err
}

func previewRange(from, to, zoneName string, now time.Time) (first, last plan.Date, err error) {
	loc, err := time.LoadLocation(zoneName)
	if err != nil {
		return first, last, err
	}
	first = plan.DateOf(now, loc)
	if from != "" {
		if first, err = date("from", from); err != nil {
			return first, last, err
		}
	}
	last = first.AddDays(previewDays - 1)
	if to != "" {
		if last, err = date("to", to); err != nil {
			return first, last, err
		}
	}
	if last.Before(first) {
		return first, last, usage("--to %s lies before --from %s", last, first)
	}
	if days := last.DaysSince(first); days > 4000 {
		return first, last, usage("%d days are too many for one preview\n  hint: ask for at most ten years", days)
	}
	return first, last, nil
}

// previewOf lists what the plan version in force on each day owes.
func previewOf(versions []plan.Version, from, to plan.Date) (preview, error) {
	out := preview{Nudges: []previewNudge{}, Dropped: []previewDropped{}}
	for i, v := range versions {
		first, last := from, to
		if v.First.After(first) {
			first = v.First
		}
		if i+1 < len(versions) && !last.Before(versions[i+1].First) {
			last = versions[i+1].First.AddDays(-1)
		}
		loc, err := time.LoadLocation(v.Zone)
		if err != nil {
			return out, err
		}
		nudges, dropped := timetable.Nudges(&v.Plan, loc, first, last)
		for _, n := range nudges {
			if n.Due.Before(v.Created) {
				continue // it was due before this version was written
			}
			e := previewNudge{n.Kind, n.Slot, n.Due.Format(time.RFC3339), n.Until.Format(time.RFC3339), nil}
			if n.Moved != "" {
				e.Moved = &n.Moved
			}
			out.Nudges = append(out.Nudges, e)
		}
		for _, d := range dropped {
			out.Dropped = append(out.Dropped, previewDropped{d.Kind, d.Slot, d.Reason})
		}
	}
	return out, nil
}

func (a *app) printPreview(p preview, from, to plan.Date) error {
	w := newTable(a.out, "due", "until", "kind", "slot", "moved")
	for _, n := range p.Nudges {
		moved := ""
		if n.Moved != nil {
			moved = *n.Moved
		}
		w.row(n.Due, n.Until, string(n.Kind), n.Slot, moved)
	}
	fmt.Fprintf(a.out, "%d nudges from %s to %s\n", len(p.Nudges), from, to)
	w.flush()
	if len(p.Dropped) == 0 {
		return nil
	}
	fmt.Fprintf(a.out, "\n%d dropped\n", len(p.Dropped))
	d := newTable(a.out, "kind", "slot", "reason")
	for _, n := range p.Dropped {
		d.row(string(n.Kind), n.Slot, n.Reason)
	}
	d.flush()
	return nil
}
