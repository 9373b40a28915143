package store

import (
	"errors"
	"strings"
	"testing"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/google/go-cmp/cmp"
)

func asTaken(v float64, u compliance.Unit, target float64) *compliance.Taken {
	return &compliance.Taken{Measured: v, Unit: u, Target: target}
}

func mm(v float64) *float64 { return &v }

// What is measured goes in, what is still to correct comes out: 6 mm of overjet
// less 2 are 4, and two quarters of a cusp of 7 mm are 3.5.
func TestVisit(t *testing.T) {
	db := open(t)
	p, other := enrol(t, db, somebody(1), ""), enrol(t, db, somebody(2), "")
	first := Visit{Date: today.AddDays(-3), Overjet: asTaken(6, compliance.Millimetres, 2), Right: asTaken(2, compliance.QuarterCusps, 0), SD: 0.5}
	still := compliance.Visit{Date: first.Date, Overjet: mm(4), Right: mm(3.5), SD: mm(0.5)}
	got := must[compliance.Visit](t)(db.AddVisit(ctx, p.Ref, first, "Dr. Soto", noon))
	if d := cmp.Diff(still, got); d != "" {
		t.Errorf("-want +got\n%s", d)
	}
	must[compliance.Visit](t)(db.AddVisit(ctx, p.Ref, Visit{Date: today, Left: asTaken(-1, compliance.Millimetres, 0)}, "Dr. Soto", noon))
	must[compliance.Visit](t)(db.AddVisit(ctx, other.Ref, Visit{Date: today, Left: asTaken(9, compliance.Millimetres, 0)}, "Dr. Soto", noon))

	visits := must[[]Visit](t)(db.Visits(ctx, p.Ref))
	first.By, first.At, first.Still = "Dr. Soto", noon, still
	if len(visits) != 2 || !cmp.Equal(first, visits[0]) {
		t.Errorf("got %+v: %s", visits, cmp.Diff(first, visits[0]))
	}
	r := must[*compliance.Record](t)(db.PatientRecord(ctx, p.Ref, noon, nil))
	if d := cmp.Diff([]compliance.Visit{still, {Date: today, Left: mm(-1)}}, r.Visits); d != "" {
		t.Errorf("record -want +got\n%s", d)
	}
	// One later than as-of is as if absent; one on its day is seen.
	r = must[*compliance.Record](t)(db.PatientRecord(ctx, p.Ref, noon.AddDate(0, 0, -1), nil))
	if len(r.Visits) != 1 || r.Visits[0].Date != first.Date {
		t.Errorf("a day earlier the record holds %+v", r.Visits)
	}

	acts := must[[]Act](t)(db.Audit(ctx, p.Ref, 1))
	if acts[0].What != "visit add" || acts[0].By != "Dr. Soto" || acts[0].Detail != "2026-06-01, 1 measures" {
		t.Errorf("audit: %+v", acts[0])
	}
}

// A correction takes the place of the whole day, one that read nothing takes
// it back, and nothing that was written is lost.
func TestVisitIsCorrected(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	for i, c := range []struct {
		v    Visit
		want []compliance.Visit
	}{
		{Visit{Date: today, Overjet: asTaken(6, compliance.Millimetres, 2), Left: asTaken(3, compliance.Millimetres, 0)},
			[]compliance.Visit{{Date: today, Overjet: mm(4), Left: mm(3)}}},
		{Visit{Date: today, Overjet: asTaken(5, compliance.Millimetres, 2)}, []compliance.Visit{{Date: today, Overjet: mm(3)}}},
		{Visit{Date: today.AddDays(-1), Left: asTaken(2, compliance.Millimetres, 0)},
			[]compliance.Visit{{Date: today.AddDays(-1), Left: mm(2)}, {Date: today, Overjet: mm(3)}}},
		{Visit{Date: today}, []compliance.Visit{{Date: today.AddDays(-1), Left: mm(2)}}},
		{Visit{Date: today, Right: asTaken(1, compliance.HalfCusps, 0)},
			[]compliance.Visit{{Date: today.AddDays(-1), Left: mm(2)}, {Date: today, Right: mm(3.5)}}},
	} {
		must[compliance.Visit](t)(db.AddVisit(ctx, p.Ref, c.v, "Dr. Soto", noon.Add(time.Duration(i)*time.Minute)))
		r := must[*compliance.Record](t)(db.PatientRecord(ctx, p.Ref, noon.Add(time.Hour), nil))
		if d := cmp.Diff(c.want, r.Visits); d != "" {
			t.Errorf("after %d: -want +got\n%s", i+1, d)
		}
	}
	if n := number(t, db, "SELECT count(*) FROM visit"); n != 5 {
		t.Errorf("%d rows are on file of 5 that were written", n)
	}
	if _, err := db.writer.Exec("UPDATE visit SET left_mm = 0"); err == nil || !strings.Contains(err.Error(), "never changed") {
		t.Errorf("a visit was changed: %v", err)
	}
}

func TestVisitFaults(t *testing.T) {
	db := open(t)
	p := somebody(1)
	p.Zone = "Pacific/Auckland" // 2 June, 04:00
	p = enrol(t, db, p, "")
	good := Visit{Date: today.AddDays(1), Overjet: asTaken(50, compliance.Millimetres, 2)}
	must[compliance.Visit](t)(db.AddVisit(ctx, p.Ref, good, "Dr. Soto", noon))
	for _, c := range []struct {
		name string
		v    Visit
		by   string
		want []string
	}{
		{"everything at once", Visit{Date: today.AddDays(2), Overjet: asTaken(50.1, compliance.Millimetres, 2), Left: asTaken(1, "inches", 0), SD: -1}, " ",
			[]string{"date: 2026-06-03 is still to come: it is 2026-06-02", "overjet: 50.1 mm", `left: read measure: "inches"`, "sd_mm: -1", "by: is missing"}},
		{"no day", Visit{Left: asTaken(1, compliance.Millimetres, 0)}, "x", []string{"date: is missing"}},
		{"overjet in cusps", Visit{Date: today, Overjet: asTaken(1, compliance.HalfCusps, 2)}, "x", []string{"overjet: is read in mm"}},
		{"29 quarters of a cusp", Visit{Date: today, Left: asTaken(29, compliance.QuarterCusps, 0)}, "x", []string{"left: 29 quarter-cusps"}},
		{"a wild target", Visit{Date: today, Left: asTaken(30, compliance.Millimetres, -30)}, "x", []string{"left: 30 mm against a target of -30 mm"}},
	} {
		_, err := db.AddVisit(ctx, p.Ref, c.v, c.by, noon)
		var fs plan.Faults
		if !errors.As(err, &fs) || len(fs) != len(c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
		for _, w := range c.want {
			if err == nil || !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q is not in %v", c.name, w, err)
			}
		}
	}
	if _, err := db.AddVisit(ctx, "nobody", good, "x", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("nobody was measured: %v", err)
	}
	if n := number(t, db, "SELECT count(*) FROM visit"); n != 1 {
		t.Errorf("%d visits are on file, not the good one", n)
	}
}
