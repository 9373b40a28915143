package hookup

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"bandbell/scheduler/plan"
)

// element is one element of an SVG as another reader sees it.
type element struct {
	name  string
	attrs map[string]string
	text  string
}

// readSVG reads a picture back with encoding/xml, which refuses what is not
// well formed.
func readSVG(tb interface{ Fatal(...any) }, svg []byte) []element {
	var out []element
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	var open []int
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			tb.Fatal("not well formed: ", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			e := element{name: tok.Name.Local, attrs: map[string]string{}}
			for _, a := range tok.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open = append(open, len(out))
			out = append(out, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]].text += string(tok)
			}
		}
	}
}

// parts are the elements by what they draw.
func parts(all []element) map[string][]element {
	out := map[string][]element{}
	for _, e := range all {
		if p := e.attrs["data-part"]; p != "" {
			out[p] = append(out[p], e)
		}
	}
	return out
}

// corners reads SVG path data (absolute M, L, C, Z only) as the points it goes
// through, curves as 20 points each.
func corners(tb interface{ Fatal(...any) }, d string) []point {
	var out []point
	for len(d) > 0 {
		op := d[0]
		end := strings.IndexAny(d[1:], "MLCZ")
		if end < 0 {
			end = len(d) - 1
		}
		var v []float64
		for _, f := range strings.Fields(d[1 : end+1]) {
			x, err := strconv.ParseFloat(f, 64)
			if err != nil {
				tb.Fatal(err)
			}
			v = append(v, x)
		}
		d = d[end+1:]
		switch {
		case (op == 'M' || op == 'L') && len(v) == 2:
			out = append(out, point{v[0], v[1]})
		case op == 'C' && len(v) == 6:
			a := out[len(out)-1]
			for i := 1; i <= 20; i++ {
				t := float64(i) / 20
				mix := func(p0, p1, p2, p3 float64) float64 { // de Casteljau
					q0, q1, q2 := p0+(p1-p0)*t, p1+(p2-p1)*t, p2+(p3-p2)*t
					r0, r1 := q0+(q1-q0)*t, q1+(q2-q1)*t
					return r0 + (r1-r0)*t
				}
				out = append(out, point{mix(a.x, v[0], v[2], v[4]), mix(a.y, v[1], v[3], v[5])})
			}
		case op == 'Z' && len(v) == 0:
		default:
			tb.Fatal("a path step ", string(op), " with ", len(v), " numbers")
		}
	}
	return out
}

// extent is the box of points.
func extent(points []point) box {
	b := box{point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}}
	for _, p := range points {
		b.min = point{min(b.min.x, p.x), min(b.min.y, p.y)}
		b.max = point{max(b.max.x, p.x), max(b.max.y, p.y)}
	}
	return b
}

func centre(b box) point { return point{(b.min.x + b.max.x) / 2, (b.min.y + b.max.y) / 2} }

// inside tells by the crossings of a ray whether a place lies in a polygon.
func inside(p point, ring []point) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.y > p.y) != (b.y > p.y) && p.x < (b.x-a.x)*(p.y-a.y)/(b.y-a.y)+a.x {
			in = !in
		}
	}
	return in
}

func mustDraw(tb testing.TB, bands []plan.Prescription, o Options) Picture {
	tb.Helper()
	p, err := Draw(bands, o)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// A picture on a page has a name and a description and is one image (SVG 2,
// chapter 5.8; WAI-ARIA 1.2, role img); it loads nothing and runs nothing.
func TestSVGIsReadable(t *testing.T) {
	for _, s := range scenes {
		p := mustDraw(t, s.bands, s.o)
		all := readSVG(t, p.SVG())
		root := all[0]
		if root.name != "svg" || root.attrs["role"] != "img" || root.attrs["viewBox"] == "" {
			t.Errorf("%s: begins with %+v", s.name, root)
		}
		ids := map[string]element{}
		for _, e := range all {
			if id := e.attrs["id"]; id != "" {
				if _, twice := ids[id]; twice {
					t.Errorf("%s: the id %s stands twice", s.name, id)
				}
				ids[id] = e
			}
			switch e.name {
			case "svg", "title", "desc", "path", "text":
			default:
				t.Errorf("%s: has a <%s>", s.name, e.name)
			}
			for a, v := range e.attrs {
				if strings.HasPrefix(a, "on") || a == "href" || a == "style" || strings.Contains(v, "url(") {
					t.Errorf("%s: %s=%q", s.name, a, v)
				}
			}
		}
		named := strings.Fields(root.attrs["aria-labelledby"])
		if len(named) != 2 || ids[named[0]].name != "title" || ids[named[1]].name != "desc" {
			t.Fatalf("%s: named by %q", s.name, named)
		}
		desc := ids[named[1]].text
		for _, w := range p.Words() {
			if !strings.Contains(desc, w) {
				t.Errorf("%s: the description lacks %q", s.name, w)
			}
		}
		drawn := map[string]string{} // the sentences under the teeth, their lines joined
		for _, e := range all {
			if part := e.attrs["data-part"]; strings.HasPrefix(part, "words-") {
				drawn[part] = strings.TrimPrefix(drawn[part]+" "+e.text, " ")
			}
		}
		for i, w := range p.Words() {
			if got := drawn["words-"+strconv.Itoa(i+1)]; got != w {
				t.Errorf("%s: under the teeth stands %q, not %q", s.name, got, w)
			}
		}
	}
}

// What somebody typed as the name of a bag is text and stays so.
func TestHostileBag(t *testing.T) {
	for _, bag := range []string{
		`</desc></svg><script>alert(1)</script>`, `"><image href="https://example.org/x.png"/>`, `<b>"O'Neil & 李` + "\r\nBcc: x@example.org",
		"a\x00b\x1bc\xff\xfed", "abc\u202edef\u2066\u200b", "]]>&amp;<!--", strings.Repeat("W", 5000), "{U}{L}", "\ufffe\uffff",
	} {
		b := scenes[0].bands[0]
		b.Bag = bag
		p := mustDraw(t, []plan.Prescription{b}, Options{})
		for _, e := range readSVG(t, p.SVG()) {
			switch e.name {
			case "svg", "title", "desc", "path", "text":
			default:
				t.Errorf("bag %q made a <%s>", bag, e.name)
			}
		}
		w := p.Words()[0]
		for _, r := range w {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\n' {
				t.Errorf("bag %q left %U in the words", bag, r)
			}
		}
		if n := len([]rune(w)); n > 140 {
			t.Errorf("bag of %d octets made a sentence of %d letters", len(bag), n)
		}
		if pixels, err := p.PNG(); err != nil || len(pixels) > MaxPNG {
			t.Errorf("bag %.20q: %d octets, %v", bag, len(pixels), err)
		}
	}
	b := scenes[0].bands[0]
	b.Bag = "Otter <b>{L}</b> & \"Co\""
	if w := mustDraw(t, []plan.Prescription{b}, Options{}).Words()[0]; !strings.HasSuffix(w, "Bag: “Otter <b>{L}</b> & \"Co\"”.") {
		t.Errorf("the bag reads %q", w)
	}
}
