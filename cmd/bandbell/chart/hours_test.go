package chart

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"
)

// path returns what stands under a class, empty for nothing.
func path(tb failing, svg, class string) string {
	tb.Helper()
	d := ""
	for _, e := range elements(tb, svg) {
		if e.attr["class"] == class {
			d += e.attr["d"]
		}
	}
	return d
}

var (
	boxPath     = regexp.MustCompile(`M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+z`)
	dotPath     = regexp.MustCompile(`M([\d.]+) ([\d.]+)a([\d.]+) `)
	diamondPath = regexp.MustCompile(`M([\d.]+) ([\d.]+)l([\d.]+) `)
)

// The bars, points and diamonds of the picture stand for the days that can be
// judged, at their place and height, and the table holds every day.
func TestHoursDrawTheFigures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRecord(t)
		f, err := compliance.Compute(r)
		if err != nil {
			t.Fatal(err)
		}
		p := Hours(r, f)
		n := len(f.Days)
		if len(p.Rows) != n {
			t.Fatalf("%d rows of %d days", len(p.Rows), n)
		}
		// The guides of 0 h and 24 h give the scale, and the days are as wide
		// apart as the widest pictures of few days have them.
		var guides []string
		for _, e := range elements(t, p.SVG) {
			if e.attr["class"] == "chart-guide" {
				guides = append(guides, e.attr["d"])
			}
		}
		y := func(i int) float64 {
			return float(t, regexp.MustCompile(`^M[\d.]+ ([\d.]+)L`).FindStringSubmatch(guides[i])[1])
		}
		zero, hour := y(0), (y(0)-y(4))/24
		const step = 26
		type place struct{ x, low, high float64 }
		var wantBars, gotBars, wantStated, gotStated, wantPoints, gotPoints []place
		for i, d := range f.Days {
			x := runLeft + (float64(i)+.5)*step
			w := d.Worn
			switch {
			case !d.Usable:
			case d.Stated:
				wantStated = append(wantStated, place{x, w.Point.Hours(), w.Point.Hours()})
			default:
				wantBars = append(wantBars, place{x, w.Low.Hours(), w.High.Hours()})
				wantPoints = append(wantPoints, place{x, w.Point.Hours(), w.Point.Hours()})
			}
			want := []string{fmt.Sprintf("%.1f", w.Low.Hours()), fmt.Sprintf("%.1f", w.Point.Hours()), fmt.Sprintf("%.1f", w.High.Hours())}
			if diff := cmp.Diff(want, p.Rows[i][1:4]); diff != "" {
				t.Fatalf("row of %v: %s", d.Date, diff)
			}
			if judged := !strings.Contains(p.Rows[i][5], "not judged"); judged != d.Usable || strings.Contains(p.Rows[i][5], "stated") != d.Stated {
				t.Fatalf("%v is called %q", d.Date, p.Rows[i][5])
			}
			if target := p.Rows[i][4] != ""; target != (!d.Date.Before(r.Plan.BandsStart)) {
				t.Fatalf("%v has the target %q", d.Date, p.Rows[i][4])
			}
		}
		for _, m := range boxPath.FindAllStringSubmatch(path(t, p.SVG, "chart-bounds"), -1) {
			top, h := float(t, m[2]), float(t, m[4])
			gotBars = append(gotBars, place{float(t, m[1]) + float(t, m[3])/2, (zero - top - h) / hour, (zero - top) / hour})
		}
		for _, m := range dotPath.FindAllStringSubmatch(path(t, p.SVG, "chart-point"), -1) {
			h := (zero - float(t, m[2])) / hour
			gotPoints = append(gotPoints, place{float(t, m[1]) + float(t, m[3]), h, h})
		}
		for _, m := range diamondPath.FindAllStringSubmatch(path(t, p.SVG, "chart-stated"), -1) {
			h := (zero - float(t, m[2]) - float(t, m[3])) / hour
			gotStated = append(gotStated, place{float(t, m[1]), h, h})
		}
		near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < .01 })
		for name, pair := range map[string][2][]place{"bars": {wantBars, gotBars}, "points": {wantPoints, gotPoints}, "stated": {wantStated, gotStated}} {
			if diff := cmp.Diff(pair[0], pair[1], near, cmp.AllowUnexported(place{})); diff != "" {
				t.Fatalf("%s (-want +got):\n%s", name, diff)
			}
		}
	})
}

// The line of what is prescribed steps where it changes and breaks where the
// doctor stopped the bands.
func TestTargetLine(t *testing.T) {
	r := answered(t, "UTC", "2026-06-01", 10)
	r.Plan.BandsStart = date(t, "2026-06-02")
	r.Plan.Wear = []plan.Wear{{From: date(t, "2026-06-05"), HoursPerDay: 12, ChangesPerDay: 2}}
	r.Plan.Pauses = []plan.Pause{
		{From: date(t, "2026-06-07"), To: date(t, "2026-06-08"), Of: plan.PauseBands},
		{From: date(t, "2026-06-09"), To: date(t, "2026-06-09"), Of: plan.PauseMail}, // wear goes on
	}
	f := figures(t, r)
	m := newRun(r, f.Days)
	// Days of 10 units and hours of one: 2-4 June at 22 h, 5-6 at 12 h, 9-10 at 12 h.
	got := string(m.targetLine(10, func(minutes float64) float64 { return 100 - minutes/60 }))
	if want := "M54 78H84V88H104M124 88H144"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	p := Hours(r, f)
	if want := "Prescribed: 22 h a day, 12 h from 5 Jun 2026."; !strings.Contains(p.Desc, want) || !strings.Contains(p.Text, want) {
		t.Errorf("does not say %q:\n%s", want, p.Text)
	}
}

func TestHoursOfTheTerminal(t *testing.T) {
	day := func(low, point, high, length float64, usable, stated bool) compliance.Day {
		return compliance.Day{Date: plan.NewDate(2026, 6, 1), Length: compliance.Minutes(60 * length), Usable: usable, Stated: stated, Target: 22 * 60,
			Worn: compliance.Bounds{Low: compliance.Minutes(60 * low), Point: compliance.Minutes(60 * point), High: compliance.Minutes(60 * high)}}
	}
	r := answered(t, "UTC", "2026-06-01", 1)
	for _, tt := range []struct {
		day  compliance.Day
		want string
	}{
		{day(20, 22, 23, 24, true, false), strings.Repeat(" ", 40) + "[===o=]  "},
		{day(20, 21, 23, 24, true, false), strings.Repeat(" ", 40) + "[=o=|=]  "},
		{day(0, 12, 24, 24, true, false), "[" + strings.Repeat("=", 23) + "o" + strings.Repeat("=", 19) + "|===]"},
		{day(9, 9, 9, 24, true, false), strings.Repeat(" ", 18) + "o" + strings.Repeat(" ", 25) + "|    "},
		{day(9, 9, 9, 24, true, true), strings.Repeat(" ", 18) + "*" + strings.Repeat(" ", 25) + "|    "},
		{day(9, 9, 9, 24, false, true), strings.Repeat(" ", 44) + "|    "},
		{day(25, 25, 25, 25, true, false), strings.Repeat(" ", 44) + "|     o"},
	} {
		if got := newRun(r, []compliance.Day{tt.day}).cells(0); got != tt.want {
			t.Errorf("%+v:\ngot  %q\nwant %q", tt.day.Worn, got, tt.want)
		}
	}
}

// The last value stands beside the picture, even where it and the hours
// prescribed are at one height.
func TestLastValue(t *testing.T) {
	r := answered(t, "UTC", "2026-06-01", 14)
	f := figures(t, r)
	p := Hours(r, f)
	last := f.Days[12] // 13 June; the 14th is not over
	if !last.Usable || f.Days[13].Usable {
		t.Fatal("another day is the last")
	}
	want := fmt.Sprintf("last %.1f h", last.Worn.Point.Hours())
	if !strings.Contains(p.SVG, ">"+want+"<") || !strings.Contains(p.SVG, ">prescribed 22 h<") {
		t.Errorf("does not show %q", want)
	}
	if !strings.Contains(p.Desc, "Last day that can be judged: 13 Jun 2026, about 22.2 h (22.2 to 22.2), of 22 h prescribed.") {
		t.Errorf("desc %s", p.Desc)
	}
}
