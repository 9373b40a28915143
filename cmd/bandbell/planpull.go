package main

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

// pull is what `plan pull --json` prints. Forces are grams-force.
type pull struct {
	LumenMM float64     `json:"lumen_mm"`
	ForceOz float64     `json:"force_oz"`
	SpanMM  float64     `json:"span_mm"`
	Fresh   float64     `json:"fresh_g"`
	Table   string      `json:"table"`
	Source  string      `json:"source"`
	Course  []pullPoint `json:"course"`
	Means   []pullMean  `json:"means"`
}

type pullPoint struct {
	Hours float64 `json:"hours"`
	G     float64 `json:"g"`
}

type pullMean struct {
	Changes int     `json:"changes_per_day"`
	Hours   float64 `json:"hours_each"`
	G       float64 `json:"mean_g"`
}

// pullHours are the hours at which the course is shown.
var pullHours = []float64{0, 1, 2, 4, 8, 12, 24}

func (a *app) planPullVerb() *cobra.Command {
	var lumen, force, table string
	var span, hours float64
	var changes int
	var latex bool
	var names []string
	for _, d := range compliance.Decays {
		names = append(names, d.Name)
	}
	c := &cobra.Command{
		Use:   "pull",
		Short: "Reckon what a band pulls fresh, over the hours, and with four changes a day beside one",
		Long: `Reckon what a band pulls when it is hooked over a distance, how that falls over
the hours, and what changing it more often keeps. For choosing a band; it is no
gauge. The force is taken as linear between two and five lumens, and the decay
from one published table of the bench, which a mouth will not follow exactly.`,
		Example: `  bandbell plan pull --lumen "1/4 in" --force "4.5 oz" --span 22.3 --latex`,
		Args:    exactly(0, "no argument, only flags"),
	}
	f := c.Flags()
	f.StringVar(&lumen, "lumen", "", "the band's `LUMEN`: 1/4 in or 6.35 mm")
	f.StringVar(&force, "force", "", "its rated `FORCE`: 4.5 oz or 128 g")
	f.Float64Var(&span, "span", 0, "distance from hook to hook in `MM`")
	f.Float64Var(&hours, "hours", plan.DefaultHoursPerDay, "`HOURS` worn a day")
	f.IntVar(&changes, "changes", plan.DefaultChangesPerDay, "fresh bands a day, set beside one")
	f.BoolVar(&latex, "latex", false, "a latex band")
	f.StringVar(&table, "table", "", "published decay `TABLE`: "+strings.Join(names, ", "))
	c.RunE = func(c *cobra.Command, _ []string) error {
		p, err := reckonPull(lumen, force, span, hours, changes, latex, table)
		if err != nil {
			return wrongUse{err}
		}
		if a.json {
			return a.print(p)
		}
		fmt.Fprintf(a.out, "%s band of %s over %v mm\n", plan.Lumen(p.LumenMM), plan.Force(p.ForceOz), p.SpanMM)
		t := newTable(a.out, "after", "pulls")
		for _, e := range p.Course {
			t.row(fmt.Sprintf("%v h", e.Hours), fmt.Sprintf("%.0f g", e.G))
		}
		for _, e := range p.Means {
			t.row(fmt.Sprintf("mean of %v h, %d a day", hours, e.Changes), fmt.Sprintf("%.0f g", e.G))
		}
		t.flush()
		fmt.Fprintf(a.out, "table %s: %s. For choosing, not a gauge.\n", p.Table, p.Source)
		return nil
	}
	return c
}

func reckonPull(lumen, force string, span, hours float64, changes int, latex bool, table string) (pull, error) {
	var fs plan.Faults
	fault := func(flag string, err error) {
		if err != nil {
			fs = append(fs, plan.Fault{Path: "--" + flag, What: err.Error()})
		}
	}
	l, err := plan.ParseLumen(lumen)
	fault("lumen", err)
	z, err := plan.ParseForce(force)
	fault("force", err)
	if !(hours > 0 && hours <= 24) {
		fault("hours", fmt.Errorf("%v is not between 0 and 24", hours))
	}
	if changes < 1 || changes > 24 {
		fault("changes", fmt.Errorf("%d is not between 1 and 24", changes))
	}
	decay := compliance.DecayFor(plan.Prescription{Latex: latex})
	if table != "" {
		decay, err = compliance.DecayNamed(table)
		fault("table", err)
	}
	if err := fs.Err(); err != nil {
		return pull{}, err
	}
	fresh, err := compliance.Pull(z, l, span)
	if err != nil {
		return pull{}, err
	}
	p := pull{LumenMM: float64(l), ForceOz: float64(z), SpanMM: span, Fresh: fresh, Table: decay.Name, Source: decay.Source}
	for _, h := range pullHours {
		left, err := decay.Left(h)
		if err != nil {
			return pull{}, err
		}
		p.Course = append(p.Course, pullPoint{h, fresh * left})
	}
	for _, n := range []int{1, changes} {
		each := hours / float64(n)
		left, err := decay.MeanLeft(each)
		if err != nil {
			return pull{}, err
		}
		p.Means = append(p.Means, pullMean{n, each, fresh * left})
	}
	return p, nil
}
