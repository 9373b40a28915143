package main

import (
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// told is a record of 1 to 20 June 2026 whose bands begin on the first, with
// flags, and its figures.
func told(t *testing.T, edit func(r *compliance.Record), flags ...plan.FlagKind) (*compliance.Record, *compliance.Figures) {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.ReadPlan("", []byte(`{"aligner_start":"2026-05-18","days_per_tray":10,"trays":24,
		"bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[13],"lower":[46],"lumen_mm":6.35,"force_oz":4.5,"latex":true}]}`))
	if err != nil {
		t.Fatal(err)
	}
	first := plan.NewDate(2026, 6, 1)
	r := &compliance.Record{Zone: zone, AsOf: time.Date(2026, 6, 20, 16, 0, 0, 0, time.UTC), Plan: p, Settings: compliance.DefaultSettings(),
		Window: compliance.Window{From: first, To: first.AddDays(19)}}
	for _, f := range flags {
		r.Flags = append(r.Flags, plan.Flag{At: r.AsOf.Add(-48 * time.Hour), What: f})
	}
	if edit != nil {
		edit(r)
	}
	f, err := compliance.Compute(r)
	if err != nil {
		t.Fatal(err)
	}
	return r, f
}

// totals states so many hours for each day from 1 June on.
func totals(r *compliance.Record, hours ...float64) {
	for i, h := range hours {
		d := r.Window.From.AddDays(i)
		r.Reports = append(r.Reports, plan.Report{At: plan.DayEnd(d, r.Zone).Add(time.Hour), What: plan.ReportWornTotal, Day: d, Hours: h})
	}
}

func repeated(n int, h float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = h
	}
	return out
}

func TestSayings(t *testing.T) {
	bag := func(n int) func(*compliance.Record) {
		return func(r *compliance.Record) { r.Plan.Bags = []plan.Bag{{Date: r.Window.From, Count: n}} }
	}
	for _, tt := range []struct {
		name  string
		edit  func(*compliance.Record)
		flags []plan.FlagKind
		want  []string // each stands among them
		not   string   // stands in none
	}{
		{"new", nil, nil, []string{"Watch them put a set in"}, "Hand out"},
		{"steady", func(r *compliance.Record) { totals(r, repeated(10, 22)...) }, nil, []string{"going well by what they report"}, "easier"},
		{"slipping", func(r *compliance.Record) { totals(r, repeated(8, 15)...) }, nil, []string{"Ask what gets in the way"}, "going well"},
		{"slipping long enough to be called", func(r *compliance.Record) { totals(r, repeated(12, 15)...) }, nil, []string{"Ask what gets in the way"}, "going well"},
		{"broken", nil, []plan.FlagKind{plan.FlagBroken}, []string{"mend it"}, ""},
		{"jaw", nil, []plan.FlagKind{plan.FlagJaw}, []string{"before anything else"}, ""},
		{"a question", nil, []plan.FlagKind{plan.FlagQuestion}, []string{"asked something"}, ""},
		{"out of bands", nil, []plan.FlagKind{plan.FlagOutOfBands}, []string{"Hand out a bag now"}, ""},
		// One prescription changed four times a day: four bands a day, from 1 June.
		{"bands for 14 days more", bag(4 * 33), nil, []string{"Hand out a bag today"}, ""},
		{"bands for 15 days more", bag(4 * 34), nil, nil, "Hand out"},
		{"bands ran out today", bag(4 * 19), nil, []string{"have run out"}, "today"},
		// Nobody is handed the very thing that may harm them.
		{"allergy and out of bands", bag(4), []plan.FlagKind{plan.FlagAllergy, plan.FlagOutOfBands},
			[]string{"Hand out no bands before the doctor has decided", "are latex"}, "Hand out a bag"},
		{"allergy to a band without latex", func(r *compliance.Record) { r.Plan.Bands[0].Latex = false }, []plan.FlagKind{plan.FlagAllergy}, []string{"Hand out no bands"}, "latex"},
		{"closed", func(r *compliance.Record) {
			r.Flags = []plan.Flag{{At: r.AsOf.Add(-48 * time.Hour), What: plan.FlagAllergy, Closed: r.AsOf}}
		}, nil, nil, "allergy"},
		{"sore at the last", func(r *compliance.Record) {
			r.Reports = append(r.Reports, plan.Report{At: r.AsOf.Add(-time.Hour), What: plan.ReportSoreness, Value: 4})
		}, nil, []string{"Ask where it hurts"}, ""},
		{"hardly sore", func(r *compliance.Record) {
			r.Reports = append(r.Reports, plan.Report{At: r.AsOf.Add(-time.Hour), What: plan.ReportSoreness, Value: 3})
		}, nil, nil, "hurts"},
	} {
		r, f := told(t, tt.edit, tt.flags...)
		all := strings.Join(sayings(r, f), "\n")
		for _, w := range tt.want {
			if !strings.Contains(all, w) {
				t.Errorf("%s (%s): %q is not among\n%s", tt.name, f.Standing, w, all)
			}
		}
		if tt.not != "" && strings.Contains(all, tt.not) {
			t.Errorf("%s (%s): %q stands in\n%s", tt.name, f.Standing, tt.not, all)
		}
		for _, blame := range []string{"should have", "failed", "their fault", "not wearing", "must", "lazy", "again and again", "disappoint", "!"} {
			if strings.Contains(strings.ToLower(all), blame) {
				t.Errorf("%s: blames by %q:\n%s", tt.name, blame, all)
			}
		}
	}
}

// While a patient is quiet nothing is known of the bite, whatever the numbers
// say; an assumption is called one; what is not known is not zero.
func TestForecastWords(t *testing.T) {
	measured := func(r *compliance.Record) {
		four := 4.0
		r.Visits = []compliance.Visit{{Date: r.Window.From, Overjet: &four}}
	}
	nudges := func(r *compliance.Record) {
		for i := range 5 {
			due := plan.DayStart(plan.NewDate(2026, 6, 14), r.Zone).Add(time.Duration(24*i+8) * time.Hour)
			r.Nudges = append(r.Nudges, compliance.Nudge{Kind: plan.BandChange, Slot: plan.DateOf(due, r.Zone).String() + "/PCM",
				Due: due, Until: due.Add(time.Hour), Outcome: compliance.OutcomeAccepted})
		}
	}
	for _, tt := range []struct {
		name string
		edit func(*compliance.Record)
		want string
		not  string
	}{
		{"nothing measured", func(r *compliance.Record) { totals(r, repeated(10, 22)...) }, "not known, nothing was measured at a visit yet", "Assumption"},
		{"nothing judged", measured, "not known, fewer than two days can be judged", "Assumption"},
		{"one reading", func(r *compliance.Record) { measured(r); totals(r, repeated(10, 22)...) }, "Assumption, from a usual rate", "From the readings"},
		// The last total, of 5 June, came in an hour into the 6th.
		{"quiet", func(r *compliance.Record) { measured(r); nudges(r); totals(r, repeated(5, 22)...) }, "not known, no answer since 6 Jun 2026", "Worn as prescribed"},
		{"two readings", func(r *compliance.Record) {
			measured(r)
			three := 3.5
			r.Visits = append(r.Visits, compliance.Visit{Date: r.Window.From.AddDays(15), Overjet: &three})
			totals(r, repeated(19, 22)...)
		}, "From the readings: bite done", "Assumption"},
	} {
		r, f := told(t, tt.edit)
		all := strings.Join(forecastWords(&r.Plan, f), "\n")
		if !strings.Contains(all, tt.want) || strings.Contains(all, tt.not) || !strings.Contains(all, "Aligners end: 13 Jan 2027") {
			t.Errorf("%s (%s):\n%s\nwant %q and not %q", tt.name, f.Standing, all, tt.want, tt.not)
		}
		if tt.want != "" && strings.Contains(all, "bite done") && !strings.Contains(all, "aligners and growth share it") {
			t.Errorf("%s: credits the change to the bands alone:\n%s", tt.name, all)
		}
	}
	r, f := told(t, nil)
	for _, s := range []string{hourWords(f)[0], trendWords(f.Trend), supplyWords(f.Supply, plan.DateOf(r.AsOf, r.Zone))} {
		if !strings.Contains(s, "not known") {
			t.Errorf("what is not known is told as %q", s)
		}
	}
}
