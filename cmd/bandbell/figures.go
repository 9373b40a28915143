package main

import (
	"fmt"
	"strings"

	"bandbell/cmd/bandbell/chart"
	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

func (a *app) figuresVerb() *cobra.Command {
	var record, from, to string
	var raster bool
	c := &cobra.Command{
		Use:   "figures PATIENT",
		Short: "Print the hours, counts and standing worked out from the answers",
		Long: `Print what the answers of one patient come to: hours worn with their bounds,
working hours, counts, trend, silence, forecast, supply, soreness and standing.
Bounds come first: at least, at most, and about in between. All hours are as reported by the patient,
not measured.`,
		Example: `  bandbell figures K7MQ2X
  bandbell figures --record patient.json --json`,
		Args: cobra.MaximumNArgs(1),
	}
	c.Flags().StringVar(&record, "record", "", "work from this record `FILE` (- is standard input), without a database")
	c.Flags().StringVar(&from, "from", "", "first local `DATE` of the window (default: the first day of wear)")
	c.Flags().StringVar(&to, "to", "", "last local `DATE` of the window (default: today)")
	c.Flags().BoolVar(&raster, "raster", false, "show the wear by time of day too, a row a day")
	c.RunE = func(c *cobra.Command, args []string) error {
		if (record == "") == (len(args) == 0) {
			return usage("figures needs either a PATIENT or --record FILE\n  hint: bandbell figures --help")
		}
		var r *compliance.Record
		if record != "" {
			b, err := a.input(record)
			if err != nil {
				return err
			}
			if r, err = compliance.ReadRecord(inputName(record), b); err != nil {
				return err
			}
		} else {
			var err error
			if r, err = a.patientRecord(c.Context(), args[0], from, to); err != nil {
				return err
			}
		}
		f, err := compliance.Compute(r)
		if err != nil {
			return fmt.Errorf("work out the figures: %w", err)
		}
		if a.json {
			return a.print(f)
		}
		return a.printFigures(r, f, raster)
	}
	return c
}

func (a *app) printFigures(r *compliance.Record, f *compliance.Figures, raster bool) error {
	today := plan.DateOf(r.AsOf, r.Zone)
	fmt.Fprintf(a.out, "%s to %s, as of %s. Hours are as reported, not measured; \"not known\" is not zero.\n",
		r.Window.From, r.Window.To, r.AsOf.In(r.Zone).Format("2 Jan 2006 15:04 MST"))
	t := newTable(a.out, "day", "at least", "at most", "about", "on", "off", "not known", "working", "")
	for _, d := range f.Days {
		remark := ""
		switch {
		case d.Stated:
			remark = "total stated"
		case !d.Usable:
			remark = "cannot be judged"
		}
		t.row(d.Date.String(), hours(float64(d.Worn.Low)), hours(float64(d.Worn.High)), hours(float64(d.Worn.Point)),
			hours(float64(d.On)), hours(float64(d.Off)), hours(float64(d.Unknown)),
			fmt.Sprintf("%s-%s, %s", hours(float64(d.Working.Low)), hours(float64(d.Working.High)), hours(float64(d.Working.Point))), remark)
	}
	t.flush()
	if raster {
		p, err := chart.Raster(r)
		if err != nil {
			return err
		}
		fmt.Fprintf(a.out, "\n%s", p.Text)
	}
	lines := hourWords(f)
	lines = append(lines, trendWords(f.Trend), silenceWords(f))
	lines = append(lines, forecastWords(&r.Plan, f)...)
	lines = append(lines, supplyWords(f.Supply, today), sorenessWords(&r.Plan, f, today), boundsIf)
	_, err := fmt.Fprintf(a.out, "\n%s\nstanding: %s\n  %s\n", strings.Join(lines, "\n"), f.Standing, strings.Join(f.Why, "\n  "))
	return err
}

// hours writes minutes as hours and minutes.
func hours(minutes float64) string {
	m := int(minutes + 0.5)
	return fmt.Sprintf("%d:%02d", m/60, m%60)
}
