package chart

import (
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"math"
	"strconv"
	"strings"
)

// Measures of every picture, in SVG units, which are pixels where it stands in
// its natural size.
const (
	textSize   = 12  // height of the writing
	lineHeight = 16  // from one line of writing to the next
	runeWidth  = 6.5 // reckoned for one letter: the mean of a wide face at that size, and some
	faint      = ".6"
)

// faint is how strongly guides and second marks are drawn. WCAG 2.2, 1.4.11,
// asks 3:1 of what is needed to understand a picture; black at 0.6 on white has
// 5.7:1 and white at 0.6 on black 7.4:1.

// drawing gathers the elements of one SVG picture.
type drawing struct {
	body strings.Builder
	id   string // begins each id of the picture
}

// newDrawing starts a picture whose ids are made of its kind and of all it
// says, so that two on one page differ unless they are the same.
func newDrawing(kind string, p Picture) *drawing {
	h := fnv.New64a()
	for _, s := range []string{p.Title, p.Desc, p.Text} {
		_, _ = h.Write([]byte(s)) // a hash never fails
		_, _ = h.Write([]byte{0})
	}
	for _, row := range p.Rows {
		_, _ = h.Write([]byte(strings.Join(row, "\x00")))
	}
	return &drawing{id: fmt.Sprintf("%s-%016x", kind, h.Sum64())}
}

// number writes a coordinate to hundredths.
func number(x float64) string {
	v := math.Round(x*100) / 100
	if v == 0 {
		return "0" // never -0
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// escape makes text fit to stand between tags and in quotes. What XML cannot
// hold at all becomes the replacement character.
func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder never fails
	return b.String()
}

func attributes(b *strings.Builder, pairs []string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		b.WriteByte(' ')
		b.WriteString(pairs[i])
		b.WriteString(`="`)
		b.WriteString(escape(pairs[i+1]))
		b.WriteByte('"')
	}
}

// mark writes an empty element with attributes given as name, value, name, value.
func (d *drawing) mark(name string, pairs ...string) {
	d.body.WriteString("<" + name)
	attributes(&d.body, pairs)
	d.body.WriteString("/>\n")
}

// write puts one line of writing; anchor is start, middle or end.
func (d *drawing) write(x, y float64, anchor, s string) {
	d.body.WriteString("<text")
	attributes(&d.body, []string{"x", number(x), "y", number(y)})
	if anchor != "start" {
		attributes(&d.body, []string{"text-anchor", anchor})
	}
	d.body.WriteString(">" + escape(s) + "</text>\n")
}

// line draws a straight line with further attributes.
func (d *drawing) line(class string, x1, y1, x2, y2 float64, pairs ...string) {
	d.mark("path", append([]string{"class", class, "fill", "none", "stroke", "currentColor",
		"d", "M" + number(x1) + " " + number(y1) + "L" + number(x2) + " " + number(y2)}, pairs...)...)
}

// guide draws a thin line that helps the eye and says nothing.
func (d *drawing) guide(x1, y1, x2, y2 float64) {
	d.line("chart-guide", x1, y1, x2, y2, "stroke-width", ".75", "stroke-opacity", faint)
}

// letters is how many letters a line of that width is reckoned to hold.
func letters(width float64) int { return int(width / runeWidth) }

// breadth is how wide a line of writing is reckoned to be, in a wide face.
func breadth(s string) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("ijltfr.,:;'()| ", r):
			w += 4.2
		case strings.ContainsRune("mwMW", r):
			w += 11
		default:
			w += 7.5
		}
	}
	return w
}

// paragraph writes lines from the first one's base, broken to the width, and
// returns the base of the line after them.
func (d *drawing) paragraph(x, y, width float64, s string) float64 {
	for _, l := range fold(s, letters(width)) {
		d.write(x, y, "start", l)
		y += lineHeight
	}
	return y
}

// box is the outline of a rectangle as a path.
func box(x, y, w, h float64) string {
	return "M" + number(x) + " " + number(y) + "h" + number(w) + "v" + number(h) + "h" + number(-w) + "z"
}

// diamond is the outline of a square on its corner.
func diamond(x, y, r float64) string {
	return "M" + number(x) + " " + number(y-r) + "l" + number(r) + " " + number(r) + "l" + number(-r) + " " + number(r) + "l" + number(-r) + " " + number(-r) + "z"
}

// key is one entry of a legend: a sample, drawn about a point at the left of
// its middle, and what it means.
type key struct {
	sample func(x, y float64)
	label  string
}

const sampleWidth = 24

// legend writes the keys in lines as wide as the picture and returns the base
// of the line after them.
func (d *drawing) legend(left, y, width float64, keys []key) float64 {
	x := left
	for _, k := range keys {
		w := sampleWidth + 6 + breadth(k.label)
		if x > left && x+w > left+width {
			x, y = left, y+lineHeight+2
		}
		k.sample(x, y-4)
		d.write(x+sampleWidth+6, y, "start", k.label)
		x += w + 14
	}
	return y + lineHeight + 2
}

// finish closes the picture. Its title names it and its desc describes it, and
// a reader that cannot see it is told both.
func (d *drawing) finish(width, height float64, title, desc string) string {
	var b strings.Builder
	b.WriteString("<svg")
	attributes(&b, []string{
		"xmlns", "http://www.w3.org/2000/svg", "class", "chart", "role", "img",
		"aria-labelledby", d.id + "-title", "aria-describedby", d.id + "-desc",
		"viewBox", "0 0 " + number(width) + " " + number(height), "width", number(width), "height", number(height),
		"fill", "currentColor", "font-family", "system-ui, sans-serif", "font-size", strconv.Itoa(textSize),
	})
	b.WriteString(">\n<title id=\"" + d.id + "-title\">" + escape(title) + "</title>\n")
	b.WriteString("<desc id=\"" + d.id + "-desc\">" + escape(desc) + "</desc>\n")
	b.WriteString(d.body.String())
	b.WriteString("</svg>\n")
	return b.String()
}
