package reply

// readSupply tells whether bands are gone or going.
func (a *analysis) readSupply() (out, low bool, w hit) {
	for _, h := range a.hits["running-low"] {
		if a.denied(h) || a.onlySupposed(h) || a.inside("side", h.to-1) && a.near("one-side", h.from) {
			continue
		}
		low, w = true, h
		break
	}
	for _, h := range a.hits["out-of-bands"] {
		denied := a.denied(h)
		if h.value == "deny" {
			denied = !denied && !a.denied(h)
		} else if a.deniedWithin(h) && !a.twiceDenied(h) {
			denied = false
		}
		if denied || a.onlySupposed(h) || a.overlaps("running-low", h) && !a.nought(h) || a.overlaps("out-else", h) || a.aheadOf(h.from) {
			continue
		}
		return true, low, h
	}
	return false, low, w
}

// nought is true of "0 left" and "none left".
func (a *analysis) nought(h hit) bool {
	w := a.ws[h.from]
	return w.isNum && w.num == 0 || w.s == "none"
}

func (a *analysis) twiceDenied(h hit) bool {
	for _, n := range a.hits["not"] {
		if n.to <= h.from && h.from-n.to < 3 && a.of[n.from] == a.of[h.from] {
			return true
		}
	}
	return false
}
