package chart

import (
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"bandbell/store/compliance"
)

// failing is what a test and a property have in common.
type failing interface {
	Helper()
	Errorf(format string, args ...any)
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// element is one element of an SVG with the text in it.
type element struct {
	name, text string
	attr       map[string]string
}

// elements reads a picture as XML, and fails where it is not.
func elements(tb failing, svg string) []element {
	tb.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	d.Strict = true
	var out []element
	var open []int
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			tb.Fatalf("not well-formed: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			e := element{name: tok.Name.Local, attr: map[string]string{}}
			for _, a := range tok.Attr {
				if _, twice := e.attr[a.Name.Local]; twice {
					tb.Errorf("<%s> has %s twice", e.name, a.Name.Local)
				}
				e.attr[a.Name.Local] = a.Value
			}
			open, out = append(open, len(out)), append(out, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]].text += string(tok)
			}
		}
	}
}

// every calls f for each picture of the scenes and of the hostile record.
func every(t *testing.T, f func(t *testing.T, p Picture)) {
	for _, s := range append(scenes, hostile) {
		for kind, p := range s.pictures(t) {
			t.Run(kind+" "+s.name, func(t *testing.T) { f(t, p) })
		}
	}
}

// hostile is a record whose one foreign word, the name of its zone, does its
// worst.
const hostileZone = "<script>alert(1)</script>\"'&amp;\x00\x1b[31m\xff]]>"

var hostile = scene{"hostile", func(tb testing.TB) *compliance.Record {
	r := answered(tb, "UTC", "2026-06-01", 9)
	r.Zone = time.FixedZone(hostileZone+strings.Repeat("w", 300), 3600)
	return r
}, all}

// WAI-ARIA 1.2 asks a name of an img; SVG 2 gives it by title, desc and the
// two attributes.
func TestPicturesAreNamed(t *testing.T) {
	every(t, func(t *testing.T, p Picture) {
		list := elements(t, p.SVG)
		root := list[0]
		if root.name != "svg" || root.attr["role"] != "img" {
			t.Fatalf("the root is %v", root)
		}
		if list[1].name != "title" || list[1].attr["id"] != root.attr["aria-labelledby"] || list[1].text != fit(p.Title) || p.Title == "" {
			t.Errorf("title %+v, labelled by %q", list[1], root.attr["aria-labelledby"])
		}
		if list[2].name != "desc" || list[2].attr["id"] != root.attr["aria-describedby"] || list[2].text != fit(p.Desc) || p.Desc == "" {
			t.Errorf("desc %+v, described by %q", list[2], root.attr["aria-describedby"])
		}
		if !strings.Contains(p.Desc, "not measured") || !strings.Contains(p.Text, "not measured") {
			t.Error("does not say that hours are reported, not measured")
		}
	})
}

// fit is a text as XML 1.0 can hold it (section 2.2, Char).
func fit(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' || r == '\r' || r >= 0x20 && r != 0xFFFE && r != 0xFFFF {
			return r
		}
		return utf8.RuneError
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// Nothing in a picture acts, reaches out or needs a style of its own.
func TestPicturesAreInert(t *testing.T) {
	known := "svg title desc path text"
	every(t, func(t *testing.T, p Picture) {
		ids := map[string]bool{}
		for _, e := range elements(t, p.SVG) {
			if !strings.Contains(" "+known+" ", " "+e.name+" ") {
				t.Errorf("holds <%s>", e.name)
			}
			for k, v := range e.attr {
				switch {
				case k == "id":
					if ids[v] {
						t.Errorf("id %s twice", v)
					}
					ids[v] = true
				case strings.HasPrefix(k, "on") || k == "style" || k == "href" || k == "src":
					t.Errorf("<%s> has %s", e.name, k)
				case k == "fill" || k == "stroke":
					if v != "none" && v != "currentColor" {
						t.Errorf("<%s> has the colour %s", e.name, v)
					}
				case k != "xmlns" && strings.Contains(v, "//"):
					t.Errorf("<%s %s> refers to %s", e.name, k, v)
				}
			}
		}
	})
}

// Ids of different pictures never meet, so that all may stand in one page.
func TestIdsAreOwn(t *testing.T) {
	owner := map[string]string{}
	for _, s := range scenes {
		for kind, p := range s.pictures(t) {
			for _, e := range elements(t, p.SVG) {
				if id := e.attr["id"]; id != "" {
					if other, taken := owner[id]; taken {
						t.Errorf("%s %s has the id %s of %s", kind, s.name, id, other)
					}
					owner[id] = kind + " " + s.name
					if !strings.HasPrefix(id, kind+"-") {
						t.Errorf("%s %s: id %s", kind, s.name, id)
					}
				}
			}
		}
	}
}

func TestTextFitsATerminal(t *testing.T) {
	every(t, func(t *testing.T, p Picture) {
		if !strings.HasSuffix(p.Text, "\n") {
			t.Error("does not end its last line")
		}
		for line := range strings.Lines(p.Text) {
			line = strings.TrimSuffix(line, "\n")
			if n := utf8.RuneCountInString(line); n > 100 {
				t.Errorf("%d columns: %q", n, line)
			}
			if strings.ContainsFunc(line, func(r rune) bool { return !strconv.IsPrint(r) }) || strings.HasSuffix(line, " ") {
				t.Errorf("does not suit a terminal: %q", line)
			}
		}
	})
}

func TestTablesAreSquare(t *testing.T) {
	every(t, func(t *testing.T, p Picture) {
		if len(p.Head) == 0 || len(p.Rows) == 0 {
			t.Fatalf("table of %d columns and %d rows", len(p.Head), len(p.Rows))
		}
		for _, row := range p.Rows {
			if len(row) != len(p.Head) || row[0] == "" {
				t.Errorf("row %q under %q", row, p.Head)
			}
		}
	})
}

// What comes from outside is shown as it is and does nothing.
func TestHostileWordsAreEscaped(t *testing.T) {
	p := hostile.pictures(t)["raster"]
	if strings.Contains(p.SVG, "<script") || strings.Contains(p.SVG, "]]>") || strings.ContainsAny(p.SVG, "\x00\x1b") || !utf8.ValidString(p.SVG) {
		t.Error("the name of the zone got into the markup")
	}
	if got := elements(t, p.SVG)[2].text; !strings.Contains(got, fit(hostileZone)) {
		t.Errorf("the name of the zone is not in the desc: %q", got)
	}
	if !regexp.MustCompile(`<script>alert\(1\)</script>"'&amp;\?\?\[31m`).MatchString(p.Text) {
		t.Errorf("the name of the zone is not in the text:\n%s", p.Text)
	}
}

func TestSameBytes(t *testing.T) {
	for _, s := range scenes {
		first := s.pictures(t)
		for kind, again := range s.pictures(t) {
			if first[kind].SVG != again.SVG || first[kind].Text != again.Text {
				t.Errorf("%s %s: two drawings differ", kind, s.name)
			}
		}
	}
}

// A year and more of four answers a day stays small enough to stand in a page.
func TestSizeIsBounded(t *testing.T) {
	for _, s := range scenes {
		if s.name != "400-days" {
			continue
		}
		for kind, p := range s.pictures(t) {
			if len(p.SVG) > 100<<10 || len(p.Text) > 50<<10 {
				t.Errorf("%s: %d bytes of SVG, %d of text", kind, len(p.SVG), len(p.Text))
			}
			if kind != "fan" && len(p.Rows) != 400 {
				t.Errorf("%s: %d rows", kind, len(p.Rows))
			}
		}
		return
	}
	t.Error("no scene of 400 days")
}
