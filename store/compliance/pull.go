package compliance

import (
	"fmt"
	"math"

	"bandbell/scheduler/plan"
)

// Stretch, in lumens, between which a band pulls about as rated. Measured
// rated-force stretch spans 2.7 to 5 lumens (Gioka et al., as reviewed); that
// the force is nominal at three is common practice, no source.
const (
	ratedStretch = 3
	leastStretch = 2
	mostStretch  = 5
)

// Pull returns the force in grams-force of a fresh band hooked over span
// millimetres. The rated force holds at three lumens, and the force is taken
// as linear in the extension (span less lumen) between two and five lumens, an
// assumption: no table of force by extension was found. Outside it is refused.
// It is for choosing a band and no substitute for a gauge.
func Pull(rated plan.Force, lumen plan.Lumen, span float64) (float64, error) {
	if !(lumen > 0) || !(rated > 0) {
		return 0, fmt.Errorf("reckon pull: a band has a lumen and a force over 0, not %v and %v", lumen, rated)
	}
	stretch := span / float64(lumen)
	// Packs round: a ratio a hair over an edge is at the edge.
	const hair = 1e-9
	if !(stretch >= leastStretch-hair && stretch <= mostStretch+hair) {
		return 0, fmt.Errorf("reckon pull: %.4g mm is %.2f lumens of %v; between %d and %d the rated force says something, outside it does not",
			span, stretch, lumen, leastStretch, mostStretch)
	}
	return rated.Grams() * (stretch - 1) / (ratedStretch - 1), nil
}

// Decay is one published table of the force a band has left after some hours,
// as a share of the initial force. Bench and mouth disagree, and so do the
// papers: a table is used alone and by name, never merged with another.
type Decay struct {
	Name   string
	Source string
	points []decayPoint // by hour; 100 % at 0 h is not listed
}

type decayPoint struct{ hours, left float64 }

const (
	kersey   = "Kersey, Glover, Heo, Raboud, Major, Angle Orthod 2003;73:181-6; 1/4 in, 4.5 oz, bench"
	klabunde = "Klabunde and Grunheid, J Orofac Orthop 2022;83:16-24 (pages from memory); dynamic, saliva at 37 C, bench"
)

// Decays are the tables that may be chosen from.
var Decays = []Decay{
	{"latex-static", kersey, []decayPoint{{4, .87}, {8, .85}, {24, .83}}},
	{"latex-cyclic", kersey, []decayPoint{{4, .77}, {8, .76}, {24, .75}}},
	{"non-latex-static", kersey, []decayPoint{{4, .83}, {8, .78}, {24, .69}}},
	{"non-latex-cyclic", kersey, []decayPoint{{4, .65}, {8, .63}, {24, .53}}},
	{"latex-dynamic", klabunde, []decayPoint{{4, .702}, {8, .688}, {24, .661}}},
	{"non-latex-dynamic", klabunde, []decayPoint{{4, .480}, {8, .408}, {24, .295}}},
}

// DecayNamed returns a table by its name.
func DecayNamed(name string) (Decay, error) {
	for _, d := range Decays {
		if d.Name == name {
			return d, nil
		}
	}
	return Decay{}, fmt.Errorf("find decay table: there is none named %q", name)
}

// DecayFor returns the table taken for a prescription where none is chosen:
// the dynamic one of its material, the nearest to a mouth that eats and talks.
func DecayFor(b plan.Prescription) Decay {
	if b.Latex {
		return Decays[4]
	}
	return Decays[5]
}

// Left returns the share of the initial force left after some hours: linear in
// ln(1 + hours) between the table's points, 1 at 0. Beyond the last point it
// is refused.
func (d Decay) Left(hours float64) (float64, error) {
	if err := d.covers(hours); err != nil {
		return 0, err
	}
	u := math.Log1p(hours)
	from := decayPoint{0, 1}
	for _, to := range d.points {
		if hours <= to.hours {
			a, b := line(from, to)
			return a + b*u, nil
		}
		from = to
	}
	return from.left, nil
}

// MeanLeft returns the mean share of the initial force over the first hours of
// a band, by exact integration of the same form: the integral of a + b ln(1+t)
// is a t + b ((1+t) ln(1+t) - t). Four fresh sets a day keep MeanLeft of a
// quarter of the hours worn, one set MeanLeft of all of them.
func (d Decay) MeanLeft(hours float64) (float64, error) {
	if err := d.covers(hours); err != nil {
		return 0, err
	}
	if hours == 0 {
		return 1, nil
	}
	var sum float64
	from := decayPoint{0, 1}
	for _, to := range d.points {
		if from.hours >= hours {
			break
		}
		a, b := line(from, to)
		area := func(t float64) float64 { return a*t + b*((1+t)*math.Log1p(t)-t) }
		sum += area(min(to.hours, hours)) - area(from.hours)
		from = to
	}
	return sum / hours, nil
}

// line returns a and b of a + b ln(1+t) through two points.
func line(from, to decayPoint) (a, b float64) {
	u, w := math.Log1p(from.hours), math.Log1p(to.hours)
	b = (to.left - from.left) / (w - u)
	return from.left - b*u, b
}

func (d Decay) covers(hours float64) error {
	last := 0.0
	if n := len(d.points); n > 0 {
		last = d.points[n-1].hours
	}
	if !(hours >= 0 && hours <= last) {
		return fmt.Errorf("read decay table %s: it covers 0 to %g hours, not %g", d.Name, last, hours)
	}
	return nil
}
