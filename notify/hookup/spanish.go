package hookup

import "bandbell/scheduler/plan"

// The picture names no band by a noun, since clinics differ in it: ligas,
// elásticos, gomas.
var spanish = speech{
	title:  "Dónde enganchar, como te ves en el espejo",
	mirror: "Dibujado como te ves en el espejo: tu derecha está a la derecha.",
	right:  "tu derecha", left: "tu izquierda",
	before: "por delante de los dientes",
	behind: "por detrás de los dientes",
	sides:  map[plan.Side]string{plan.Right: "Derecha", plan.Left: "Izquierda", plan.Front: "Delante"},
	kinds: map[plan.HookKind]string{"": "gancho", plan.AlignerCut: "corte del alineador", plan.Button: "botón", plan.Bracket: "bracket",
		plan.Wire: "gancho del alambre", plan.MiniScrew: "minitornillo"},
	surfaces: map[plan.Surface]string{plan.Cheek: "lado de la mejilla", plan.Tongue: "lado de la lengua"},
	hook:     spanishHook,
	patterns: map[plan.Pattern]string{
		plan.ClassII:           "desde {U} hacia atrás hasta {L}",
		plan.ClassIII:          "desde {L} hacia atrás hasta {U}",
		plan.VerticalBox:       "un cuadro; arriba, {U}; abajo, {L}",
		plan.Triangle:          "un triángulo; arriba, {U}; abajo, {L}",
		plan.AnteriorBox:       "un cuadro; arriba, {U}; abajo, {L}",
		plan.AnteriorTrapezoid: "un cuadro con un lado más ancho; arriba, {U}; abajo, {L}",
		plan.AnteriorDiagonal:  "en diagonal por el centro, desde {U} hasta {L}",
		plan.Settling:          "un lazo; arriba, {U}; abajo, {L}",
		plan.CrossBite:         "desde {U}, a través de la mordida, hasta {L}",
	},
	alike: map[plan.HookKind]string{plan.AlignerCut: "; todo en cortes del alineador", plan.Button: "; todo en botones", plan.Bracket: "; todo en brackets",
		plan.Wire: "; todo en ganchos del alambre", plan.MiniScrew: "; todo en minitornillos"},
	and: "y",
	bag: [2]string{" Bolsa: «", "»."},
}

var spanishTeeth = [...]string{"", "incisivo central", "incisivo lateral", "canino", "primer premolar", "segundo premolar", "primer molar", "segundo molar", "tercer molar"}

func spanishHook(h plan.Hook, told hookWords) string {
	n := h.Tooth.Position()
	baby := h.Tooth.Quadrant() > 4
	if baby && h.Tooth.Molar() {
		n += 2 // the primary molars are counted as molars, from 1
	}
	tooth := spanishTeeth[n] // without its article, which joins with de and a
	if baby {
		tooth += " de leche"
	}
	if h.Tooth.Upper() {
		tooth += " superior"
	} else {
		tooth += " inferior"
	}
	if told.side {
		if h.Tooth.Right() {
			tooth += " derecho"
		} else {
			tooth += " izquierdo"
		}
	}
	tooth += " (" + h.Tooth.In(told.notation) + ")"
	if told.surface {
		side := "lado de la mejilla"
		if h.Surface == plan.Tongue {
			side = "lado de la lengua"
		}
		tooth = side + " del " + tooth
	}
	if !told.kind {
		return "el " + tooth
	}
	switch h.Kind {
	case plan.AlignerCut:
		return "el corte del alineador en el " + tooth
	case plan.Button:
		return "el botón en el " + tooth
	case plan.Bracket:
		return "el bracket en el " + tooth
	case plan.Wire:
		return "el gancho del alambre en el " + tooth
	case plan.MiniScrew:
		return "el minitornillo junto al " + tooth
	}
	return "el " + tooth
}
