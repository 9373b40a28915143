package hookup

import (
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"math"
	"strconv"
	"strings"
)

// SVG is the picture as one <svg> element, for a page: with a title, a
// description that says it in words, and role img (SVG 2; WAI-ARIA 1.2). Every
// line of writing is given its length, so that no font makes it longer.
func (p Picture) SVG() []byte {
	var b strings.Builder
	w, h := p.Size()
	desc := p.speech.mirror + " " + strings.Join(p.words, " ")
	id := p.id(desc)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %s %s" role="img" lang="%s" aria-labelledby="%s-title %s-desc">`+"\n",
		w, h, figure(sheet), figure(float64(h)*sheet/float64(w)), p.lang, id, id)
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", id, escape(p.speech.title), id, escape(desc))
	for _, s := range p.shapes {
		s.svg(&b)
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// id begins the ids of the picture; it is made of all it says and shows, so
// that two on a page differ unless they are the same.
func (p Picture) id(desc string) string {
	h := fnv.New64a()
	fmt.Fprint(h, p.lang, p.width, "\x00", desc)
	return fmt.Sprintf("hookup-%016x", h.Sum64())
}

func (s shape) svg(b *strings.Builder) {
	if s.text != nil {
		w := s.text
		fmt.Fprintf(b, `<text data-part="%s" x="%s" y="%s" font-family="Go, Arial, Helvetica, sans-serif" font-size="%s" fill="%s"`, s.part, figure(w.at.x), figure(w.at.y), figure(w.size), w.ink)
		if w.bold {
			b.WriteString(` font-weight="bold"`)
		}
		if w.mid {
			b.WriteString(` text-anchor="middle"`)
		}
		fmt.Fprintf(b, ` textLength="%s" lengthAdjust="spacingAndGlyphs">%s</text>`+"\n", figure(w.width()), escape(w.s))
		return
	}
	fmt.Fprintf(b, `<path data-part="%s" d="%s" fill="%s"`, s.part, s.path, s.fill)
	if s.stroke != none {
		fmt.Fprintf(b, ` stroke="%s" stroke-width="%s"`, s.stroke, figure(s.width))
		if s.dash > 0 {
			fmt.Fprintf(b, ` stroke-dasharray="%s %s"`, figure(s.dash), figure(s.dash*dashGap))
		} else {
			b.WriteString(` stroke-linecap="round" stroke-linejoin="round"`)
		}
	}
	b.WriteString("/>\n")
}

// String writes the path as SVG path data.
func (p path) String() string {
	var b strings.Builder
	for _, s := range p {
		b.WriteByte(byte(s.how))
		for i, q := range s.p[:s.how.points()] {
			if i > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(figure(q.x) + " " + figure(q.y))
		}
	}
	return b.String()
}

// String writes the colour as SVG and CSS do.
func (i ink) String() string {
	if i == none {
		return "none"
	}
	return fmt.Sprintf("#%06x", int(i))
}

// figure writes a length to hundredths of a unit.
func figure(x float64) string {
	v := math.Round(x*100) / 100
	if v == 0 {
		return "0" // never -0
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// escape makes text fit to stand between tags. What XML cannot hold at all
// becomes the replacement character.
func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder never fails
	return b.String()
}
