package chart

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// rect is a bar of the raster as it stands in the SVG.
type rect struct {
	x, y, w float64
	state   compliance.State
}

var barPath = regexp.MustCompile(`M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-([\d.]+)z`)

// bars recovers the rectangles of the three classes from an SVG.
func bars(tb failing, svg string) []rect {
	tb.Helper()
	var out []rect
	for _, e := range elements(tb, svg) {
		state, ok := map[string]compliance.State{"chart-worn": compliance.On, "chart-off": compliance.Off, "chart-unknown": compliance.Unknown}[e.attr["class"]]
		if !ok {
			continue
		}
		if rest := barPath.ReplaceAllString(e.attr["d"], ""); rest != "" {
			tb.Fatalf("%s holds what is no bar: %.80q", e.attr["class"], rest)
		}
		for _, m := range barPath.FindAllStringSubmatch(e.attr["d"], -1) {
			r := rect{float(tb, m[1]), float(tb, m[2]), float(tb, m[3]), state}
			if m[3] != m[5] {
				tb.Fatalf("bar %v does not close", m)
			}
			if state == compliance.Off {
				r.y -= .5 // its outline stands within the row
			}
			out = append(out, r)
		}
	}
	return out
}

// wantRow is a row of the raster minute by minute; -1 where it holds nothing.
type wantRow [1440]int

// minutely lays the ledger out the slow way: it asks the clock at every minute
// of the window, and what it showed before that day goes to the row below.
func minutely(tb failing, r *compliance.Record) []wantRow {
	tb.Helper()
	spans, err := compliance.Ledger(r, r.Window.From, r.Window.To)
	if err != nil {
		tb.Fatal(err)
	}
	var out []wantRow
	empty := wantRow{}
	for i := range empty {
		empty[i] = -1
	}
	for d := r.Window.From; !d.After(r.Window.To); d = d.AddDays(1) {
		if !plan.Exists(d, r.Zone) {
			continue
		}
		day := []wantRow{empty}
		for at := plan.DayStart(d, r.Zone); at.Before(plan.DayEnd(d, r.Zone)); at = at.Add(time.Minute) {
			i := slices.IndexFunc(spans, func(s compliance.Span) bool { return !at.Before(s.From) && at.Before(s.To) })
			m := at.In(r.Zone).Hour()*60 + at.In(r.Zone).Minute()
			lane := 0
			for lane < len(day) && day[lane][m] >= 0 {
				lane++
			}
			if lane == len(day) {
				day = append(day, empty)
			}
			day[lane][m] = int(spans[i].State)
		}
		out = append(out, day...)
	}
	return out
}

// randomRecord draws a few days about a change of clocks, with answers on a
// grid of minutes.
func randomRecord(t *rapid.T) *compliance.Record {
	at := rapid.SampledFrom([]struct {
		zone string
		day  plan.Date
	}{
		{"UTC", plan.NewDate(2026, 6, 1)}, {"America/New_York", plan.NewDate(2026, 3, 8)}, {"America/New_York", plan.NewDate(2026, 11, 1)},
		{"Australia/Lord_Howe", plan.NewDate(2026, 10, 4)}, {"Australia/Lord_Howe", plan.NewDate(2026, 4, 5)}, {"Africa/Cairo", plan.NewDate(2026, 4, 24)},
		{"America/Santiago", plan.NewDate(2026, 4, 4)}, {"Pacific/Apia", plan.NewDate(2011, 12, 30)}, {"Asia/Kathmandu", plan.NewDate(2026, 6, 1)},
	}).Draw(t, "at")
	loc, err := time.LoadLocation(at.zone)
	if err != nil {
		t.Fatal(err)
	}
	num := func(label string, low, high int) int { return rapid.IntRange(low, high).Draw(t, label) }
	from := at.day.AddDays(-num("before", 0, 3))
	to := from.AddDays(num("days", 0, 6))
	r := &compliance.Record{Zone: loc, Window: compliance.Window{From: from, To: to}, Settings: compliance.DefaultSettings()}
	start := plan.DayStart(from, loc)
	length := int(plan.DayEnd(to, loc).Sub(start).Minutes())
	r.AsOf = start.Add(time.Duration(num("as of", 1, length+600)) * time.Minute)
	p := &r.Plan
	p.Appliance, p.DaysPerTray, p.Trays, p.HoursPerDay, p.ChangesPerDay = plan.Aligners, 7, 20, float64(num("hours", 8, 22)), 4
	p.AlignerStart = from.AddDays(-20)
	p.BandsStart = from.AddDays(num("start", -3, 3))
	p.Meals = []plan.Meal{{Code: plan.AfterLunch, At: plan.Clock(num("lunch", 0, 1439)), Minutes: num("minutes", 0, 80), Days: plan.Weekdays(127)}}
	for range num("reports", 0, 30) {
		e := plan.Report{At: start.Add(time.Duration(num("at", -600, length)) * time.Minute)}
		switch num("what", 0, 5) {
		case 0:
			e.What = plan.ReportOff
		case 1:
			e.What, e.Since = plan.ReportOff, e.At.Add(-time.Duration(num("since", 1, 400))*time.Minute)
		case 2:
			e.What, e.Day, e.Hours = plan.ReportWornTotal, from.AddDays(num("day", 0, 6)), float64(num("total", 0, 24))
		default:
			e.What = plan.ReportOn
		}
		r.Reports = append(r.Reports, e)
	}
	for i := range num("visits", 0, 3) {
		r.Visits = append(r.Visits, compliance.Visit{Date: from.AddDays(3 * i), Overjet: mm(float64(num("overjet", 0, 12)) / 2)})
	}
	return r
}

// Every minute of the window is drawn exactly once, in its class and at its
// time of day, and the terminal and the table say the same.
func TestEveryMinuteIsDrawnOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		p, err := Raster(r)
		if err != nil {
			t.Fatal(err)
		}
		want := minutely(t, r)
		list := bars(t, p.SVG)
		var ys []float64
		for _, b := range list {
			ys = append(ys, b.y)
		}
		slices.Sort(ys)
		if ys = slices.Compact(ys); len(ys) != len(want) {
			t.Fatalf("%d rows, want %d", len(ys), len(want))
		}
		got := make([]wantRow, len(want))
		for i := range got {
			for m := range got[i] {
				got[i][m] = -1
			}
		}
		for _, b := range list {
			row := slices.Index(ys, b.y)
			from, n := (b.x-rasterLeft)*4, b.w*4
			if from != float64(int(from)) || n != float64(int(n)) || n == 0 {
				t.Fatalf("bar %+v does not stand on a minute", b)
			}
			for m := int(from); m < int(from+n); m++ {
				if got[row][m] >= 0 {
					t.Fatalf("row %d, minute %d is drawn twice", row, m)
				}
				got[row][m] = int(b.state)
			}
		}
		for i := range want {
			for m := range want[i] {
				if got[i][m] != want[i][m] {
					t.Fatalf("row %d, minute %d: got %d, want %d", i, m, got[i][m], want[i][m])
				}
			}
		}
		compareText(t, p.Text, want)
		compareTable(t, r, p, want)
	})
}

// compareText holds the cells of the terminal to the minutes.
func compareText(t *rapid.T, text string, want []wantRow) {
	row := 0
	for line := range strings.Lines(text) {
		line = strings.TrimSuffix(line, "\n")
		if len(line) < 11 || !regexp.MustCompile(`^(\w{3} [ \d]\d \w{3}| \w{3} \d \w{3}|     again) `).MatchString(line) {
			continue
		}
		line += strings.Repeat(" ", 100)
		for c := range cellsAcross {
			var share [3]int
			for _, s := range want[row][20*c : 20*c+20] {
				if s >= 0 {
					share[s]++
				}
			}
			mark, most := byte(' '), 0
			for _, s := range []compliance.State{compliance.Unknown, compliance.Off, compliance.On} {
				if share[s] > most {
					mark, most = ". #_"[[]int{0, 2, 3}[s]], share[s]
				}
			}
			if line[11+c] != mark {
				t.Fatalf("row %d, cell %d of the text is %q, want %q: %s", row, c, line[11+c], mark, line)
			}
		}
		row++
	}
	if row != len(want) {
		t.Fatalf("%d rows of text, want %d", row, len(want))
	}
}

// compareTable holds the sums of the table to the minutes.
func compareTable(t *rapid.T, r *compliance.Record, p Picture, want []wantRow) {
	row := 0
	for _, cells := range p.Rows {
		day, err := time.Parse("2 Jan 2006", cells[0])
		if err != nil {
			t.Fatal(err)
		}
		d := plan.DateOf(day, time.UTC)
		length := int(plan.DayEnd(d, r.Zone).Sub(plan.DayStart(d, r.Zone)).Minutes())
		var sum [3]int
		for n := 0; n < length; row++ {
			for _, s := range want[row] {
				if s >= 0 {
					sum[s]++
					n++
				}
			}
		}
		for i, s := range []compliance.State{compliance.On, compliance.Off, compliance.Unknown} {
			if got, want := cells[2+i], fmt.Sprintf("%.1f", float64(sum[s])/60); got != want {
				t.Fatalf("%v: %s is %s, want %s", d, p.Head[2+i], got, want)
			}
		}
	}
	if row != len(want) {
		t.Fatalf("the table has the minutes of %d rows, want %d", row, len(want))
	}
}

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
