package chart

import (
	"strconv"
)

// appendBar adds a rectangle from x1 to x2, in hundredths. Its width is the
// difference of two rounded places, so that neighbours meet exactly.
func appendBar(b []byte, x1, x2 int64, y, h float64) []byte {
	b = append(b, 'M')
	b = appendHundredths(b, x1)
	b = append(b, ' ')
	b = append(b, number(y)...)
	b = append(b, 'h')
	b = appendHundredths(b, x2-x1)
	b = append(b, 'v')
	b = append(b, number(h)...)
	b = append(b, 'h')
	b = appendHundredths(b, x1-x2)
	return append(b, 'z')
}

// appendLine adds a level line from x1 to x2, in hundredths.
func appendLine(b []byte, x1, x2 int64, y float64) []byte {
	b = append(b, 'M')
	b = appendHundredths(b, x1)
	b = append(b, ' ')
	b = append(b, number(y)...)
	b = append(b, 'h')
	return appendHundredths(b, x2-x1)
}

func appendCross(b []byte, x1, x2 int64, y, h float64) []byte {
	for _, s := range []struct{ from, by float64 }{{y, h}, {y + h, -h}} {
		b = append(b, 'M')
		b = appendHundredths(b, x1)
		b = append(b, ' ')
		b = append(b, number(s.from)...)
		b = append(b, 'l')
		b = appendHundredths(b, x2-x1)
		b = append(b, ' ')
		b = append(b, number(s.by)...)
	}
	return b
}

func appendHundredths(b []byte, v int64) []byte {
	if v < 0 {
		b, v = append(b, '-'), -v
	}
	b = strconv.AppendInt(b, v/100, 10)
	if f := v % 100; f != 0 {
		b = append(b, '.', byte('0'+f/10))
		if f%10 != 0 {
			b = append(b, byte('0'+f%10))
		}
	}
	return b
}
