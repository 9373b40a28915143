package hookup

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
)

// Sizes of writing on the sheet. At 320 px they are half: 10 px at the least.
const (
	titleSize = 25.0
	sideSize  = 22.0
	toothSize = 21.0
	wordSize  = 21.0
	discSize  = 20.0
	wordLine  = 28.0 // from one line of words to the next
)

// What a line of writing takes above and below its base line, as shares of its
// size: with accents and tails, and for capitals and digits alone. Rounded up
// from the metrics of the Go fonts.
const (
	ascent    = 0.94
	descent   = 0.22
	capHeight = 0.75
	capDepth  = 0.03
)

// writing is one line of text.
type writing struct {
	at   point // base line, at its start or, if centred, its middle
	size float64
	bold bool
	mid  bool // centred
	caps bool // capitals and digits only: nothing above or below them
	s    string
	ink  ink
}

// box is where the writing stands.
func (w writing) box() box {
	x := w.at.x
	width := w.width()
	if w.mid {
		x -= width / 2
	}
	above, below := ascent, descent
	if w.caps {
		above, below = capHeight, capDepth
	}
	return box{point{x, w.at.y - above*w.size}, point{x + width, w.at.y + below*w.size}}
}

// width is the length of the line in units of the sheet.
func (w writing) width() float64 { return measure(w.s, w.size, w.bold) }

// fonts are the two faces of the picture, parsed once: they are part of the
// program and cannot change.
var fonts = sync.OnceValues(func() ([2]*opentype.Font, error) {
	regular, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return [2]*opentype.Font{}, err
	}
	bold, err := opentype.Parse(gobold.TTF)
	return [2]*opentype.Font{regular, bold}, err
})

// face is a font at a size in pixels, without hinting, so that widths keep
// their proportion at every size.
func face(size float64, bold bool) (font.Face, error) {
	both, err := fonts()
	if err != nil {
		return nil, err
	}
	f := both[0]
	if bold {
		f = both[1]
	}
	return opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
}

// ruler is a size large enough that rounding to 1/64 does not show.
const ruler = 512.0

// rulers are the faces that measure. A face keeps a buffer, so one at a time.
var rulers struct {
	sync.Mutex
	faces [2]font.Face
}

// measure is the width of a line of text at a size.
func measure(s string, size float64, bold bool) float64 {
	rulers.Lock()
	defer rulers.Unlock()
	i := 0
	if bold {
		i = 1
	}
	if rulers.faces[i] == nil {
		f, err := face(ruler, bold)
		if err != nil {
			return 0 // Draw has refused already
		}
		rulers.faces[i] = f
	}
	return float64(font.MeasureString(rulers.faces[i], s)) / 64 * size / ruler
}
