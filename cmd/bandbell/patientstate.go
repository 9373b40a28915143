package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

// change opens the database and runs one act on one patient.
func (a *app) change(c *cobra.Command, what string, act func(ctx context.Context, db *store.DB, now time.Time) error) error {
	now, err := a.now()
	if err != nil {
		return err
	}
	db, _, err := a.open()
	if err != nil {
		return err
	}
	defer db.Close()
	if err := act(c.Context(), db, now); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

func (a *app) patientConsentVerb() *cobra.Command {
	var how, by, addr string
	c := &cobra.Command{
		Use:     "consent PATIENT",
		Short:   "Record that the people written to have agreed to e-mail",
		Long:    "Record consent to e-mail, after the risk of e-mail was explained. Nothing is sent without it.",
		Example: `  bandbell patient consent K7MQ2X --how paper --by "Ana at the desk"`,
		Args:    exactly(1, "a PATIENT"),
	}
	c.Flags().StringVar(&how, "how", "", "how it was given: paper, phone or email")
	c.Flags().StringVar(&by, "by", "", "`WHO` recorded it")
	c.Flags().StringVar(&addr, "address", "", "only for this `ADDRESS` (default: everyone written to about the patient)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if how != "paper" && how != "phone" && how != "email" {
			return usage("--how is needed: paper, phone or email")
		}
		if strings.TrimSpace(by) == "" {
			return usage("--by is needed: who recorded the consent")
		}
		return a.change(c, "record consent", func(ctx context.Context, db *store.DB, now time.Time) error {
			return db.GiveConsent(ctx, args[0], addr, plan.Consent{At: now, How: how, By: by, Text: consentText}, actor)
		})
	}
	return c
}

// consentText names the warning about e-mail that a clinic reads out or hands
// over before consent is recorded by staff; its wording is the clinic's.
const consentText = "clinic"

func (a *app) patientStopVerb() *cobra.Command {
	return &cobra.Command{
		Use: "stop PATIENT", Short: "Stop every message to a patient, for good", Args: exactly(1, "a PATIENT"),
		RunE: func(c *cobra.Command, args []string) error {
			return a.change(c, "stop messages", func(ctx context.Context, db *store.DB, now time.Time) error {
				return db.Stop(ctx, args[0], actor, now)
			})
		},
	}
}

func (a *app) patientPauseVerb() *cobra.Command {
	var from, to, of string
	c := &cobra.Command{
		Use:     "pause PATIENT",
		Short:   "Pause the messages, or the bands, for some days",
		Example: `  bandbell patient pause K7MQ2X --from 2026-07-01 --to 2026-07-05`,
		Args:    exactly(1, "a PATIENT"),
	}
	c.Flags().StringVar(&from, "from", "", "first paused `DATE`")
	c.Flags().StringVar(&to, "to", "", "last paused `DATE`")
	c.Flags().StringVar(&of, "of", string(plan.PauseMail), "what is paused: mail (wear goes on) or bands (the doctor stopped them)")
	c.RunE = func(c *cobra.Command, args []string) error {
		first, err := date("from", from)
		if err != nil {
			return err
		}
		last, err := date("to", to)
		if err != nil {
			return err
		}
		if of != string(plan.PauseMail) && of != string(plan.PauseBands) {
			return usage("--of %q is not known\n  hint: mail or bands", of)
		}
		if last.Before(first) {
			return usage("--to %s lies before --from %s", last, first)
		}
		return a.change(c, "pause", func(ctx context.Context, db *store.DB, now time.Time) error {
			return revise(ctx, db, args[0], now, func(p *plan.Plan, _ plan.Date) {
				p.Pauses = append(p.Pauses, plan.Pause{From: first, To: last, Of: plan.PauseOf(of)})
			})
		})
	}
	return c
}

func (a *app) patientResumeVerb() *cobra.Command {
	var lift bool
	c := &cobra.Command{
		Use:   "resume PATIENT",
		Short: "End a pause or a stop, from today on",
		Long: `End a pause or a stop from today on. A safety hold stays unless --lift-hold is
given: lift it only after somebody has spoken with the patient.`,
		Args: exactly(1, "a PATIENT"),
	}
	c.Flags().BoolVar(&lift, "lift-hold", false, "lift a safety hold too, and close the flags that made it")
	c.RunE = func(c *cobra.Command, args []string) error {
		return a.change(c, "resume", func(ctx context.Context, db *store.DB, now time.Time) error {
			if err := revise(ctx, db, args[0], now, endPauses); err != nil {
				return err
			}
			if err := db.Resume(ctx, args[0], actor, now); err != nil {
				return err
			}
			if lift {
				return db.LiftHold(ctx, args[0], actor, now)
			}
			return nil
		})
	}
	return c
}

// endPauses cuts every pause so that today is not paused.
func endPauses(p *plan.Plan, today plan.Date) {
	var kept []plan.Pause
	for _, e := range p.Pauses {
		if !e.To.Before(today) && !e.From.After(today) {
			e.To = today.AddDays(-1)
		}
		if !e.To.Before(e.From) {
			kept = append(kept, e)
		}
	}
	p.Pauses = kept
}

// revise writes a new version of a patient's plan, in force from today. A
// patient without a plan has nothing to revise.
func revise(ctx context.Context, db *store.DB, ref string, now time.Time, edit func(p *plan.Plan, today plan.Date)) error {
	v, err := db.Plan(ctx, ref)
	if err != nil {
		return err
	}
	loc, err := time.LoadLocation(v.Zone)
	if err != nil {
		return err
	}
	today := plan.DateOf(now, loc)
	first := today
	if v.First.After(today) {
		first = v.First
	}
	before, err := v.Plan.MarshalJSON()
	if err != nil {
		return err
	}
	edit(&v.Plan, today)
	after, err := v.Plan.MarshalJSON()
	if err != nil || string(before) == string(after) {
		return err
	}
	_, err = db.SetPlan(ctx, ref, v.Plan, first, actor, now)
	return err
}

func (a *app) patientExportVerb() *cobra.Command {
	var from, to string
	c := &cobra.Command{
		Use:   "export PATIENT",
		Short: "Print a patient's record, from which figures can be worked out anywhere",
		Args:  exactly(1, "a PATIENT"),
	}
	c.Flags().StringVar(&from, "from", "", "first local `DATE` of the window (default: the first day of wear)")
	c.Flags().StringVar(&to, "to", "", "last local `DATE` of the window (default: today)")
	c.RunE = func(c *cobra.Command, args []string) error {
		r, err := a.patientRecord(c.Context(), args[0], from, to)
		if err != nil {
			return err
		}
		return a.print(r)
	}
	return c
}

// patientRecord reads one patient's record from the database.
func (a *app) patientRecord(ctx context.Context, ref, from, to string) (*compliance.Record, error) {
	now, err := a.now()
	if err != nil {
		return nil, err
	}
	var window compliance.Window
	if from != "" {
		if window.From, err = date("from", from); err != nil {
			return nil, err
		}
	}
	if to != "" {
		if window.To, err = date("to", to); err != nil {
			return nil, err
		}
	}
	db, _, err := a.open()
	if err != nil {
		return nil, err
	}
	defer db.Close()
	r, err := db.PatientRecord(ctx, ref, now, nil)
	if err == nil && (from != "" || to != "") {
		if from == "" {
			window.From = r.Window.From
		}
		if to == "" {
			window.To = r.Window.To
		}
		if window.To.Before(window.From) {
			return nil, usage("the window ends on %s, before it begins on %s", window.To, window.From)
		}
		r, err = db.PatientRecord(ctx, ref, now, &window)
	}
	if err != nil {
		return nil, fmt.Errorf("read the record of patient %s: %w", ref, err)
	}
	return r, nil
}
