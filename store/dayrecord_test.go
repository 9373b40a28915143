package store

import (
	"fmt"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var (
	longAgo  = plan.NewDate(2000, 1, 1)
	faraway  = plan.NewDate(2100, 1, 1)
	everyDay = func(t testing.TB, db *DB, ref string) []compliance.DayRecord {
		t.Helper()
		return must[[]compliance.DayRecord](t)(db.DayRecords(ctx, ref, longAgo, faraway))
	}
)

// at is an instant of June 2026 in New York, four hours behind UTC.
func at(day, hour, minute int) time.Time {
	return time.Date(2026, 6, day, hour+4, minute, 0, 0, time.UTC)
}

func TestRecordFoldsTheDaysItTouches(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	n := change(today, "PCD", at(1, 12, 30))
	j := sent(t, db, p, n)
	h := plan.Heard{At: at(1, 12, 40), Kind: "reply", How: "token", PatientID: p.ID, OutgoingID: j.ID, Slot: n.Slot}
	h.Reports = []plan.Stated{stated(plan.Report{At: at(1, 12, 40), Slot: n.Slot, What: plan.ReportOn, Fresh: true})}
	hear(t, db, h)
	// One answer alone says nothing of the time around it.
	want := []compliance.DayRecord{{Day: today, Length: 1440, Unknown: 1440, Delivered: 1, Answered: 1, Confirmed: 1}}
	if d := cmp.Diff(want, everyDay(t, db, p.Ref)); d != "" {
		t.Errorf("after one answer (-want +got):\n%s", d)
	}
	h = plan.Heard{At: at(1, 15, 40), Kind: "reply", How: "token", PatientID: p.ID}
	h.Reports = []plan.Stated{stated(plan.Report{At: at(1, 15, 40), What: plan.ReportOn}),
		stated(plan.Report{At: at(1, 15, 40), What: plan.ReportSoreness, Value: 3}),
		stated(plan.Report{At: at(1, 15, 40), What: plan.ReportOffSpan, From: at(1, 13, 0), To: at(1, 13, 30)})}
	hear(t, db, h)
	three := 3
	// 12:40 to 15:40 is 180 minutes, of which 30 were off.
	want[0].On, want[0].Off, want[0].Unknown, want[0].Soreness = 150, 30, 1260, &three
	if d := cmp.Diff(want, everyDay(t, db, p.Ref)); d != "" {
		t.Errorf("after two (-want +got):\n%s", d)
	}
	// On the third day the patient states a total for the first.
	h = plan.Heard{At: at(3, 9, 0), Kind: "reply", How: "token", PatientID: p.ID}
	h.Reports = []plan.Stated{stated(plan.Report{At: at(3, 9, 0), What: plan.ReportWornTotal, Day: today, Hours: 20})}
	hear(t, db, h)
	got := everyDay(t, db, p.Ref)
	if len(got) != 3 || got[0].Stated == nil || *got[0].Stated != 1200 || got[1].Unknown != 1440 || got[2].Unknown != 1440 {
		t.Errorf("after three: %+v", got)
	}
}

func TestFoldDueCoversYesterdayOnce(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), `,"bands_end":"2026-06-04"`)
	for _, c := range []struct {
		at   time.Time
		n    int // patients folded
		days int // records on file
	}{
		{at(1, 23, 59), 1, 0}, // looked at since the plan was set; no day is over
		{at(1, 23, 59), 0, 0},
		{at(2, 0, 0).Add(-time.Millisecond), 0, 0},
		{at(2, 0, 0), 1, 1},
		{at(2, 0, 0), 0, 1},
		{at(4, 12, 0), 1, 3}, // a night was missed
		{at(5, 12, 0), 1, 4}, // the last day of wear
		{at(9, 12, 0), 0, 4}, // nothing more after it
	} {
		if n := must[int](t)(db.FoldDue(ctx, c.at)); n != c.n {
			t.Errorf("at %v: %d patients, want %d", c.at, n, c.n)
		}
		if days := everyDay(t, db, p.Ref); len(days) != c.days {
			t.Errorf("at %v: %d days, want %d", c.at, len(days), c.days)
		}
	}
}

func TestABounceTakesANudgeOutOfItsDay(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	j := sent(t, db, p, change(today, "PCD", at(1, 12, 30)))
	must[int](t)(db.FoldDue(ctx, at(2, 1, 0)))
	if d := everyDay(t, db, p.Ref)[0]; d.Delivered != 1 {
		t.Fatalf("delivered %d", d.Delivered)
	}
	hear(t, db, plan.Heard{At: at(2, 3, 0), Kind: "bounce", How: "token", PatientID: p.ID, OutgoingID: j.ID,
		Bounce: &plan.Bounce{Class: "permanent", Status: "5.2.2"}})
	if d := everyDay(t, db, p.Ref)[0]; d.Delivered != 0 {
		t.Errorf("delivered %d after the bounce", d.Delivered)
	}
}

// something draws one report of the first nine days of June.
func something(t *rapid.T, i int) plan.Stated {
	moment := func(label string) time.Time {
		return at(1, 0, 0).Add(time.Duration(rapid.IntRange(-600, 9*1440).Draw(t, label)) * time.Minute)
	}
	r := plan.Report{At: moment("at"), What: rapid.SampledFrom([]plan.ReportKind{plan.ReportOn, plan.ReportOn, plan.ReportOff,
		plan.ReportOffSpan, plan.ReportWornTotal, plan.ReportSoreness}).Draw(t, "what")}
	if rapid.Bool().Draw(t, "slotted") {
		r.Slot = fmt.Sprintf("2026-06-%02d/PCD", rapid.IntRange(1, 9).Draw(t, "slot"))
	}
	switch r.What {
	case plan.ReportOn:
		r.Fresh = rapid.Bool().Draw(t, "fresh")
	case plan.ReportOff:
		if rapid.Bool().Draw(t, "since") {
			r.Since = r.At.Add(-time.Duration(rapid.IntRange(1, 3000).Draw(t, "off for")) * time.Minute)
		}
	case plan.ReportOffSpan:
		r.From = moment("from")
		r.To = r.From.Add(time.Duration(rapid.IntRange(1, 3000).Draw(t, "span")) * time.Minute)
	case plan.ReportWornTotal:
		r.Day, r.Hours = plan.NewDate(2026, 6, rapid.IntRange(1, 9).Draw(t, "day")), float64(rapid.IntRange(0, 25).Draw(t, "hours"))
	case plan.ReportSoreness:
		r.Value = rapid.IntRange(0, 7).Draw(t, "value")
	}
	return stated(r)
}

// corrected draws what staff say of a reply received at an instant.
func corrected(t *rapid.T, received time.Time) plan.Correction {
	ago := func(label string, from time.Time) time.Time {
		return from.Add(-time.Duration(rapid.IntRange(1, 3000).Draw(t, label)) * time.Minute)
	}
	c := plan.Correction{Changed: rapid.SampledFrom([]plan.Change{"", plan.ChangeYes, plan.ChangeNo, plan.ChangeNone}).Draw(t, "changed")}
	if (c.Changed == plan.ChangeYes || c.Changed == plan.ChangeNo) && rapid.Bool().Draw(t, "moment") {
		c.At = ago("corrected at", received)
	}
	if c.Changed == plan.ChangeNo && rapid.Bool().Draw(t, "since") {
		at := c.At
		if at.IsZero() {
			at = received
		}
		c.Since = ago("corrected since", at)
	}
	for range rapid.IntRange(0, 2).Draw(t, "stretches") {
		to := ago("to", received)
		c.Off = append(c.Off, plan.OffSpan{From: ago("from", to), To: to})
	}
	if rapid.Bool().Draw(t, "total") {
		c.Worn = &plan.Total{Day: plan.DateOf(received, time.UTC).AddDays(-rapid.IntRange(1, 4).Draw(t, "days ago")), Hours: float64(rapid.IntRange(0, 24).Draw(t, "hours"))}
	}
	if rapid.Bool().Draw(t, "sore") {
		v := rapid.IntRange(0, 7).Draw(t, "value")
		c.Sore = &v
	}
	return c
}

// Day records are a function of what is on file: folded with each reply, each
// correction and each night, in whatever order they came, they are those that are
// rebuilt from nothing; and another database that hears the same in another
// order has the same.
func TestDayRecordsAreAFunctionOfTheReports(t *testing.T) {
	plans := []string{"", `,"bands_start":"2026-06-03"`, `,"pauses":[{"from":"2026-06-04","to":"2026-06-05","of":"bands"}]`,
		`,"bands_end":"2026-06-07"`, `,"bands_start":"2026-06-01","wear":[{"from":"2026-06-05","hours_per_day":10,"changes_per_day":1,"nights":true}]`}
	db, who := open(t), 0
	rapid.Check(t, func(rt *rapid.T) {
		said := make([]plan.Stated, rapid.IntRange(1, 12).Draw(rt, "reports"))
		for i := range said {
			said[i] = something(rt, i)
		}
		amended := make([][]plan.Correction, len(said)) // what staff say of each, one after another
		for i, e := range said {
			for range rapid.IntRange(0, 2).Draw(rt, "corrections") {
				amended[i] = append(amended[i], corrected(rt, e.At))
			}
		}
		second := rapid.SampledFrom(plans).Draw(rt, "second plan")
		from := plan.NewDate(2026, 6, rapid.IntRange(1, 9).Draw(rt, "from"))
		changeAt := rapid.IntRange(0, len(said)).Draw(rt, "plan changes after")
		end := at(11, 3, 0)
		run := func(order []int, changeAt int, nights bool) ([]compliance.DayRecord, []compliance.DayRecord) {
			who++
			p := enrol(t, db, somebody(who), "")
			var nudges []plan.Nudge
			for d := range 9 {
				nudges = append(nudges, change(today.AddDays(d), "PCD", at(1+d, 12, 30)))
			}
			owe(t, db, p, noon.AddDate(0, 0, -1), nudges...)
			_, err := db.writer.Exec("UPDATE outgoing SET state = 'accepted', accepted_at = due, ended = due WHERE ended IS NULL")
			ok(t, err)
			type amendment struct {
				reply int64
				plan.Correction
			}
			var waiting []amendment
			for i, n := range order {
				if i == changeAt {
					must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, second), from, "dr:lund", end))
				}
				if nights {
					must[int](t)(db.FoldDue(ctx, at(1+i%9, 3, 0)))
				}
				id := hear(t, db, plan.Heard{At: said[n].At, Kind: "reply", How: "token", PatientID: p.ID, Reports: said[n : n+1]})
				for _, c := range amended[n] {
					waiting = append(waiting, amendment{id, c})
				}
				for len(waiting) > 0 && rapid.Bool().Draw(rt, "corrected now") {
					ok(t, db.Correct(ctx, waiting[0].reply, waiting[0].Correction, "desk:ines", end))
					waiting = waiting[1:]
				}
			}
			for _, c := range waiting {
				ok(t, db.Correct(ctx, c.reply, c.Correction, "desk:ines", end))
			}
			if changeAt == len(order) {
				must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, second), from, "dr:lund", end))
			}
			must[int](t)(db.FoldDue(ctx, end))
			folded := everyDay(t, db, p.Ref)
			_, err = db.writer.Exec("DELETE FROM day_record WHERE patient_id = ?", p.ID)
			ok(t, err)
			ok(t, db.Rebuild(ctx, p.Ref))
			return folded, everyDay(t, db, p.Ref)
		}
		order := make([]int, len(said))
		for i := range order {
			order[i] = i
		}
		folded, rebuilt := run(order, changeAt, true)
		if d := cmp.Diff(rebuilt, folded); d != "" {
			rt.Fatalf("folded one by one (-rebuilt +folded):\n%s", d)
		}
		if len(folded) == 0 {
			rt.Fatal("no day at all")
		}
		shuffled := rapid.Permutation(order).Draw(rt, "order")
		other, _ := run(shuffled, rapid.IntRange(0, len(said)).Draw(rt, "plan changes after, the other time"), false)
		if d := cmp.Diff(folded, other); d != "" {
			rt.Fatalf("heard in another order (-one +other):\n%s", d)
		}
	})
}

func TestFoldDueWakesForAVersionToCome(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), `,"bands_end":"2026-06-02"`)
	must[int](t)(db.SetPlan(ctx, p.Ref, worn(t, `,"bands_end":"2026-06-08"`), plan.NewDate(2026, 6, 6), "dr:lund", at(1, 12, 0)))
	for _, c := range []struct {
		at   time.Time
		days int
	}{{at(2, 3, 0), 1}, {at(3, 3, 0), 2}, {at(6, 23, 0), 2}, {at(7, 0, 0), 6}, {at(9, 0, 0), 8}, {at(12, 0, 0), 8}} {
		must[int](t)(db.FoldDue(ctx, c.at))
		if days := everyDay(t, db, p.Ref); len(days) != c.days {
			t.Errorf("at %v: %d days, want %d", c.at, len(days), c.days)
		}
	}
	folded := everyDay(t, db, p.Ref)
	ok(t, db.Rebuild(ctx, p.Ref))
	if d := cmp.Diff(everyDay(t, db, p.Ref), folded); d != "" {
		t.Errorf("(-rebuilt +folded):\n%s", d)
	}
}

// What the database folds is what the figures fold from its record.
func TestDayRecordsAreThoseOfTheRecord(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	for d := range 5 {
		n := change(today.AddDays(d), "PCD", at(1+d, 12, 30))
		j := sent(t, db, p, n)
		hear(t, db, plan.Heard{At: at(1+d, 13, d), Kind: "reply", How: "token", PatientID: p.ID, OutgoingID: j.ID, Slot: n.Slot,
			Reports: []plan.Stated{stated(plan.Report{At: at(1+d, 13, d), Slot: n.Slot, What: plan.ReportOn, Fresh: d != 3}),
				stated(plan.Report{At: at(1+d, 8+d, 0), What: plan.ReportOn})}})
	}
	must[int](t)(db.FoldDue(ctx, at(7, 3, 0)))
	r := must[recordOf](t)(recordAt(db, p.Ref, at(7, 3, 0)))
	want := compliance.Fold(r.Record, today, today.AddDays(5))
	if d := cmp.Diff(want, everyDay(t, db, p.Ref)); d != "" {
		t.Errorf("(-from the record +on file):\n%s", d)
	}
	if want[0].On == 0 || want[2].Confirmed != 1 || want[3].Confirmed != 0 {
		t.Errorf("the example says too little: %+v", want)
	}
}
