package notify

import (
	"strings"

	"bandbell/scheduler/plan"
)

// tongue is the language of the words a hook-up is described in.
type tongue struct {
	upper, lower  string
	right, left   string
	primary       string
	names         [9]string // by position from the midline; 0 is unused
	primaryMolars [2]string // positions 4 and 5 of the primary teeth
	cheekSide     string
	tongueSide    string
	sides         map[plan.Side]string
	and, to       string
	after         bool // the adjectives follow the noun
}

// tongues are the languages hook-ups can be described in. Names of teeth as
// in ISO 3950 and everyday dental usage; a primary tooth is a baby tooth in
// words for patients.
var tongues = map[string]tongue{
	"en": {
		upper: "upper", lower: "lower", right: "right", left: "left", primary: "baby",
		names:         [9]string{"", "central incisor", "lateral incisor", "canine", "first premolar", "second premolar", "first molar", "second molar", "third molar"},
		primaryMolars: [2]string{"first molar", "second molar"},
		cheekSide:     "cheek side", tongueSide: "tongue side",
		sides: map[plan.Side]string{plan.Right: "right", plan.Left: "left", plan.Front: "front"},
		and:   "and", to: "to",
	},
	"es": {
		upper: "superior", lower: "inferior", right: "derecho", left: "izquierdo", primary: "de leche",
		names:         [9]string{"", "incisivo central", "incisivo lateral", "canino", "primer premolar", "segundo premolar", "primer molar", "segundo molar", "tercer molar"},
		primaryMolars: [2]string{"primer molar", "segundo molar"},
		cheekSide:     "lado de la mejilla", tongueSide: "lado de la lengua",
		sides: map[plan.Side]string{plan.Right: "derecha", plan.Left: "izquierda", plan.Front: "delante"},
		and:   "y", to: "con", after: true,
	},
}

// tongueOf finds the words for a BCP 47 tag by its first part; a language we
// have no words for is described in English.
func tongueOf(tag string) tongue {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if t, ok := tongues[base]; ok {
		return t
	}
	return tongues["en"]
}

// hookUp describes one prescription: "right: upper canine (13) to lower first
// molar (46)". In front, where a band may cross the midline, and wherever a
// hook stands on the other side, each tooth says whether it is right or left.
// Surfaces are named where any hook is on the tongue side.
func (t tongue) hookUp(b plan.Prescription, n plan.Notation) string {
	all := append(append([]plan.Hook{}, b.Upper...), b.Lower...)
	tell := b.Side == plan.Front
	surfaces := false
	for _, h := range all {
		tell = tell || h.Tooth.Right() != (b.Side == plan.Right)
		surfaces = surfaces || h.Surface == plan.Tongue
	}
	side := t.sides[b.Side]
	return side + ": " + t.row(b.Upper, n, tell, surfaces) + " " + t.to + " " + t.row(b.Lower, n, tell, surfaces)
}

// numbers describes one prescription by its side and tooth numbers.
func (t tongue) numbers(b plan.Prescription, n plan.Notation) string {
	list := func(hooks []plan.Hook) string {
		var out []string
		for _, h := range hooks {
			out = append(out, h.Tooth.In(n))
		}
		return strings.Join(out, ", ")
	}
	return t.sides[b.Side] + ": " + list(b.Upper) + " " + t.to + " " + list(b.Lower)
}

// row lists the hooks of one arch.
func (t tongue) row(hooks []plan.Hook, n plan.Notation, tell, surfaces bool) string {
	var names []string
	for _, h := range hooks {
		mark := h.Tooth.In(n)
		if surfaces {
			if h.Surface == plan.Tongue {
				mark += ", " + t.tongueSide
			} else {
				mark += ", " + t.cheekSide
			}
		}
		names = append(names, t.tooth(h.Tooth, tell)+" ("+mark+")")
	}
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " " + t.and + " " + names[last]
}

// tooth names one tooth: "upper canine", "upper right canine", "canino
// superior derecho".
func (t tongue) tooth(tooth plan.Tooth, tell bool) string {
	arch, side := t.lower, t.left
	if tooth.Upper() {
		arch = t.upper
	}
	if tooth.Right() {
		side = t.right
	}
	baby := tooth.Quadrant() > 4
	noun := ""
	switch p := tooth.Position(); {
	case baby && p >= 4 && p <= 5:
		noun = t.primaryMolars[p-4]
	case p >= 1 && p < len(t.names):
		noun = t.names[p]
	}
	words := []string{arch}
	if tell {
		words = append(words, side)
	}
	switch {
	case t.after && baby:
		words = append([]string{noun, t.primary}, words...)
	case t.after:
		words = append([]string{noun}, words...)
	case baby:
		words = append(words, t.primary, noun)
	default:
		words = append(words, noun)
	}
	return strings.Join(words, " ")
}
