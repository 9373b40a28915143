package main

import (
	"fmt"
	"strings"

	"bandbell/scheduler/plan"
)

// patternWords name a pattern as the trade does.
var patternWords = map[plan.Pattern]string{
	plan.ClassII: "Class II", plan.ClassIII: "Class III", plan.VerticalBox: "vertical box", plan.Triangle: "triangle",
	plan.AnteriorBox: "anterior box", plan.AnteriorTrapezoid: "anterior trapezoid", plan.AnteriorDiagonal: "anterior diagonal",
	plan.Settling: "settling", plan.CrossBite: "cross-bite",
}

// toothNames are the permanent teeth of a quadrant by position from the
// midline, after ISO 3950.
var toothNames = [9]string{"", "central incisor", "lateral incisor", "canine", "first premolar", "second premolar", "first molar", "second molar", "third molar"}

// toothWords name a tooth: upper right canine (13).
func toothWords(t plan.Tooth, n plan.Notation) string {
	arch, side, name := "lower", "left", ""
	if t.Upper() {
		arch = "upper"
	}
	if t.Right() {
		side = "right"
	}
	p := t.Position()
	switch primary := t.Quadrant() > 4; {
	case primary && p > 3 && p <= 5:
		name = "primary " + [2]string{"first molar", "second molar"}[p-4]
	case primary && p >= 1 && p <= 3:
		name = "primary " + toothNames[p]
	case p >= 1 && p < len(toothNames):
		name = toothNames[p]
	}
	return fmt.Sprintf("%s %s %s (%s)", arch, side, name, t.In(n))
}

// hooksWords list the hooks of one arch with what was said of them.
func hooksWords(hooks []plan.Hook, n plan.Notation) string {
	var out []string
	for _, h := range hooks {
		s := toothWords(h.Tooth, n)
		if h.Kind != "" {
			s += ", " + strings.ReplaceAll(string(h.Kind), "-", " ")
		}
		if h.Surface != "" {
			s += ", " + string(h.Surface) + " side"
		}
		out = append(out, s)
	}
	return strings.Join(out, " and ")
}

// bandWords describe one prescription.
func bandWords(b plan.Prescription, n plan.Notation) string {
	material := "non-latex"
	if b.Latex {
		material = "latex"
	}
	s := fmt.Sprintf("%s: %s to %s. %s, %s, %s", patternWords[b.Pattern], hooksWords(b.Upper, n), hooksWords(b.Lower, n), b.Lumen, b.Force, material)
	if b.Bag != "" {
		s += ", bag " + b.Bag
	}
	if !b.To.IsZero() {
		s += ", until " + day(b.To)
	}
	return s + "."
}
