package plan

import (
	"fmt"
	"strconv"
)

// Tooth is a tooth in the two-digit designation of ISO 3950: quadrant, then
// position from the midline. 11-18, 21-28, 31-38 and 41-48 are permanent;
// 51-55, 61-65, 71-75 and 81-85 primary. No other of the notations is ever
// stored, since 11-18, 21-28, 31 and 32 mean other teeth in the Universal one.
type Tooth int

// Valid reports whether t is one of the 52 codes of ISO 3950.
func (t Tooth) Valid() bool {
	q, n := t.Quadrant(), t.Position()
	return n >= 1 && (q >= 1 && q <= 4 && n <= 8 || q >= 5 && q <= 8 && n <= 5)
}

// Quadrant is the first digit: 1-4 permanent, 5-8 primary.
func (t Tooth) Quadrant() int { return int(t) / 10 }

// Position is the second digit, counted from the midline: 3 is the canine.
func (t Tooth) Position() int { return int(t) % 10 }

// Upper reports whether the tooth stands in the upper arch.
func (t Tooth) Upper() bool { q := t.Quadrant(); return q == 1 || q == 2 || q == 5 || q == 6 }

// Right reports whether the tooth stands on the patient's right.
func (t Tooth) Right() bool { q := t.Quadrant(); return q == 1 || q == 4 || q == 5 || q == 8 }

// Canine reports whether t is a canine.
func (t Tooth) Canine() bool { return t.Position() == 3 }

// Molar reports whether t is a molar: positions 6-8 of the permanent teeth,
// 4-5 of the primary ones.
func (t Tooth) Molar() bool {
	if t.Quadrant() > 4 {
		return t.Position() >= 4
	}
	return t.Position() >= 6
}

// Incisor reports whether t is an incisor.
func (t Tooth) Incisor() bool { return t.Position() <= 2 }

// Notation is the way a clinic likes teeth shown.
type Notation string

// The three notations in use. Universal is the one of the American Dental
// Association; Palmer is written here in its plain-text form, UR3.
const (
	ISO       Notation = "iso"
	Universal Notation = "universal"
	Palmer    Notation = "palmer"
)

// In returns the tooth in the given notation: 13, 6 or UR3.
func (t Tooth) In(n Notation) string {
	switch n {
	case Universal:
		return t.universal()
	case Palmer:
		return t.palmer()
	}
	return strconv.Itoa(int(t))
}

func (t Tooth) universal() string {
	n := t.Position()
	switch t.Quadrant() {
	case 1:
		return strconv.Itoa(9 - n)
	case 2:
		return strconv.Itoa(8 + n)
	case 3:
		return strconv.Itoa(25 - n)
	case 4:
		return strconv.Itoa(24 + n)
	case 5:
		return string(rune('F' - n))
	case 6:
		return string(rune('E' + n))
	case 7:
		return string(rune('P' - n))
	case 8:
		return string(rune('O' + n))
	}
	return "?"
}

func (t Tooth) palmer() string {
	arch, side := "L", "L"
	if t.Upper() {
		arch = "U"
	}
	if t.Right() {
		side = "R"
	}
	if t.Quadrant() > 4 {
		return arch + side + string(rune('A'+t.Position()-1))
	}
	return arch + side + strconv.Itoa(t.Position())
}

// String names the tooth by its ISO 3950 code.
func (t Tooth) String() string { return fmt.Sprint(int(t)) }
