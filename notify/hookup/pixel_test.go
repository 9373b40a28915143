package hookup

import "image/color"

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
