package hookup

import (
	"errors"
	"fmt"
	"slices"

	"bandbell/scheduler/plan"
)

// Bounds of what is drawn.
const (
	// DefaultWidth is the width of a picture in pixels where none is asked for.
	DefaultWidth = 640
	minWidth     = 160
	maxWidth     = 2560
	// MaxBands is how many bands one picture may show: more could not be told
	// apart. Nobody wears so many at once; common practice, no source.
	MaxBands = 6
)

// Options say how a picture is drawn.
type Options struct {
	Lang     string        // BCP 47 tag; en and es have words, any other is drawn in English
	Notation plan.Notation // of the tooth numbers; empty: ISO 3950
	Width    int           // in pixels, 160 to 2560; 0: DefaultWidth. The height follows
}

// Draw makes the picture of bands that are worn together. It fails, with every
// fault found, where there is no band or more than MaxBands, where one cannot
// be worn as prescribed, or where an option is none: a wrong picture is worse
// than none.
func Draw(bands []plan.Prescription, o Options) (Picture, error) {
	if o.Width == 0 {
		o.Width = DefaultWidth
	}
	if o.Notation == "" {
		o.Notation = plan.ISO
	}
	if err := check(bands, o); err != nil {
		return Picture{}, fmt.Errorf("draw the bands: %w", err)
	}
	if _, err := fonts(); err != nil {
		return Picture{}, fmt.Errorf("draw the bands: read the font: %w", err)
	}
	p := Picture{speech: speechOf(o.Lang), lang: "en", width: o.Width}
	for tag, s := range speeches {
		if s == p.speech {
			p.lang = tag
		}
	}
	for _, b := range bands {
		p.words = append(p.words, p.speech.sentence(b, o.Notation))
	}
	p.compose(bands, o.Notation)
	return p, nil
}

// check gathers all that is wrong, by the number of the band.
func check(bands []plan.Prescription, o Options) error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	if len(bands) == 0 {
		fault("there is no band to draw")
	}
	if len(bands) > MaxBands {
		fault("%d bands are more than the %d one picture can show", len(bands), MaxBands)
	}
	if o.Width < minWidth || o.Width > maxWidth {
		fault("a width of %d px is not between %d and %d", o.Width, minWidth, maxWidth)
	}
	if !slices.Contains([]plan.Notation{plan.ISO, plan.Universal, plan.Palmer}, o.Notation) {
		fault("%q is no notation; write iso, universal or palmer", o.Notation)
	}
	for i, b := range bands {
		at := func(path string) string { return fmt.Sprintf("band %d: %s", i+1, path) }
		if _, ok := english.sides[b.Side]; !ok {
			fault("%s: %q is no side; write right, left or front", at("side"), b.Side)
		}
		if _, ok := english.patterns[b.Pattern]; !ok {
			fault("%s: %q is no pattern", at("pattern"), b.Pattern)
		}
		for _, list := range []struct {
			name  string
			hooks []plan.Hook
		}{{"upper", b.Upper}, {"lower", b.Lower}} {
			for j, h := range list.hooks {
				if _, ok := english.surfaces[plainly(h).Surface]; !ok {
					fault("%s[%d]: %q is no surface; write cheek or tongue", at(list.name), j, h.Surface)
				}
				if !slices.Contains(kinds, h.Kind) {
					fault("%s[%d]: %q is no kind of hook", at(list.name), j, h.Kind)
				}
			}
		}
		for _, f := range b.Check() {
			if f.Hint != "" {
				fault("%s: %s (%s)", at(f.Path), f.What, f.Hint)
			} else {
				fault("%s: %s", at(f.Path), f.What)
			}
		}
	}
	return errors.Join(faults...)
}
