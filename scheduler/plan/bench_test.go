package plan

import (
	"encoding/json"
	"testing"
)

func BenchmarkInstant(b *testing.B) {
	loc := zone(b, "America/New_York")
	d := Date{2026, 6, 1}
	for i := 0; b.Loop(); i++ {
		Instant(d.AddDays(i%365), Clock(i%1440), loc)
	}
}

func BenchmarkReadPlan(b *testing.B) {
	text, err := json.Marshal(anyPlan().Filter(func(p Plan) bool { return len(p.Bands) > 1 && len(p.Meals) > 3 }).Example(1))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := ReadPlan("plan.json", text); err != nil {
			b.Fatal(err)
		}
	}
}
