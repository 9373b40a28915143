package chart

import (
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// Where an answer falls between two minutes, neighbours still meet exactly.
func TestBarsMeet(t *testing.T) {
	r := answered(t, "UTC", "2026-06-01", 20)
	for i := range r.Reports {
		r.Reports[i].At = r.Reports[i].At.Add(time.Duration(i*7919) * time.Millisecond)
	}
	rows := map[float64][]rect{}
	for _, b := range bars(t, rasterOf(t, r).SVG) {
		rows[b.y] = append(rows[b.y], b)
	}
	if len(rows) != 20 {
		t.Fatalf("%d rows", len(rows))
	}
	for y, row := range rows {
		slices.SortFunc(row, func(a, b rect) int { return int(100*a.x - 100*b.x) })
		x := float64(rasterLeft)
		for _, b := range row {
			if d := b.x - x; d > 1e-6 || d < -1e-6 {
				t.Errorf("row at %v: a bar begins at %v, the last ended at %v", y, b.x, x)
			}
			x = b.x + b.w
		}
		if d := x - rasterLeft - rasterPlot; d > 1e-6 || d < -1e-6 {
			t.Errorf("row at %v ends at %v", y, x)
		}
	}
}

// A day whose clocks change says so, wherever it is shown.
func TestOddDaysSaySo(t *testing.T) {
	for _, tt := range []struct{ zone, first, day, length, course string }{
		{"America/New_York", "2026-03-06", "8 Mar", "23", "no 02:00-03:00, clocks went forward"},
		{"America/New_York", "2026-10-30", "1 Nov", "25", "01:00-02:00 worn (this hour for the second time)"},
		{"Australia/Lord_Howe", "2026-10-02", "4 Oct", "23.5", "no 02:00-02:30, clocks went forward"},
		{"Australia/Lord_Howe", "2026-04-03", "5 Apr", "24.5", "01:30-02:00 worn (this hour for the second time)"},
	} {
		for _, days := range []int{4, 60, 200} { // each height of row
			p := rasterOf(t, answered(t, tt.zone, tt.first, days))
			label := "Sun " + tt.day + ", " + tt.length + " h"
			if days > 40 {
				label = tt.day + ": " + tt.length + " h"
			}
			if !strings.Contains(p.SVG, ">"+label+"<") {
				t.Errorf("%s: the picture of %d days does not say %q", tt.zone, days, label)
			}
			if !strings.Contains(p.Desc, tt.day+" 2026 has "+tt.length+" h") {
				t.Errorf("%s: desc %s", tt.zone, p.Desc)
			}
			if !regexp.MustCompile(`(?m)Sun ` + tt.day + ` .*` + regexp.QuoteMeta(" "+tt.length+" h") + `$`).MatchString(p.Text) {
				t.Errorf("%s: text\n%s", tt.zone, p.Text)
			}
			row := p.Rows[2]
			if row[0] != tt.day+" 2026" || row[1] != tt.length || !strings.Contains(row[6], tt.course) {
				t.Errorf("%s: row %q", tt.zone, row)
			}
		}
	}
	if p := rasterOf(t, answered(t, "America/New_York", "2026-06-01", 14)); strings.Contains(p.Text, "24 h") || strings.Contains(p.SVG, "clocks went") || strings.Contains(p.SVG, "showed again") {
		t.Error("days of 24 hours are made much of")
	}
}

func TestRasterRefuses(t *testing.T) {
	good := func() *compliance.Record { return answered(t, "UTC", "2026-06-01", 2) }
	for name, spoil := range map[string]func(*compliance.Record){
		"no zone":   func(r *compliance.Record) { r.Zone = nil },
		"no window": func(r *compliance.Record) { r.Window = compliance.Window{} },
		"no end":    func(r *compliance.Record) { r.Window.To = plan.Date{} },
		"backwards": func(r *compliance.Record) { r.Window.To = r.Window.From.AddDays(-1) },
		"too long":  func(r *compliance.Record) { r.Window.To = r.Window.From.AddDays(compliance.MaxWindowDays) },
		"empty":     func(r *compliance.Record) { *r = compliance.Record{} },
	} {
		r := good()
		spoil(r)
		if p, err := Raster(r); err == nil || p.SVG != "" {
			t.Errorf("%s: got a picture and %v", name, err)
		}
	}
	if _, err := Raster(good()); err != nil {
		t.Error(err)
	}
}

// A window of one day that the zone never had is a picture that says so.
func TestRasterOfNoDay(t *testing.T) {
	r := answered(t, "Pacific/Apia", "2011-12-28", 1)
	r.Window = compliance.Window{From: date(t, "2011-12-30"), To: date(t, "2011-12-30")}
	p := rasterOf(t, r)
	for _, s := range []string{p.SVG, p.Desc} {
		if !strings.Contains(s, "There is nothing to draw") {
			t.Errorf("does not say so: %s", s)
		}
	}
	if !strings.Contains(p.Text, "30 Dec 2011 did not exist there.") || len(p.Rows) != 0 {
		t.Errorf("text %q, %d rows", p.Text, len(p.Rows))
	}
	h := Hours(r, figures(t, r))
	if len(h.Rows) != 0 || !strings.Contains(h.SVG, "No day of these can be judged yet.") {
		t.Errorf("hours of no day: %s", h.SVG)
	}
	elements(t, h.SVG)
}

// The order in which answers came to stand in the record changes no byte.
func TestRasterKnowsNoOrder(t *testing.T) {
	r := answered(t, "America/New_York", "2026-10-20", 20)
	want := rasterOf(t, r)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(r.Reports), func(i, j int) { r.Reports[i], r.Reports[j] = r.Reports[j], r.Reports[i] })
	if got := rasterOf(t, r); got.SVG != want.SVG || got.Text != want.Text {
		t.Error("another order of reports gives another raster")
	}
}

// What is still to come is called so, and a window that is over says nothing of it.
func TestRasterSaysWhatIsToCome(t *testing.T) {
	r := answered(t, "Europe/Madrid", "2026-06-01", 5)
	for asOf, open := range map[string]bool{"2026-05-20 08:00": true, "2026-06-03 08:00": true, "2026-06-05 23:59": true, "2026-06-06 00:00": false, "2026-07-01 12:00": false} {
		at, err := time.ParseInLocation("2006-01-02 15:04", asOf, r.Zone)
		if err != nil {
			t.Fatal(err)
		}
		r.AsOf = at
		p := rasterOf(t, r)
		said := "Reckoned at " + at.Format("2 Jan 2006 15:04") + ": what is later is still to come"
		if strings.Contains(p.Desc, said) != open || strings.Contains(strings.Join(strings.Fields(p.Text), " "), said) != open {
			t.Errorf("%s: desc %q, text\n%s", asOf, p.Desc, p.Text)
		}
		marked := at.After(plan.DayStart(r.Window.From, r.Zone)) && open
		if strings.Contains(p.SVG, "chart-now") != marked || strings.Contains(p.SVG, "later is still to come<") != marked {
			t.Errorf("%s: the moment is marked: %v", asOf, !marked)
		}
		if x := "M" + number(rasterLeft+float64(at.Hour()*60+at.Minute())/4) + " "; marked && !strings.HasPrefix(path(t, p.SVG, "chart-now"), x) {
			t.Errorf("%s: the moment stands at %s, want it at %s", asOf, path(t, p.SVG, "chart-now"), x)
		}
	}
}

// Beside a day stand its hours: one number where nothing is open between the
// least and the most, and what the patient stated before all else.
func TestHoursBesideTheRow(t *testing.T) {
	stated := compliance.Minutes(17.5 * 60)
	for _, tt := range []struct {
		day  compliance.DayRecord
		want string
	}{
		{compliance.DayRecord{On: 600, Off: 240, Unknown: 600}, "10.0-20.0"},
		{compliance.DayRecord{On: 600, Off: 839, Unknown: 1}, "10.0-10.0"},
		{compliance.DayRecord{On: 600, Off: 840}, "10.0"},
		{compliance.DayRecord{Off: 1440}, "0.0"},
		{compliance.DayRecord{On: 600, Off: 240, Unknown: 600, Stated: &stated}, "17.5"},
	} {
		if got := (&rasterDay{DayRecord: tt.day}).bounds("-"); got != tt.want {
			t.Errorf("%+v: got %s, want %s", tt.day, got, tt.want)
		}
	}
}
