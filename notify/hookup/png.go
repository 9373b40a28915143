package hookup

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// MaxPNG is the most a PNG of DefaultWidth or less should weigh, in octets:
// phones fetch mail over poor lines. Common practice, no source.
const MaxPNG = 64 << 10

// PNG is the picture as an image file for a message: opaque, Width pixels wide,
// with at most 256 colours; with still fewer where one of DefaultWidth or less
// would weigh more than MaxPNG.
func (p Picture) PNG() ([]byte, error) {
	canvas, err := p.paint()
	if err != nil {
		return nil, fmt.Errorf("paint the bands: %w", err)
	}
	enc := png.Encoder{CompressionLevel: png.DefaultCompression}
	var b bytes.Buffer
	for _, n := range levels {
		img, ok := fewColours(canvas, n)
		if !ok {
			continue
		}
		b.Reset()
		if err := enc.Encode(&b, img); err != nil {
			return nil, fmt.Errorf("write the picture: %w", err)
		}
		if b.Len() <= MaxPNG || p.width > DefaultWidth {
			break
		}
	}
	return b.Bytes(), nil
}

// paint draws the shapes, from the back to the front.
func (p Picture) paint() (*image.RGBA, error) {
	w, h := p.Size()
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Bounds(), image.NewUniform(white.colour()), image.Point{}, draw.Src)
	b := brush{dst: dst, scale: float64(w) / sheet, faces: map[faceKey]font.Face{}}
	for _, s := range p.shapes {
		if s.text != nil {
			if err := b.write(*s.text); err != nil {
				return nil, err
			}
			continue
		}
		b.paint(s)
	}
	return dst, nil
}

// brush paints on pixels what is measured in units of the sheet.
type brush struct {
	dst    *image.RGBA
	scale  float64
	raster vector.Rasterizer
	faces  map[faceKey]font.Face
}

type faceKey struct {
	size float64
	bold bool
}

func (b *brush) paint(s shape) {
	lines := s.path.contours()
	if s.fill != none {
		b.cover(lines, s.fill)
	}
	if s.stroke == none {
		return
	}
	var all [][]point
	for _, l := range lines {
		if s.dash == 0 {
			all = append(all, pieces(l, s.width, true)...)
			continue
		}
		for _, d := range dashed(l, s.dash) {
			all = append(all, pieces(d, s.width, false)...)
		}
	}
	b.cover(all, s.stroke)
}

// cover fills polygons with one ink.
func (b *brush) cover(polygons [][]point, with ink) {
	area, ok := b.bounds(polygons)
	if !ok {
		return
	}
	b.raster.Reset(area.Dx(), area.Dy())
	at := func(q point) (float32, float32) {
		return float32(q.x*b.scale - float64(area.Min.X)), float32(q.y*b.scale - float64(area.Min.Y))
	}
	for _, ring := range polygons {
		b.raster.MoveTo(at(ring[0]))
		for _, q := range ring[1:] {
			b.raster.LineTo(at(q))
		}
		b.raster.ClosePath()
	}
	b.raster.Draw(b.dst, area, image.NewUniform(with.colour()), image.Point{})
}

// bounds are the pixels that polygons touch; false where none is on the sheet.
func (b *brush) bounds(polygons [][]point) (image.Rectangle, bool) {
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, ring := range polygons {
		for _, q := range ring {
			low, high = point{min(low.x, q.x), min(low.y, q.y)}, point{max(high.x, q.x), max(high.y, q.y)}
		}
	}
	if high.x < low.x {
		return image.Rectangle{}, false
	}
	r := image.Rect(int(math.Floor(low.x*b.scale))-1, int(math.Floor(low.y*b.scale))-1, int(math.Ceil(high.x*b.scale))+1, int(math.Ceil(high.y*b.scale))+1)
	r = r.Intersect(b.dst.Bounds())
	return r, !r.Empty()
}

func (b *brush) write(w writing) error {
	key := faceKey{w.size, w.bold}
	if b.faces[key] == nil {
		f, err := face(w.size*b.scale, w.bold)
		if err != nil {
			return fmt.Errorf("read the font: %w", err)
		}
		b.faces[key] = f
	}
	x := w.box().min.x
	d := font.Drawer{Dst: b.dst, Src: image.NewUniform(w.ink.colour()), Face: b.faces[key],
		Dot: fixed.Point26_6{X: fixed.Int26_6(math.Round(x * b.scale * 64)), Y: fixed.Int26_6(math.Round(w.at.y * b.scale * 64))}}
	d.DrawString(w.s)
	return nil
}

func (i ink) colour() color.RGBA {
	return color.RGBA{uint8(i >> 16), uint8(i >> 8), uint8(i), 255}
}

// levels are how many steps a channel may keep, from fine to coarse. The edges
// of writing are all that has many colours, and taking some of them makes the
// file smaller before it can be seen. Six steps and fewer always fit a palette:
// they make 216 colours at the most.
var levels = []int{16, 11, 8, 6, 4, 3}

// fewColours is the same picture with n steps a channel; false where it has
// more than 256 colours even so.
func fewColours(src *image.RGBA, n int) (*image.Paletted, bool) {
	out := image.NewPaletted(src.Bounds(), nil)
	steps := ladder(n)
	index := map[color.RGBA]uint8{}
	for i := 0; i+3 < len(src.Pix); i += 4 {
		c := color.RGBA{steps[src.Pix[i]], steps[src.Pix[i+1]], steps[src.Pix[i+2]], 255}
		at, ok := index[c]
		if !ok {
			if len(out.Palette) == 256 {
				return nil, false
			}
			at = uint8(len(out.Palette))
			index[c] = at
			out.Palette = append(out.Palette, c)
		}
		out.Pix[i/4] = at
	}
	return out, true
}

// ladder maps a channel to the nearest of n steps from 0 to 255.
func ladder(n int) (steps [256]uint8) {
	for v := range steps {
		step := (v*(n-1) + 127) / 255
		steps[v] = uint8((step*255 + (n-1)/2) / (n - 1))
	}
	return steps
}
