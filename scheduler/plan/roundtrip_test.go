package plan

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestPlanSurvivesWritingAndReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPlan().Draw(t, "plan")
		if found := p.Check(); len(found) > 0 {
			t.Fatalf("a good plan was refused: %v", found)
		}
		text, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadPlan("plan.json", text)
		if err != nil {
			t.Fatalf("%v\nin %s", err, text)
		}
		if diff := cmp.Diff(p, back); diff != "" {
			t.Fatalf("%s\nin %s", diff, text)
		}
	})
}

// Each pattern drawn by the generator is refused as soon as its side is turned.
func TestTheOtherSideIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBand(t, Date{2026, time.June, 1})
		switch b.Side {
		case Right:
			b.Side = Left
		case Left:
			b.Side = Right
		case Front:
			b.Side = rapid.SampledFrom([]Side{Right, Left}).Draw(t, "not in front")
		}
		if len(b.Check()) == 0 {
			t.Fatalf("accepted: %+v", b)
		}
	})
}

func TestExactSizesSurvive(t *testing.T) {
	for _, mm := range []Lumen{3.175, 4.7625, 6.35, 7.9375, 9.525, 12.7, 15.875, 19.05} {
		text := fmt.Sprintf(`{%s,"bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[13],"lower":[46],"lumen_mm":%v,"force_oz":4.5,"latex":false}]}`, least, float64(mm))
		p, err := ReadPlan("plan.json", []byte(text))
		if err != nil || p.Bands[0].Lumen != mm || p.Bands[0].Force != 4.5 {
			t.Errorf("%v mm: %v, %v", float64(mm), p.Bands, err)
		}
	}
}

// FuzzReadPlan holds that a plan is either refused with a fault that has a
// place, or can be acted on and survives being written and read again.
func FuzzReadPlan(f *testing.F) {
	for _, s := range []string{
		`{` + least + `}`, `{"appliance":"braces","bands_start":"2026-06-01","planned_end":"2027-06-01"}`,
		`{` + least + `,"bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[13],"lower":[{"tooth":46,"kind":"button"}],"lumen_mm":4.8,"force_oz":4.5,"latex":true}]}`,
		`{` + least + `,"quiet":{"from":"07:00","to":"07:00"},"meals":[{"code":"HS","at":"22:00","days":["mon","mon"]}],"restarts":["2026-06-20","2026-06-20"]}`,
		`{` + least + `,"trays":24,"wear":[null],"pauses":[{}]}`, `{"trays":tru`, `[1,2] 3`, "\xef\xbb\xbf{}", "{\"\":{\"\":0}}", `{"a":"\ud800"}`, "", "null",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := ReadPlan("plan.json", text)
		if err != nil {
			faults, ok := err.(Faults)
			if !ok || len(faults) == 0 {
				t.Fatalf("the error is a %T: %v", err, err)
			}
			for _, fault := range faults {
				if fault.Line < 1 || fault.Col < 1 || fault.What == "" || fault.File != "plan.json" {
					t.Fatalf("a fault without its place: %+v", fault)
				}
			}
			return
		}
		if found := p.Check(); len(found) > 0 {
			t.Fatalf("accepted with faults: %v", found)
		}
		written, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ReadPlan("plan.json", written)
		if err != nil {
			t.Fatalf("%v\nin %s", err, written)
		}
		if diff := cmp.Diff(p, back); diff != "" {
			t.Fatalf("%s\nin %s", diff, written)
		}
	})
}
