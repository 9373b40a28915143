package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/scheduler/timetable"
	"bandbell/store"

	"github.com/spf13/cobra"
)

func (a *app) planVerbs() *cobra.Command {
	c := &cobra.Command{Use: "plan", Short: "Set and show a patient's plan; preview its nudges; reckon a pull", RunE: needVerb}
	c.AddCommand(a.planSetVerb(), a.planShowVerb(), a.planPreviewVerb(), a.planPullVerb())
	return c
}

func (a *app) planSetVerb() *cobra.Command {
	var from string
	c := &cobra.Command{
		Use:   "set PATIENT FILE",
		Short: "Write a new version of a patient's plan",
		Long: `Write a new version of a patient's plan, read from a JSON file (the "plan" of a
record; README describes it). It takes effect from a local day on; days before
it keep the plan they had. Every fault of the file is told at once.`,
		Example: `  bandbell plan set K7MQ2X plan.json
  bandbell plan set K7MQ2X plan.json --from 2026-09-01`,
		Args: exactly(2, "a PATIENT and a FILE"),
	}
	c.Flags().StringVar(&from, "from", "", "first local `DATE` it is in force (default today)")
	c.RunE = func(c *cobra.Command, args []string) error {
		ref, file := args[0], args[1]
		b, err := a.input(file)
		if err != nil {
			return err
		}
		doc, err := plan.ReadDocument(inputName(file), b)
		if err != nil {
			return err
		}
		p := plan.DecodePlan(doc.Object(doc.Root, ""))
		return a.change(c, "set the plan", func(ctx context.Context, db *store.DB, now time.Time) error {
			patient, err := db.Patient(ctx, ref)
			if err != nil {
				return err
			}
			doc.FaultAt("", p.CheckFor(patient.LatexAllergy))
			if err := doc.Err(); err != nil {
				return err
			}
			loc, err := time.LoadLocation(patient.Zone)
			if err != nil {
				return err
			}
			first := plan.DateOf(now, loc)
			if from != "" {
				if first, err = date("from", from); err != nil {
					return err
				}
			}
			n, err := db.SetPlan(ctx, ref, p, first, actor, now)
			if err != nil {
				return err
			}
			for _, m := range timetable.Swallowed(&p) {
				fmt.Fprintf(a.err, "warning: the nudge after %s at %s always falls into the quiet hours and is never sent\n", m.Code, m.At)
			}
			if a.json {
				return a.print(map[string]any{"patient": ref, "version": n, "from": first})
			}
			fmt.Fprintf(a.err, "version %d of the plan is in force from %s. See what will be sent: bandbell plan preview %s\n", n, first, ref)
			return nil
		})
	}
	return c
}

func (a *app) planShowVerb() *cobra.Command {
	return &cobra.Command{
		Use: "show PATIENT", Short: "Show a patient's plan", Args: exactly(1, "a PATIENT"),
		RunE: func(c *cobra.Command, args []string) error {
			db, cfg, err := a.open()
			if err != nil {
				return err
			}
			defer db.Close()
			v, err := db.Plan(c.Context(), args[0])
			if err != nil {
				return fmt.Errorf("show the plan of patient %s: %w", args[0], err)
			}
			if a.json {
				b, err := json.Marshal(v.Plan)
				if err != nil {
					return err
				}
				return a.print(map[string]any{"patient": args[0], "version": v.Number, "from": v.First, "zone": v.Zone,
					"created": v.Created.UTC().Format(time.RFC3339), "plan": json.RawMessage(b)})
			}
			a.printPlan(args[0], v, cfg.Clinic.Notation)
			return nil
		},
	}
}

func (a *app) printPlan(ref string, v plan.Version, n plan.Notation) {
	p := &v.Plan
	t := newTable(a.out, "patient", fmt.Sprintf("%s, plan version %d, in force from %s, zone %s", ref, v.Number, v.First, v.Zone))
	if p.Appliance == plan.Aligners {
		t.row("aligners", fmt.Sprintf("from %s, %d trays of %d days, to %s", p.AlignerStart, p.Trays, p.DaysPerTray, p.TreatmentEnd()))
	} else {
		t.row("braces", "planned end "+p.PlannedEnd.String())
	}
	end := "open"
	if !p.BandsEnd.IsZero() {
		end = "to " + p.BandsEnd.String()
	}
	t.row("bands", fmt.Sprintf("from %s, %s; %v h and %d changes a day", p.Start(), end, p.HoursPerDay, p.ChangesPerDay))
	for _, w := range p.Wear {
		nights := ""
		if w.Nights {
			nights = ", nights only"
		}
		t.row("  from "+w.From.String(), fmt.Sprintf("%v h and %d changes a day%s", w.HoursPerDay, w.ChangesPerDay, nights))
	}
	for _, b := range p.Bands {
		to := ""
		if !b.To.IsZero() {
			to = " to " + b.To.String()
		}
		material := "non-latex"
		if b.Latex {
			material = "latex"
		}
		t.row("  "+string(b.Side), fmt.Sprintf("%s, %s over %s, %s, %s, %s, from %s%s", b.Pattern, teeth(b.Upper, n), teeth(b.Lower, n), b.Lumen, b.Force, material, b.From, to))
	}
	for _, m := range p.Meals {
		t.row("meal "+string(m.Code), fmt.Sprintf("%s, %d min", m.At, m.Minutes))
	}
	if !p.Quiet.None() {
		t.row("quiet hours", fmt.Sprintf("%s to %s", p.Quiet.From, p.Quiet.To))
	}
	for _, e := range p.Pauses {
		t.row("paused ("+string(e.Of)+")", fmt.Sprintf("%s to %s", e.From, e.To))
	}
	t.flush()
}

func teeth(hooks []plan.Hook, n plan.Notation) string {
	var out []string
	for _, h := range hooks {
		s := h.Tooth.In(n)
		for _, extra := range []string{string(h.Surface), string(h.Kind)} {
			if extra != "" {
				s += " " + extra
			}
		}
		out = append(out, s)
	}
	return strings.Join(out, "+")
}
