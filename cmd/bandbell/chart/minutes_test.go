package chart

import (
	"fmt"
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

var (
	barPath  = regexp.MustCompile(`M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-([\d.]+)z`)
	dotsPath = regexp.MustCompile(`M([\d.]+) ([\d.]+)h([\d.]+)`)
)

// bars recovers the bars of the three classes from an SVG. Their y is the top
// of the row, but for what was not reported, whose line runs along the middle,
// where nothing else is drawn.
func bars(tb failing, svg string) []rect {
	tb.Helper()
	var out []rect
	high := 0.0 // of a row
	for _, class := range []string{"chart-worn", "chart-off", "chart-unknown"} {
		d, form := path(tb, svg, class), barPath
		if class == "chart-unknown" {
			form = dotsPath
		}
		if rest := form.ReplaceAllString(d, ""); rest != "" {
			tb.Fatalf("%s holds what is no bar: %.80q", class, rest)
		}
		for _, m := range form.FindAllStringSubmatch(d, -1) {
			r := rect{x: float(tb, m[1]), y: float(tb, m[2]), w: float(tb, m[3])}
			switch class {
			case "chart-worn":
				r.state, high = compliance.On, float(tb, m[4])
			case "chart-off": // its outline stands within the row
				r.state, high = compliance.Off, float(tb, m[4])+1
				r.y -= .5
			default:
				r.y -= high / 2
			}
			if len(m) > 4 && m[3] != m[5] {
				tb.Fatalf("bar %v does not close", m)
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
