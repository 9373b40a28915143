package hookup

import "bandbell/scheduler/plan"

// hooks are hooks of which nothing but the tooth is said.
func hooks(teeth ...plan.Tooth) []plan.Hook {
	var out []plan.Hook
	for _, t := range teeth {
		out = append(out, plan.Hook{Tooth: t})
	}
	return out
}

func band(side plan.Side, pattern plan.Pattern, upper, lower []plan.Hook) plan.Prescription {
	return plan.Prescription{Side: side, Pattern: pattern, Upper: upper, Lower: lower, Lumen: 6.35, Force: 4.5}
}

// scene is a prescription of each kind a clinic writes.
type scene struct {
	name  string
	o     Options
	bands []plan.Prescription
}

var scenes = []scene{
	{"class-2", Options{}, []plan.Prescription{
		band(plan.Right, plan.ClassII, hooks(13), hooks(46)),
		band(plan.Left, plan.ClassII, hooks(23), hooks(36))}},
	{"class-3-one-side-es", Options{Lang: "es-MX"}, []plan.Prescription{
		band(plan.Left, plan.ClassIII, []plan.Hook{{Tooth: 26, Kind: plan.Button}}, []plan.Hook{{Tooth: 33, Kind: plan.AlignerCut}})}},
	{"vertical-box-palmer", Options{Notation: plan.Palmer}, []plan.Prescription{
		band(plan.Right, plan.VerticalBox, hooks(13, 14), hooks(43, 44))}},
	{"triangle-against-class-2", Options{Notation: plan.Universal}, []plan.Prescription{
		band(plan.Right, plan.ClassII, []plan.Hook{{Tooth: 13, Kind: plan.AlignerCut}}, []plan.Hook{{Tooth: 46, Kind: plan.Button}}),
		band(plan.Left, plan.Triangle, hooks(23), hooks(33, 34))}},
	{"anterior-box", Options{}, []plan.Prescription{
		band(plan.Front, plan.AnteriorBox, []plan.Hook{{Tooth: 12, Kind: plan.Bracket}, {Tooth: 22, Kind: plan.Bracket}}, []plan.Hook{{Tooth: 42, Kind: plan.Bracket}, {Tooth: 32, Kind: plan.Bracket}})}},
	{"anterior-trapezoid-es", Options{Lang: "es", Notation: plan.Palmer}, []plan.Prescription{
		band(plan.Front, plan.AnteriorTrapezoid, hooks(13, 23), hooks(42, 32))}},
	{"anterior-diagonal", Options{}, []plan.Prescription{
		band(plan.Front, plan.AnteriorDiagonal, hooks(13), hooks(33)),
		band(plan.Right, plan.ClassII, hooks(13), hooks(46)),
		band(plan.Left, plan.ClassIII, hooks(26), hooks(33))}},
	{"settling", Options{Notation: plan.Palmer}, []plan.Prescription{
		band(plan.Right, plan.Settling, []plan.Hook{{Tooth: 12, Kind: plan.Wire}, {Tooth: 13, Kind: plan.Wire}, {Tooth: 14, Kind: plan.Wire}},
			[]plan.Hook{{Tooth: 41, Kind: plan.Wire}, {Tooth: 42, Kind: plan.Wire}, {Tooth: 43, Kind: plan.Wire}, {Tooth: 44, Kind: plan.Wire}})}},
	{"cross-bite", Options{}, []plan.Prescription{
		band(plan.Right, plan.CrossBite, []plan.Hook{{Tooth: 16, Surface: plan.Tongue, Kind: plan.Button}}, []plan.Hook{{Tooth: 46, Surface: plan.Cheek, Kind: plan.Button}}),
		band(plan.Left, plan.CrossBite, []plan.Hook{{Tooth: 26, Surface: plan.Cheek, Kind: plan.MiniScrew}}, []plan.Hook{{Tooth: 36, Surface: plan.Tongue, Kind: plan.Button}})}},
	{"primary", Options{Notation: plan.Universal}, []plan.Prescription{
		band(plan.Right, plan.ClassIII, []plan.Hook{{Tooth: 55, Kind: plan.Bracket}}, []plan.Hook{{Tooth: 83, Kind: plan.Bracket}})}},
	{"all-marks-es", Options{Lang: "es"}, []plan.Prescription{
		band(plan.Right, plan.Settling, []plan.Hook{{Tooth: 13}, {Tooth: 14, Kind: plan.AlignerCut}, {Tooth: 15, Kind: plan.Button}},
			[]plan.Hook{{Tooth: 43, Kind: plan.Bracket}, {Tooth: 44, Kind: plan.Wire}, {Tooth: 45, Kind: plan.MiniScrew}}),
		band(plan.Left, plan.Settling, []plan.Hook{{Tooth: 23, Surface: plan.Tongue}, {Tooth: 24, Kind: plan.AlignerCut, Surface: plan.Tongue}, {Tooth: 25, Kind: plan.Button, Surface: plan.Tongue}},
			[]plan.Hook{{Tooth: 33, Kind: plan.Bracket, Surface: plan.Tongue}, {Tooth: 34, Kind: plan.Wire, Surface: plan.Tongue}, {Tooth: 35, Kind: plan.MiniScrew, Surface: plan.Tongue}})}},
	{"crowded", Options{Width: 960}, []plan.Prescription{
		band(plan.Right, plan.ClassII, hooks(13), hooks(46)),
		band(plan.Right, plan.VerticalBox, hooks(13, 14), hooks(43, 44)),
		{Side: plan.Right, Pattern: plan.CrossBite, Upper: []plan.Hook{{Tooth: 17, Surface: plan.Tongue}}, Lower: []plan.Hook{{Tooth: 47, Surface: plan.Cheek}}, Lumen: 4.7625, Force: 6, Bag: "Otter <b>&"},
		band(plan.Left, plan.ClassII, hooks(23), hooks(36)),
		band(plan.Left, plan.ClassII, hooks(23), hooks(36)),
		band(plan.Front, plan.AnteriorDiagonal, hooks(12), hooks(32))}},
	{"small", Options{Width: 320}, []plan.Prescription{
		band(plan.Right, plan.ClassII, []plan.Hook{{Tooth: 13, Kind: plan.AlignerCut}}, []plan.Hook{{Tooth: 46, Kind: plan.Button}}),
		band(plan.Left, plan.Triangle, []plan.Hook{{Tooth: 23, Kind: plan.AlignerCut}}, []plan.Hook{{Tooth: 33, Kind: plan.AlignerCut}, {Tooth: 34, Kind: plan.AlignerCut}})}},
}
