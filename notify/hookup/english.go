package hookup

import "bandbell/scheduler/plan"

// Names of teeth as in everyday dental use; a primary tooth is a baby tooth in
// words for patients.
var english = speech{
	title:  "Where to hook, as you see it in the mirror",
	mirror: "Drawn as you see yourself in the mirror: your right is on the right.",
	right:  "your right", left: "your left",
	before: "in front of the teeth",
	behind: "behind the teeth",
	sides:  map[plan.Side]string{plan.Right: "Right", plan.Left: "Left", plan.Front: "Front"},
	kinds: map[plan.HookKind]string{"": "hook", plan.AlignerCut: "cut in the aligner", plan.Button: "button", plan.Bracket: "bracket",
		plan.Wire: "hook on the wire", plan.MiniScrew: "mini-screw"},
	surfaces: map[plan.Surface]string{plan.Cheek: "cheek side", plan.Tongue: "tongue side"},
	hook:     englishHook,
	patterns: map[plan.Pattern]string{
		plan.ClassII:           "from {U} back to {L}",
		plan.ClassIII:          "from {L} back to {U}",
		plan.VerticalBox:       "a box, over {U}, and under {L}",
		plan.Triangle:          "a triangle, over {U}, and under {L}",
		plan.AnteriorBox:       "a box, over {U}, and under {L}",
		plan.AnteriorTrapezoid: "a box with one side wider, over {U}, and under {L}",
		plan.AnteriorDiagonal:  "slanting across the middle, from {U} down to {L}",
		plan.Settling:          "a loop, over {U}, and under {L}",
		plan.CrossBite:         "from {U}, through the bite, to {L}",
	},
	alike: map[plan.HookKind]string{plan.AlignerCut: ", all on cuts in the aligner", plan.Button: ", all on buttons", plan.Bracket: ", all on brackets",
		plan.Wire: ", all on hooks on the wire", plan.MiniScrew: ", all on mini-screws"},
	and: "and",
	bag: [2]string{" Bag: “", "”."},
}

var englishTeeth = [...]string{"", "central incisor", "lateral incisor", "canine", "first premolar", "second premolar", "first molar", "second molar", "third molar"}

func englishHook(h plan.Hook, told hookWords) string {
	tooth := "the lower "
	if h.Tooth.Upper() {
		tooth = "the upper "
	}
	if told.side {
		if h.Tooth.Right() {
			tooth += "right "
		} else {
			tooth += "left "
		}
	}
	n := h.Tooth.Position()
	if h.Tooth.Quadrant() > 4 {
		tooth += "baby "
		if h.Tooth.Molar() {
			n += 2 // the primary molars are counted as molars, from 1
		}
	}
	tooth += englishTeeth[n] + " (" + h.Tooth.In(told.notation) + ")"
	if told.surface {
		tooth = "the " + string(h.Surface) + " side of " + tooth
	}
	if !told.kind {
		return tooth
	}
	switch h.Kind {
	case plan.AlignerCut:
		return "the cut in the aligner at " + tooth
	case plan.Button:
		return "the button on " + tooth
	case plan.Bracket:
		return "the bracket on " + tooth
	case plan.Wire:
		return "the hook on the wire at " + tooth
	case plan.MiniScrew:
		return "the mini-screw by " + tooth
	}
	return tooth
}
