package chart

import (
	"math"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// drawn is a record whose figures are made by hand, so that what is drawn is
// known beforehand: two usable days, and points as given.
func drawn(t *testing.T, asOf string, points, finish compliance.Points, prescribed, end string) (*compliance.Record, *compliance.Figures) {
	t.Helper()
	r := &compliance.Record{Zone: time.UTC, AsOf: plan.Instant(date(t, asOf), 12*60, time.UTC)}
	r.Plan.Appliance = plan.Aligners
	f := &compliance.Figures{Days: []compliance.Day{{Usable: true}, {Usable: true}}}
	f.Forecast.Basis = compliance.Readings
	f.Forecast.Measures.Left = &compliance.Measure{Points: points}
	f.Forecast.Finish = finish
	if prescribed != "" {
		f.Forecast.AsPrescribed.Median = date(t, prescribed)
	}
	if end != "" {
		f.Forecast.AlignerEnd = date(t, end)
	}
	return r, f
}

// said is what a picture says in each of its forms, its lines joined.
func said(tb failing, p Picture) map[string]string {
	var seen []string
	for _, e := range elements(tb, p.SVG) {
		if e.name == "text" {
			seen = append(seen, e.text)
		}
	}
	return map[string]string{"picture": strings.Join(seen, " "), "desc": p.Desc, "text": strings.Join(strings.Fields(p.Text), " ")}
}

// The places along the axis are in proportion to the days.
func TestFanIsToScale(t *testing.T) {
	left := compliance.Points{Early: date(t, "2027-01-10"), Median: date(t, "2027-02-01"), Late: date(t, "2027-04-15")}
	whole := compliance.Points{Early: date(t, "2027-02-10"), Median: date(t, "2027-03-01"), Late: date(t, "2027-06-15")}
	r, f := drawn(t, "2026-12-01", left, whole, "2027-02-20", "2027-05-01")
	svg := Fan(r, f).SVG
	var spans, medians []float64
	for _, m := range boxPath.FindAllStringSubmatch(path(t, svg, "chart-span"), -1) {
		spans = append(spans, float(t, m[1]), float(t, m[1])+float(t, m[3]))
	}
	for _, m := range dotPath.FindAllStringSubmatch(path(t, svg, "chart-median"), -1) {
		medians = append(medians, float(t, m[1])+float(t, m[3]))
	}
	var uprights []float64 // in the legend today and the end, then the same in each row
	for _, e := range elements(t, svg) {
		if e.attr["class"] == "chart-upright" {
			uprights = append(uprights, float(t, strings.Fields(e.attr["d"][1:])[0]))
		}
	}
	diamonds := diamondPath.FindAllStringSubmatch(path(t, svg, "chart-prescribed"), -1)
	if len(spans) != 4 || len(medians) != 2 || len(uprights) != 6 || len(diamonds) != 1 {
		t.Fatalf("spans %v, medians %v, uprights %v, diamonds %v", spans, medians, uprights, diamonds)
	}
	today, end := uprights[2], uprights[3]
	unit := (end - today) / 151 // 30 days of December to its last, 31, 28, 31, 30 and one: 1 December to 1 May
	for what, pair := range map[string][2]float64{
		"left early":  {spans[0], 40},
		"left late":   {spans[1], 135},
		"left median": {medians[0], 62},
		"early":       {spans[2], 71},
		"late":        {spans[3], 196},
		"median":      {medians[1], 90},
		"prescribed":  {float(t, diamonds[0][1]), 81},
		"today again": {uprights[4], 0},
		"end again":   {uprights[5], 151},
	} {
		if got := (pair[0] - today) / unit; math.Abs(got-pair[1]) > .05 {
			t.Errorf("%s stands at day %.2f, want %v", what, got, pair[1])
		}
	}
}

func TestFanSaysNever(t *testing.T) {
	some := compliance.Points{Early: date(t, "2027-01-10"), Median: date(t, "2027-02-01"), Late: date(t, "2027-04-15")}
	noLate, noMedian := some, some
	noLate.Late, noMedian.Late, noMedian.Median = plan.Date{}, plan.Date{}, plan.Date{}
	for _, tt := range []struct {
		finish  compliance.Points
		words   string
		row     []string
		spans   int // outlines of spans, of which the left side has one
		medians int
		arrows  int
	}{
		{some, "Finish: 1 Feb 2027 (10 Jan 2027 to 15 Apr 2027)", []string{"10 Jan 2027", "1 Feb 2027", "15 Apr 2027"}, 2, 2, 0},
		{noLate, "Finish: 1 Feb 2027 (from 10 Jan 2027 to never within three years)", []string{"10 Jan 2027", "1 Feb 2027", "never within three years"}, 2, 2, 1},
		{noMedian, "Finish: never within three years in more than half of the outcomes, in 1 of 10 by 10 Jan 2027", []string{"10 Jan 2027", "never within three years", "never within three years"}, 2, 1, 1},
		{compliance.Points{}, "Finish: never within three years in more than 9 of 10 outcomes", []string{"never within three years", "never within three years", "never within three years"}, 1, 1, 1},
	} {
		r, f := drawn(t, "2026-12-01", some, tt.finish, "", "2027-05-01")
		p := Fan(r, f)
		for form, s := range said(t, p) {
			if !strings.Contains(s, tt.words) {
				t.Errorf("the %s does not say %q: %s", form, tt.words, s)
			}
		}
		if got := strings.Join(p.Rows[1][1:4], "|"); got != strings.Join(tt.row, "|") {
			t.Errorf("row %q, want %q", p.Rows[1], tt.row)
		}
		if p.Rows[2][2] != "never within three years" || !strings.Contains(said(t, p)["picture"], "Worn as prescribed from tomorrow: never within three years.") {
			t.Errorf("as prescribed: %q", p.Rows[2])
		}
		spans := strings.Count(path(t, p.SVG, "chart-span"), "M")
		medians := len(dotPath.FindAllString(path(t, p.SVG, "chart-median"), -1))
		arrows := strings.Count(path(t, p.SVG, "chart-beyond"), "M")
		if spans != tt.spans || medians != tt.medians || arrows != tt.arrows {
			t.Errorf("%s: %d spans, %d medians, %d arrows", tt.words, spans, medians, arrows)
		}
		if beyond := strings.Contains(p.SVG, "later than three years"); beyond != (tt.arrows > 0) {
			t.Errorf("%s: the legend explains the arrow: %v", tt.words, beyond)
		}
	}
}

func TestFanSaysWhyNot(t *testing.T) {
	for _, tt := range []struct {
		name  string
		spoil func(*compliance.Record)
		why   string
	}{
		{"no visit", func(r *compliance.Record) { r.Visits = nil }, "nothing was measured at a visit in this time."},
		{"no day", func(r *compliance.Record) { r.Reports = nil }, "fewer than two days can be judged."},
		{"one day", func(r *compliance.Record) {
			r.Reports = r.Reports[:8]
			r.AsOf = plan.Instant(date(t, "2026-06-02"), 18*60, r.Zone)
		}, "fewer than two days can be judged."},
		{"neither", func(r *compliance.Record) { r.Reports, r.Visits = nil, nil }, "nothing was measured at a visit in this time, and fewer than two days can be judged."},
	} {
		r := answered(t, "UTC", "2026-06-01", 14)
		tt.spoil(r)
		p := Fan(r, figures(t, r))
		forms := said(t, p)
		forms["table"] = strings.Join(p.Rows[0], " ")
		for form, s := range forms {
			if !strings.Contains(s, "There is no forecast: "+tt.why) {
				t.Errorf("%s: the %s does not say why: %s", tt.name, form, s)
			}
		}
		if !strings.Contains(forms["picture"], "Aligners end: 14 Mar 2027.") || path(t, p.SVG, "chart-span") != "" {
			t.Errorf("%s: the picture says %s", tt.name, forms["picture"])
		}
	}
}

// An assumption is called one wherever it is shown, readings are not.
func TestFanNamesItsBasis(t *testing.T) {
	for days, assumed := range map[int]bool{14: true, 90: false} {
		r := answered(t, "UTC", "2026-06-01", days)
		f := figures(t, r)
		if (f.Forecast.Basis == compliance.Assumption) != assumed {
			t.Fatalf("%d days rest on %s", days, f.Forecast.Basis)
		}
		p := Fan(r, f)
		for form, s := range said(t, p) {
			if strings.Contains(s, "Assumption: no measure was read twice") != assumed || strings.Contains(s, "rests on readings") == assumed {
				t.Errorf("%d days: the %s is wrong about its basis", days, form)
			}
			if !strings.Contains(s, "though aligners and growth share it") {
				t.Errorf("%d days: the %s credits bands alone", days, form)
			}
		}
		for _, row := range p.Rows[:5] { // three measures, the finish and as prescribed
			if strings.Contains(row[4], "assumption") != assumed {
				t.Errorf("%d days: row %q", days, row)
			}
		}
	}
}

func TestFanKnowsTheAppliance(t *testing.T) {
	for _, s := range scenes {
		if s.name != "braces" && s.name != "quarter" {
			continue
		}
		p := s.pictures(t)["fan"]
		if got := p.Rows[len(p.Rows)-1][0]; got != map[string]string{"braces": "Planned end", "quarter": "Aligners end"}[s.name] {
			t.Errorf("%s: %s", s.name, got)
		}
		if braces := s.name == "braces"; strings.Contains(p.SVG, "planned end, 1 Sep 2026") != braces || strings.Contains(p.SVG, "aligners end, ") == braces {
			t.Errorf("%s names another end", s.name)
		}
	}
}

// While a patient is quiet the lag is not known, whatever the numbers say.
func TestFanOfTheQuiet(t *testing.T) {
	r := answered(t, "UTC", "2026-06-01", 60)
	r.AsOf = plan.Instant(date(t, "2026-08-10"), 12*60, time.UTC)
	for d := date(t, "2026-07-31"); d.Before(date(t, "2026-08-10")); d = d.AddDays(1) {
		due := plan.Instant(d, 8*60, time.UTC)
		r.Nudges = append(r.Nudges, compliance.Nudge{Kind: plan.BandChange, Slot: d.String() + "/PCM", Due: due, Until: due.Add(90 * time.Minute), Outcome: compliance.OutcomeAccepted})
	}
	f := figures(t, r)
	if f.Standing != compliance.Quiet {
		t.Fatalf("stands %s", f.Standing)
	}
	p := Fan(r, f)
	want := "not known, no answer since " + long(f.LastAnswer)
	for form, s := range said(t, p) {
		if !strings.Contains(s, "Lag: "+want) || strings.Contains(s, "weeks behind") {
			t.Errorf("the %s: %s", form, s)
		}
	}
	if row := p.Rows[len(p.Rows)-2]; row[0] != "Lag" || row[4] != want {
		t.Errorf("row %q", row)
	}
}

func TestFanShowsTheWrongWay(t *testing.T) {
	for _, s := range scenes {
		if s.name == "never" {
			p := s.pictures(t)["fan"]
			if !strings.Contains(p.Rows[0][4], "the readings go the wrong way") || strings.Contains(p.Rows[1][4], "wrong way") || strings.Count(p.Text, "wrong way") != 1 {
				t.Errorf("rows %q", p.Rows)
			}
		}
	}
}

// One cell a day: the marks stand on their days, the greater over the less.
func TestFanOfTheTerminal(t *testing.T) {
	first := date(t, "2027-01-01")
	m := &fan{from: first, to: first.AddDays(fanCells), today: first.AddDays(2), end: first.AddDays(40)}
	on := func(n int) plan.Date { return first.AddDays(n) }
	for _, tt := range []struct {
		row  fanRow
		want string
	}{
		{fanRow{Points: compliance.Points{Early: on(5), Median: on(8), Late: on(12)}}, "  :  [==O===]" + strings.Repeat(" ", 27) + "E"},
		{fanRow{Points: compliance.Points{Early: on(36), Median: on(40), Late: on(44)}, prescribed: on(38)}, "  :" + strings.Repeat(" ", 33) + "[=P=O===]"},
		{fanRow{Points: compliance.Points{Early: on(70), Median: on(73)}}, "  :" + strings.Repeat(" ", 37) + "E" + strings.Repeat(" ", 29) + "[==O=>"},
		{fanRow{Points: compliance.Points{Early: on(74)}}, "  :" + strings.Repeat(" ", 37) + "E" + strings.Repeat(" ", 33) + "[>"},
		{fanRow{}, "  :" + strings.Repeat(" ", 37) + "E" + strings.Repeat(" ", 34) + ">"},
		{fanRow{Points: compliance.Points{Early: on(2), Median: on(2), Late: on(2)}, prescribed: on(2)}, "  O" + strings.Repeat(" ", 37) + "E"},
	} {
		if got := strings.TrimRight(m.cells(tt.row), " "); got != tt.want {
			t.Errorf("%+v:\ngot  %q\nwant %q", tt.row.Points, got, tt.want)
		}
	}
}
