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

func (a *app) visitVerbs() *cobra.Command {
	c := &cobra.Command{Use: "visit", Short: "Write down what was measured at the chair, and list it", RunE: needVerb}
	c.AddCommand(a.visitAddVerb(), a.visitListVerb())
	return c
}

// sideFlags are the ways one side's relation may be given.
var sideFlags = []struct {
	suffix, help string
	unit         compliance.Unit
}{
	{"mm", "in `MM`", compliance.Millimetres},
	{"quarter-cusps", "in quarters of a cusp, a whole `N`", compliance.QuarterCusps},
	{"half-cusps", "in halves of a cusp, a whole `N`", compliance.HalfCusps},
}

func (a *app) visitAddVerb() *cobra.Command {
	var on, by string
	var overjet, overjetTarget, sd float64
	var withdraw bool
	sides := []string{"left", "right"}
	var taken [2][3]float64
	var target [2]float64
	c := &cobra.Command{
		Use:   "add PATIENT",
		Short: "Write down the overjet and the relations of one visit",
		Long: fmt.Sprintf(`Write down what was measured at the chair on one day, as it was measured; the
doctor's targets are subtracted, and the record holds what is still to correct.

A side's canine or molar relation is what is off the full correction: plus where
the bands still have to pull, minus where it is beyond. It is given in mm or in
cusps, where a whole cusp counts as %v mm (common practice, no source). A reading
to the quarter cusp has a spread of %v mm, to the half cusp of %v mm, one in mm
that of the settings; the widest holds for the visit unless --sd is given.

A second visit of the same day takes the place of the first, whole; --withdraw
takes it back. What was written before stays on file.`, compliance.MMPerCusp, compliance.QuarterCuspSD, compliance.HalfCuspSD),
		Example: `  bandbell visit add K7MQ2X --date 2026-06-01 --overjet 6 --left-mm 3 --right-quarter-cusps 2 --by "Dr. Soto"`,
		Args:    exactly(1, "a PATIENT"),
	}
	f := c.Flags()
	f.StringVar(&on, "date", "", "local `DATE` of the visit")
	f.Float64Var(&overjet, "overjet", 0, "overjet measured, in `MM`")
	f.Float64Var(&overjetTarget, "overjet-target", compliance.DefaultOverjetTarget, "overjet aimed at, in `MM`")
	for i, side := range sides {
		for k, e := range sideFlags {
			f.Float64Var(&taken[i][k], side+"-"+e.suffix, 0, "relation on the "+side+", "+e.help)
		}
		f.Float64Var(&target[i], side+"-target", 0, "relation aimed at on the "+side+", in `MM` off the full correction")
	}
	f.Float64Var(&sd, "sd", 0, "spread of a reading, in `MM`, where it is known")
	f.BoolVar(&withdraw, "withdraw", false, "take back what was written for the date")
	f.StringVar(&by, "by", "", "`WHO` measured")
	c.RunE = func(c *cobra.Command, args []string) error {
		var fs plan.Faults
		fault := func(flag, what, hint string) {
			fs = append(fs, plan.Fault{Path: "--" + flag, What: what, Hint: hint})
		}
		v := store.Visit{}
		var err error
		if on == "" {
			fault("date", "is missing", "the local day of the visit, as 2026-06-01")
		} else if v.Date, err = plan.ParseDate(on); err != nil {
			fault("date", err.Error(), "")
		}
		if f.Changed("overjet") {
			v.Overjet = &compliance.Taken{Measured: overjet, Unit: compliance.Millimetres, Target: overjetTarget}
		} else if f.Changed("overjet-target") {
			fault("overjet-target", "stands without --overjet", "")
		}
		for i, to := range []**compliance.Taken{&v.Left, &v.Right} {
			for k, e := range sideFlags {
				flag := sides[i] + "-" + e.suffix
				if !f.Changed(flag) {
					continue
				}
				if *to != nil {
					fault(flag, "is the second reading of that side", "give one of -mm, -quarter-cusps and -half-cusps")
				}
				if x := taken[i][k]; e.unit != compliance.Millimetres && x != float64(int(x)) {
					fault(flag, fmt.Sprintf("%v is not a whole number", x), "2 quarter cusps are half a cusp")
				}
				*to = &compliance.Taken{Measured: taken[i][k], Unit: e.unit, Target: target[i]}
				v.SD = max(v.SD, (*to).SD())
			}
			if *to == nil && f.Changed(sides[i]+"-target") {
				fault(sides[i]+"-target", "stands without a reading of that side", "")
			}
		}
		if f.Changed("sd") {
			if v.SD = sd; !(sd > 0) {
				fault("sd", fmt.Sprintf("%v is not over 0", sd), "leave it out where it is not known")
			}
		}
		read := v.Overjet != nil || v.Left != nil || v.Right != nil
		switch {
		case withdraw && (read || f.Changed("sd")):
			fault("withdraw", "stands beside a reading", "take the day's readings back, or write new ones in their place")
		case !withdraw && !read:
			fault("overjet", "or a side's relation is needed: nothing was measured", c.CommandPath()+" --help")
		}
		if strings.TrimSpace(by) == "" {
			fault("by", "is missing", "who measured")
		}
		if err := fs.Err(); err != nil {
			return wrongUse{err}
		}
		return a.change(c, "add the visit", func(ctx context.Context, db *store.DB, now time.Time) error {
			r, err := db.AddVisit(ctx, args[0], v, by, now)
			if err != nil {
				return err
			}
			v.Still, v.By, v.At = r, by, now
			for _, e := range []*float64{r.Overjet, r.Left, r.Right} {
				if e != nil && *e < 0 {
					fmt.Fprintln(a.err, "note: a reading lies beyond its target; below zero counts as corrected")
					break
				}
			}
			if a.json {
				return a.print(struct {
					Patient string `json:"patient"`
					visitOut
				}{args[0], visitJSON(v)})
			}
			if withdraw {
				fmt.Fprintf(a.out, "%s: taken back\n", day(v.Date))
				return nil
			}
			fmt.Fprintf(a.out, "%s, still to correct: %s\n", day(v.Date), strings.Join(stillWords(r), ", "))
			return nil
		})
	}
	return c
}

func (a *app) visitListVerb() *cobra.Command {
	return &cobra.Command{
		Use: "list PATIENT", Short: "List what was measured of a patient", Args: exactly(1, "a PATIENT"),
		RunE: func(c *cobra.Command, args []string) error {
			db, _, err := a.open()
			if err != nil {
				return err
			}
			defer db.Close()
			visits, err := db.Visits(c.Context(), args[0])
			if err != nil {
				return fmt.Errorf("list the visits of patient %s: %w", args[0], err)
			}
			if a.json {
				out := []visitOut{}
				for _, v := range visits {
					out = append(out, visitJSON(v))
				}
				return a.print(map[string]any{"patient": args[0], "visits": out})
			}
			if len(visits) == 0 {
				fmt.Fprintln(a.err, "nothing was measured yet")
				return nil
			}
			t := newTable(a.out, "date", "overjet", "left", "right", "still to correct", "by")
			for _, v := range visits {
				t.row(day(v.Date), takenWords(v.Overjet), takenWords(v.Left), takenWords(v.Right), strings.Join(stillWords(v.Still), ", "), v.By)
			}
			t.flush()
			return nil
		},
	}
}

// stillWords says what is still to correct.
func stillWords(v compliance.Visit) []string {
	var out []string
	for _, e := range []struct {
		name string
		mm   *float64
	}{{"overjet", v.Overjet}, {"left", v.Left}, {"right", v.Right}} {
		if e.mm != nil {
			out = append(out, e.name+" "+millimetres(*e.mm))
		}
	}
	return out
}

// takenWords says what was measured and aimed at.
func takenWords(t *compliance.Taken) string {
	if t == nil {
		return "not read"
	}
	s := millimetres(t.Measured)
	switch t.Unit {
	case compliance.QuarterCusps:
		s = fmt.Sprintf("%.0f/4 cusp", t.Measured)
	case compliance.HalfCusps:
		s = fmt.Sprintf("%.0f/2 cusp", t.Measured)
	}
	if t.Target != 0 {
		s += ", target " + millimetres(t.Target)
	}
	return s
}

func millimetres(v float64) string {
	s := strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
	if s == "-0" {
		s = "0"
	}
	return s + " mm"
}

// visitOut is a visit as the verbs print one. The first four are what the
// record holds.
type visitOut struct {
	Date      plan.Date `json:"date"`
	OverjetMM *float64  `json:"overjet_mm"`
	LeftMM    *float64  `json:"left_mm"`
	RightMM   *float64  `json:"right_mm"`
	SDMM      *float64  `json:"sd_mm"`
	Taken     struct {
		Overjet *takenOut `json:"overjet"`
		Left    *takenOut `json:"left"`
		Right   *takenOut `json:"right"`
	} `json:"taken"`
	By string `json:"by"`
	At string `json:"at"`
}

type takenOut struct {
	Measured float64         `json:"measured"`
	Unit     compliance.Unit `json:"unit"`
	TargetMM float64         `json:"target_mm"`
}

func visitJSON(v store.Visit) visitOut {
	out := visitOut{Date: v.Date, OverjetMM: v.Still.Overjet, LeftMM: v.Still.Left, RightMM: v.Still.Right, SDMM: v.Still.SD,
		By: v.By, At: v.At.UTC().Format(time.RFC3339)}
	taken := func(t *compliance.Taken) *takenOut {
		if t == nil {
			return nil
		}
		return &takenOut{t.Measured, t.Unit, t.Target}
	}
	out.Taken.Overjet, out.Taken.Left, out.Taken.Right = taken(v.Overjet), taken(v.Left), taken(v.Right)
	return out
}

// day writes a date as staff read it: 25 Nov 2026.
func day(d plan.Date) string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, d.Month.String()[:3], d.Year)
}
