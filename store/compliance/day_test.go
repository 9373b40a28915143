package compliance

import (
	"math"
	"testing"

	"bandbell/scheduler/plan"
)

// Of 100 answers 60 yes, 20 no and 20 missing, the share lies between .60 and
// .80, and is .75 of the complete cases (Manski, Int J Approx Reason
// 2005;39:151-165; Cochrane Handbook 5.1, section 16.2.2; computed from the
// definition). A day of 1440 minutes stands for the 100 here: 864 on, 288 off,
// 288 unknown.
func TestBoundsAgainstManski(t *testing.T) {
	r := fortnight(t)
	r.Window.To = r.Window.From
	r.on(t, "2026-06-01 00:00", "2026-06-01 14:24").span(t, "2026-06-01 19:12", "2026-06-01 14:24", "2026-06-01 19:12")
	r.Settings.PriorWear, r.Settings.CarryMin = 0.75, 864
	d := compute(t, r).Days[0]
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"low", float64(d.Worn.Low), .60},
		{"high", float64(d.Worn.High), .80},
		{"complete cases", float64(d.On) / float64(d.On+d.Off), .75},
		// The point fills the unknown fifth with p; the prior agrees, so p = .75.
		{"point", float64(d.Worn.Point), .60 + .20*.75},
	} {
		got := c.got
		if got > 1 {
			got /= 1440
		}
		if math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: got %v, want %v", c.what, got, c.want)
		}
	}
}

// p counts only days on which bands were to be worn, and a stated total in the
// place of its day's spans.
func TestShareOfUnknownTime(t *testing.T) {
	paused := func(of plan.PauseOf) func(r *Record) {
		return func(r *Record) {
			r.Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-01"), To: date(t, "2026-06-01"), Of: of}}
		}
	}
	const prior = 1440 * 0.7
	tests := []struct {
		name string
		make func(r *Record)
		want float64
	}{
		{"nothing known", func(r *Record) { r.Reports = nil }, 0.7},
		{"ten hours on, two off", func(r *Record) {}, (600 + prior) / (720 + 1440)},
		{"mail paused", paused(plan.PauseMail), 0.7},
		{"bands paused", paused(plan.PauseBands), 0.7},
		{"before the bands", func(r *Record) { r.Plan.BandsStart = date(t, "2026-06-02") }, 0.7},
		{"after the bands", func(r *Record) { r.Plan.BandsStart, r.Plan.BandsEnd = date(t, "2026-05-01"), date(t, "2026-05-31") }, 0.7},
		{"18 h stated", func(r *Record) { r.total(t, "2026-06-02 08:00", "2026-06-01", 18) }, (1080 + prior) / (1440 + 1440)},
		{"the last stated stands", func(r *Record) {
			r.total(t, "2026-06-02 09:00", "2026-06-01", 12).total(t, "2026-06-02 08:00", "2026-06-01", 18)
		}, (720 + prior) / (1440 + 1440)},
		{"stated on a day outside the window", func(r *Record) { r.total(t, "2026-06-03 08:00", "2026-06-02", 2) }, (600 + prior) / (720 + 1440)},
	}
	for _, tt := range tests {
		r := fortnight(t)
		r.Window.To = r.Window.From
		r.on(t, "2026-06-01 08:00", "2026-06-01 18:00").off(t, "2026-06-01 20:00", "2026-06-01 18:00")
		tt.make(r)
		if got := float64(compute(t, r).WearP); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("%s: p = %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestUsable(t *testing.T) {
	tests := []struct {
		name string
		make func(r *Record)
		want bool
	}{
		{"half the day unknown", func(r *Record) { r.on(t, "2026-06-01 00:00", "2026-06-01 12:00") }, true},
		{"a minute more unknown", func(r *Record) { r.on(t, "2026-06-01 00:00", "2026-06-01 11:59") }, false},
		{"nothing known but a total", func(r *Record) { r.total(t, "2026-06-01 20:00", "2026-06-01", 3) }, true},
		{"over at this instant", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).AsOf = r.instant(t, "2026-06-02 00:00")
		}, true},
		{"a minute before its end", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).AsOf = r.instant(t, "2026-06-01 23:59")
		}, false},
		{"first day of bands", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).Plan.BandsStart = date(t, "2026-06-01")
		}, true},
		{"the day before", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).Plan.BandsStart = date(t, "2026-06-02")
		}, false},
		{"last day of bands", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).Plan.BandsEnd = date(t, "2026-06-01")
		}, true},
		{"mail paused", func(r *Record) {
			r.total(t, "2026-06-01 20:00", "2026-06-01", 3).Plan.Pauses = []plan.Pause{{From: date(t, "2026-06-01"), To: date(t, "2026-06-01"), Of: plan.PauseMail}}
		}, false},
		{"a total told too late to be seen", func(r *Record) { r.total(t, "2026-06-15 12:01", "2026-06-01", 3) }, false},
	}
	for _, tt := range tests {
		r := fortnight(t)
		tt.make(r)
		if got := compute(t, r).Days[0].Usable; got != tt.want {
			t.Errorf("%s: usable %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestTiedTotals(t *testing.T) {
	for _, hours := range [][2]float64{{12, 18}, {18, 12}} {
		r := fortnight(t)
		r.total(t, "2026-06-02 08:00", "2026-06-01", hours[0]).total(t, "2026-06-02 08:00", "2026-06-01", hours[1])
		if got := compute(t, r).Days[0].Worn.Point; got != 720 {
			t.Errorf("%v at one instant: got %v, want the smaller", hours, got)
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		want string
	}{{0, "0"}, {-0.001, "0"}, {1440, "1440"}, {1080.006, "1080.01"}, {0.1, "0.1"}, {-3.5, "-3.5"}, {100, "100"}} {
		b, err := Minutes(tt.v).MarshalJSON()
		if err != nil || string(b) != tt.want {
			t.Errorf("%v: got %s, %v; want %s", tt.v, b, err, tt.want)
		}
	}
	if b, _ := Share(1.0 / 3).MarshalJSON(); string(b) != "0.333333" {
		t.Errorf("a third is written %s", b)
	}
	for _, v := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := Share(v).MarshalJSON(); err == nil {
			t.Errorf("%v was written", v)
		}
	}
}
