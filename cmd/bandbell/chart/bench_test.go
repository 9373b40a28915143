package chart

import "testing"

func BenchmarkRasterYear(b *testing.B) {
	r := answered(b, "America/New_York", "2026-06-01", 365)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Raster(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRasterFortnight(b *testing.B) {
	r := answered(b, "America/New_York", "2026-06-01", 14)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Raster(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHoursYear(b *testing.B) {
	r := answered(b, "America/New_York", "2026-06-01", 365)
	f := figures(b, r)
	b.ReportAllocs()
	for b.Loop() {
		Hours(r, f)
	}
}

func BenchmarkFan(b *testing.B) {
	r := answered(b, "America/New_York", "2026-06-01", 90)
	f := figures(b, r)
	b.ReportAllocs()
	for b.Loop() {
		Fan(r, f)
	}
}
