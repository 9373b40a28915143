package chart

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// luminance is the relative luminance of a grey, 0-1, by WCAG 2.2.
func luminance(grey float64) float64 {
	if grey <= 0.04045 {
		return grey / 12.92
	}
	return math.Pow((grey+0.055)/1.055, 2.4)
}

func contrast(a, b float64) float64 {
	a, b = luminance(a), luminance(b)
	return (max(a, b) + 0.05) / (min(a, b) + 0.05)
}

// WCAG 2.2, 1.4.11: 3:1 for what is needed to understand a picture. The two
// ends of the scale of the formula itself are 21:1 and 1:1.
func TestContrast(t *testing.T) {
	if c := contrast(0, 1); math.Abs(c-21) > 1e-9 || contrast(.5, .5) != 1 {
		t.Fatalf("black on white has %v", c)
	}
	every(t, func(t *testing.T, p Picture) {
		for _, e := range elements(t, p.SVG) {
			for k, v := range e.attr {
				if !strings.Contains(k, "opacity") {
					continue
				}
				o, err := strconv.ParseFloat(v, 64)
				if err != nil {
					t.Fatal(err)
				}
				if light, dark := contrast(1-o, 1), contrast(o, 0); light < 3 || dark < 3 {
					t.Errorf("<%s %s=%s> has %.1f:1 in the light, %.1f:1 in the dark", e.name, k, v, light, dark)
				}
			}
		}
	})
}

// No writing leaves the picture, is too small to read, or runs over other
// writing, reckoned with a wide face.
func TestWritingHasRoom(t *testing.T) {
	type area struct {
		x1, y1, x2, y2 float64
		s              string
	}
	for _, s := range scenes {
		for kind, p := range s.pictures(t) {
			list := elements(t, p.SVG)
			width, height := float(t, list[0].attr["width"]), float(t, list[0].attr["height"])
			if list[0].attr["viewBox"] != "0 0 "+number(width)+" "+number(height) || float(t, list[0].attr["font-size"]) < 12 {
				t.Errorf("%s %s: root %v", kind, s.name, list[0].attr)
			}
			var areas []area
			for _, e := range list {
				if e.name != "text" {
					continue
				}
				w := breadth(e.text) * .88
				a := area{float(t, e.attr["x"]), float(t, e.attr["y"]) - 9, 0, float(t, e.attr["y"]) + 2, e.text}
				switch e.attr["text-anchor"] {
				case "middle":
					a.x1 -= w / 2
				case "end":
					a.x1 -= w
				}
				a.x2 = a.x1 + w
				if a.x1 < 0 || a.x2 > width || a.y1 < 0 || a.y2 > height {
					t.Errorf("%s %s: %q leaves the picture: %+v of %v by %v", kind, s.name, a.s, a, width, height)
				}
				for _, b := range areas {
					if a.x1 < b.x2 && b.x1 < a.x2 && a.y1 < b.y2 && b.y1 < a.y2 {
						t.Errorf("%s %s: %q runs over %q", kind, s.name, a.s, b.s)
					}
				}
				areas = append(areas, a)
			}
		}
	}
}

func float(tb failing, s string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}
