package hookup

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"pgregory.net/rapid"

	"bandbell/scheduler/plan"
)

// off is the greatest difference of two colours in a channel, 0 to 255.
func off(a, b color.Color) int {
	r1, g1, b1, _ := a.RGBA()
	r2, g2, b2, _ := b.RGBA()
	far := 0
	for _, d := range []int{int(r1>>8) - int(r2>>8), int(g1>>8) - int(g2>>8), int(b1>>8) - int(b2>>8)} {
		far = max(far, d, -d)
	}
	return far
}

func decode(tb interface{ Fatal(...any) }, data []byte) image.Image {
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		tb.Fatal(err)
	}
	return img
}

func pixels(tb interface{ Fatal(...any) }, p Picture) image.Image {
	data, err := p.PNG()
	if err != nil {
		tb.Fatal(err)
	}
	return decode(tb, data)
}

// The PNG of 640 pixels or less keeps under its bound whatever is prescribed,
// is as wide as asked and as high as it says.
func TestPNGSize(t *testing.T) {
	for _, s := range scenes {
		for _, w := range []int{320, 640} {
			if w == 320 && s.o.Lang == "" {
				continue // the smaller ones in one language do
			}
			p := mustDraw(t, s.bands, Options{Lang: s.o.Lang, Notation: s.o.Notation, Width: w})
			data, err := p.PNG()
			if err != nil {
				t.Fatal(err)
			}
			if len(data) > 64<<10 {
				t.Errorf("%s at %d px: %d octets", s.name, w, len(data))
			}
			pw, ph := p.Size()
			if got := decode(t, data).Bounds().Size(); got != (image.Point{pw, ph}) || pw != w {
				t.Errorf("%s: %v, not %d by %d", s.name, got, pw, ph)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		if rapid.IntRange(0, 19).Draw(t, "few") > 0 {
			return // a picture takes a while; a twentieth of the draws will do
		}
		p, err := Draw(rapid.SliceOfN(rapid.Custom(drawBand), 1, MaxBands).Draw(t, "bands"), drawOptions(t))
		if err != nil {
			t.Fatal(err)
		}
		data, err := p.PNG()
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > 64<<10 {
			t.Errorf("%d octets", len(data))
		}
	})
}

// The PNG shows at each place what the SVG paints there: the middle of each
// plain band, of a hook, of an empty tooth, of the gum, the corners of the page.
func TestPNGShowsTheSVG(t *testing.T) {
	for _, width := range []int{320, 640, 1000} {
		p := mustDraw(t, scenes[0].bands, Options{Width: width})
		img, drawn := pixels(t, p), parts(readSVG(t, p.SVG()))
		look := func(what string, at point, want string) {
			t.Helper()
			var r, g, b uint8
			if _, err := fmt.Sscanf(want, "#%02x%02x%02x", &r, &g, &b); err != nil {
				t.Fatal(err)
			}
			f := float64(width) / 640
			if got := img.At(int(at.x*f), int(at.y*f)); off(got, color.RGBA{r, g, b, 255}) > 30 {
				t.Errorf("%d px: %s at %v is %v, not %s", width, what, at, got, want)
			}
		}
		box := func(part string) box { return extent(corners(t, drawn[part][0].attrs["d"])) }
		for _, part := range []string{"hook-13-cheek", "hook-46-cheek", "hook-23-cheek", "hook-36-cheek", "tooth-11", "tooth-21", "tooth-15", "tooth-43", "tooth-33"} {
			look(part, centre(box(part)), drawn[part][0].attrs["fill"])
		}
		for _, part := range []string{"band-1", "band-2"} { // a quarter of the way: the disc is in the middle
			ends := corners(t, drawn[part][0].attrs["d"])
			look(part, point{ends[0].x*.75 + ends[1].x*.25, ends[0].y*.75 + ends[1].y*.25}, drawn[part][0].attrs["stroke"])
		}
		look("the gum", point{box("gum-upper").min.x + 8, box("tooth-28").min.y - 8}, drawn["gum-upper"][0].attrs["fill"])
		w, h := p.Size()
		for _, corner := range []image.Point{{1, 1}, {w - 2, 1}, {1, h - 2}, {w - 2, h - 2}} {
			if off(img.At(corner.X, corner.Y), color.White) > 0 {
				t.Errorf("%d px: the corner %v is %v", width, corner, img.At(corner.X, corner.Y))
			}
		}
		between := point{centre(box("tooth-11")).x, (box("tooth-11").max.y + box("tooth-41").min.y) / 2}
		look("between the rows", between, "#ffffff")
	}
}

// In grey, at 320 pixels, every kind of hook on either surface looks different
// from every other, and the cheek side is the darker.
func TestMarksDifferInGrey(t *testing.T) {
	type seen struct {
		name string
		grey []float64
		dark float64
	}
	var all []seen
	for _, surface := range []plan.Surface{plan.Cheek, plan.Tongue} {
		for _, kind := range kinds {
			b := band(plan.Right, plan.ClassII, []plan.Hook{{Tooth: 16, Surface: surface, Kind: kind}}, hooks(48))
			p := mustDraw(t, []plan.Prescription{b}, Options{Width: 320})
			img := pixels(t, p)
			part := "hook-16-" + string(surface)
			if kind != "" {
				part += "-" + string(kind)
			}
			at := centre(extent(corners(t, parts(readSVG(t, p.SVG()))["tooth-16"][0].attrs["d"])))
			s := seen{name: part}
			for dy := -7; dy <= 7; dy++ {
				for dx := -7; dx <= 7; dx++ {
					v := float64(color.GrayModel.Convert(img.At(int(at.x/2)+dx, int(at.y/2)+dy)).(color.Gray).Y)
					s.grey = append(s.grey, v)
					s.dark += 255 - v
				}
			}
			all = append(all, s)
		}
	}
	for i, a := range all {
		for _, b := range all[:i] {
			n := 0
			for j := range a.grey {
				if math.Abs(a.grey[j]-b.grey[j]) > 60 {
					n++
				}
			}
			if n < 8 {
				t.Errorf("%s and %s differ in %d pixels", a.name, b.name, n)
			}
		}
	}
	for i := range kinds {
		if cheek, tongue := all[i], all[i+len(kinds)]; cheek.dark < 1.2*tongue.dark {
			t.Errorf("%s is not plainly darker than %s: %.0f, %.0f", cheek.name, tongue.name, cheek.dark, tongue.dark)
		}
	}
}

// Contrast by WCAG 2.2: 4.5:1 for writing (1.4.3), 3:1 for what is needed to
// understand a picture (1.4.11), reckoned by its relative luminance.
func TestContrast(t *testing.T) {
	for _, tt := range []struct {
		name  string
		front ink
		back  ink
		least float64
	}{
		{"writing", black, white, 4.5}, {"a disc's number", white, black, 4.5}, {"outlines on white", outline, white, 3}, {"outlines on gum", outline, gum, 3},
		{"bands on teeth", banding, white, 3}, {"marks on teeth", black, white, 3}, {"numbers on gum", black, gum, 4.5},
	} {
		if got := contrast(tt.front, tt.back); got < tt.least {
			t.Errorf("%s: %.2f:1, less than %.1f:1", tt.name, got, tt.least)
		}
	}
	// The definition's own ends: black on white is 21:1.
	if got := contrast(0, 0xffffff); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white is %.3f:1", got)
	}
	for i, want := range map[ink]float64{black: 15.9, outline: 5.9, banding: 9.5} {
		if got := contrast(i, white); math.Abs(got-want) > 0.1 {
			t.Errorf("%s on white is %.2f:1, not %.1f:1 as said", i, got, want)
		}
	}
}

func contrast(a, b ink) float64 {
	luminance := func(i ink) float64 {
		sum := 0.0
		for j, weight := range []float64{0.2126, 0.7152, 0.0722} {
			v := float64(int(i)>>(16-8*j)&0xff) / 255
			if v <= 0.04045 {
				v /= 12.92
			} else {
				v = math.Pow((v+0.055)/1.055, 2.4)
			}
			sum += weight * v
		}
		return sum
	}
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}
