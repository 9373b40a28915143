package hookup

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bandbell/scheduler/plan"
)

// Each pattern in words. The teeth are those of ISO 3950:2016; the Universal
// numbers beside them those of the American Dental Association's table as HL7
// publishes it (13 is 6); Palmer's quadrant and position are written plainly.
func TestWords(t *testing.T) {
	of := func(surface plan.Surface, kind plan.HookKind, teeth ...plan.Tooth) []plan.Hook {
		out := hooks(teeth...)
		for i := range out {
			out[i].Surface, out[i].Kind = surface, kind
		}
		return out
	}
	for _, tt := range []struct {
		band   plan.Prescription
		n      plan.Notation
		en, es string
	}{
		{band(plan.Right, plan.ClassII, hooks(13), hooks(46)), plan.ISO,
			"Right: from the upper canine (13) back to the lower first molar (46).",
			"Derecha: desde el canino superior (13) hacia atrás hasta el primer molar inferior (46)."},
		{band(plan.Left, plan.ClassII, hooks(23), hooks(36)), plan.Universal,
			"Left: from the upper canine (11) back to the lower first molar (19).",
			"Izquierda: desde el canino superior (11) hacia atrás hasta el primer molar inferior (19)."},
		{band(plan.Left, plan.ClassIII, of("", plan.Button, 26), of("", plan.AlignerCut, 33)), plan.Palmer,
			"Left: from the cut in the aligner at the lower canine (LL3) back to the button on the upper first molar (UL6).",
			"Izquierda: desde el corte del alineador en el canino inferior (LL3) hacia atrás hasta el botón en el primer molar superior (UL6)."},
		{band(plan.Right, plan.VerticalBox, hooks(13, 14), hooks(43, 44)), plan.ISO,
			"Right: a box, over the upper canine (13) and the upper first premolar (14), and under the lower canine (43) and the lower first premolar (44).",
			"Derecha: un cuadro; arriba, el canino superior (13) y el primer premolar superior (14); abajo, el canino inferior (43) y el primer premolar inferior (44)."},
		{band(plan.Left, plan.Triangle, of("", plan.Bracket, 23), of("", plan.Bracket, 33, 34)), plan.ISO,
			"Left: a triangle, over the upper canine (23), and under the lower canine (33) and the lower first premolar (34), all on brackets.",
			"Izquierda: un triángulo; arriba, el canino superior (23); abajo, el canino inferior (33) y el primer premolar inferior (34); todo en brackets."},
		{band(plan.Front, plan.AnteriorBox, hooks(12, 22), hooks(42, 32)), plan.ISO,
			"Front: a box, over the upper right lateral incisor (12) and the upper left lateral incisor (22), and under the lower right lateral incisor (42) and the lower left lateral incisor (32).",
			"Delante: un cuadro; arriba, el incisivo lateral superior derecho (12) y el incisivo lateral superior izquierdo (22); abajo, el incisivo lateral inferior derecho (42) y el incisivo lateral inferior izquierdo (32)."},
		{band(plan.Front, plan.AnteriorTrapezoid, hooks(13, 23), hooks(41, 31)), plan.ISO,
			"Front: a box with one side wider, over the upper right canine (13) and the upper left canine (23), and under the lower right central incisor (41) and the lower left central incisor (31).",
			"Delante: un cuadro con un lado más ancho; arriba, el canino superior derecho (13) y el canino superior izquierdo (23); abajo, el incisivo central inferior derecho (41) y el incisivo central inferior izquierdo (31)."},
		{band(plan.Front, plan.AnteriorDiagonal, of("", plan.Wire, 13), of("", plan.Wire, 33)), plan.ISO,
			"Front: slanting across the middle, from the hook on the wire at the upper right canine (13) down to the hook on the wire at the lower left canine (33).",
			"Delante: en diagonal por el centro, desde el gancho del alambre en el canino superior derecho (13) hasta el gancho del alambre en el canino inferior izquierdo (33)."},
		{band(plan.Right, plan.Settling, hooks(15, 16), hooks(45, 46, 47)), plan.ISO,
			"Right: a loop, over the upper second premolar (15) and the upper first molar (16), and under the lower second premolar (45), the lower first molar (46) and the lower second molar (47).",
			"Derecha: un lazo; arriba, el segundo premolar superior (15) y el primer molar superior (16); abajo, el segundo premolar inferior (45), el primer molar inferior (46) y el segundo molar inferior (47)."},
		{band(plan.Right, plan.CrossBite, of(plan.Tongue, plan.Button, 16), of(plan.Cheek, "", 46)), plan.ISO,
			"Right: from the button on the tongue side of the upper first molar (16), through the bite, to the cheek side of the lower first molar (46).",
			"Derecha: desde el botón en el lado de la lengua del primer molar superior (16), a través de la mordida, hasta el lado de la mejilla del primer molar inferior (46)."},
		{band(plan.Left, plan.ClassIII, of("", plan.MiniScrew, 28), hooks(73)), plan.Universal,
			"Left: from the lower baby canine (M) back to the mini-screw by the upper third molar (16).",
			"Izquierda: desde el canino de leche inferior (M) hacia atrás hasta el minitornillo junto al tercer molar superior (16)."},
		{band(plan.Right, plan.ClassII, hooks(54), hooks(85)), plan.Palmer,
			"Right: from the upper baby first molar (URD) back to the lower baby second molar (LRE).",
			"Derecha: desde el primer molar de leche superior (URD) hacia atrás hasta el segundo molar de leche inferior (LRE)."},
	} {
		for lang, want := range map[string]string{"en": tt.en, "en-GB": tt.en, "es-MX": tt.es, "ES": tt.es, "pl": tt.en, "": tt.en} {
			got := mustDraw(t, []plan.Prescription{tt.band}, Options{Lang: lang, Notation: tt.n}).Words()
			if diff := cmp.Diff([]string{want}, got); diff != "" {
				t.Errorf("%s %q (-want +got):\n%s", tt.band.Pattern, lang, diff)
			}
		}
	}
}

// Both languages have words for everything, and no sentence gives a dose, is
// loud, or has words missing.
func TestSpeechesAreComplete(t *testing.T) {
	for lang, s := range speeches {
		for _, what := range []string{s.title, s.mirror, s.right, s.left, s.before, s.behind, s.and} {
			if what == "" {
				t.Errorf("%s: something is not said", lang)
			}
		}
		for p := range english.patterns {
			if !strings.Contains(s.patterns[p], "{U}") || !strings.Contains(s.patterns[p], "{L}") {
				t.Errorf("%s: %s reads %q", lang, p, s.patterns[p])
			}
		}
		for _, k := range kinds {
			if s.kinds[k] == "" || k != "" && s.alike[k] == "" {
				t.Errorf("%s: no words for the kind %q", lang, k)
			}
		}
		for surface := range english.surfaces {
			if s.surfaces[surface] == "" {
				t.Errorf("%s: no words for %s", lang, surface)
			}
		}
		for side := range english.sides {
			if s.sides[side] == "" {
				t.Errorf("%s: no words for %s", lang, side)
			}
		}
	}
	for _, s := range scenes {
		for _, w := range mustDraw(t, s.bands, s.o).Words() {
			if strings.ContainsAny(w, "!{}") || strings.Contains(w, "  ") || strings.Contains(w, "()") {
				t.Errorf("%s: %q", s.name, w)
			}
		}
	}
}

// The halves are labelled on their own side in each language: the label on the
// right half says right.
func TestHalvesAreLabelled(t *testing.T) {
	for lang, want := range map[string][2]string{"en": {"your left", "your right"}, "es": {"tu izquierda", "tu derecha"}} {
		drawn := parts(readSVG(t, mustDraw(t, scenes[0].bands, Options{Lang: lang}).SVG()))
		left, right := drawn["side-left"][0], drawn["side-right"][0]
		if left.text != want[0] || right.text != want[1] {
			t.Errorf("%s: %q on the left, %q on the right", lang, left.text, right.text)
		}
		if x := left.attrs["x"]; x != "36" { // the margin and the arrow
			t.Errorf("%s: the left label begins at %s", lang, x)
		}
		for part, rightHalf := range map[string]bool{"arrow-left": false, "arrow-right": true} {
			at := corners(t, drawn[part][0].attrs["d"])
			tip, back := at[0].x, at[1].x
			if (tip > sheet/2) != rightHalf || (tip > back) != rightHalf {
				t.Errorf("%s: %s points from %.0f to %.0f", lang, part, back, tip)
			}
		}
	}
}
