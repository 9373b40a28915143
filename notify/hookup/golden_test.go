package hookup

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// The golden files were looked at; they show what a change does to the
// pictures. The SVG is held byte by byte; the PNG by what it shows, since two
// processors may round the last bit of a pixel differently.
func TestGolden(t *testing.T) {
	for _, s := range scenes {
		t.Run(s.name, func(t *testing.T) {
			p, err := Draw(s.bands, s.o)
			if err != nil {
				t.Fatal(err)
			}
			pixels, err := p.PNG()
			if err != nil {
				t.Fatal(err)
			}
			for ext, got := range map[string][]byte{"svg": p.SVG(), "png": pixels} {
				file := filepath.Join("testdata", s.name+"."+ext)
				if *update {
					if err := os.MkdirAll("testdata", 0o755); err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(file, got, 0o644); err != nil {
						t.Fatal(err)
					}
					continue
				}
				want, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				if ext == "svg" {
					if diff := cmp.Diff(string(want), string(got)); diff != "" {
						t.Errorf("%s (-want +got), rewrite with -update and look at it:\n%s", file, diff)
					}
					continue
				}
				if n := unlike(t, want, got); n > 20 {
					t.Errorf("%s: %d pixels look different, rewrite with -update and look at it", file, n)
				}
			}
		})
	}
}

// unlike counts the pixels of two PNGs that differ visibly.
func unlike(t *testing.T, a, b []byte) int {
	t.Helper()
	var both [2]image.Image
	for i, data := range [][]byte{a, b} {
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		both[i] = img
	}
	if both[0].Bounds() != both[1].Bounds() {
		t.Fatalf("sizes %v and %v", both[0].Bounds(), both[1].Bounds())
	}
	n := 0
	for y := range both[0].Bounds().Dy() {
		for x := range both[0].Bounds().Dx() {
			if off(both[0].At(x, y), both[1].At(x, y)) > 24 {
				n++
			}
		}
	}
	return n
}
