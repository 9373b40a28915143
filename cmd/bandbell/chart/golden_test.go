package chart

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// The golden files were looked at, in the light and in the dark; they show
// what a change does to the pictures.
func TestGolden(t *testing.T) {
	for _, s := range scenes {
		for kind, p := range s.pictures(t) {
			var table strings.Builder
			for _, row := range append([][]string{p.Head}, p.Rows...) {
				table.WriteString(strings.Join(row, " | ") + "\n")
			}
			for ext, got := range map[string]string{"svg": p.SVG, "txt": p.Text + "\n" + table.String()} {
				if s.name == "400-days" {
					continue // too long to be looked at line by line; held by TestSizeIsBounded
				}
				file := filepath.Join("testdata", kind+"-"+s.name+"."+ext)
				if *update {
					if err := os.MkdirAll("testdata", 0o755); err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
						t.Fatal(err)
					}
					continue
				}
				want, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(string(want), got); diff != "" {
					t.Errorf("%s (-want +got), rewrite with -update and look at it:\n%s", file, diff)
				}
			}
		}
	}
}
