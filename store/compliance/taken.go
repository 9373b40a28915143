package compliance

import "fmt"

// Unit is what a reading at the chair was taken in.
type Unit string

// The units. A relation read in cusps is read to the quarter or to the half.
const (
	Millimetres  Unit = "mm"
	QuarterCusps Unit = "quarter-cusps"
	HalfCusps    Unit = "half-cusps"
)

// MMPerCusp is the distance between two cusps of the upper side teeth that a
// lower tooth moves along from one full relation to the next: about the width
// of a premolar. Common practice, no source.
const MMPerCusp = 7.0

// Standard deviations of one reading in mm, by how finely it is read. Common
// practice, no source. A reading in millimetres has the setting's.
const (
	QuarterCuspSD = 0.5
	HalfCuspSD    = 1.0
)

// DefaultOverjetTarget is the overjet, in mm, that a correction aims at unless
// the doctor says otherwise. Common practice, no source.
const DefaultOverjetTarget = 2.0

// Taken is one measure as it was taken, with the doctor's target.
type Taken struct {
	Measured float64 // in Unit; below zero is beyond, as in a Class III relation
	Unit     Unit
	Target   float64 // mm
}

// Millimetres is what was measured, in mm.
func (t Taken) Millimetres() (float64, error) {
	switch t.Unit {
	case Millimetres:
		return t.Measured, nil
	case QuarterCusps:
		return t.Measured * MMPerCusp / 4, nil
	case HalfCusps:
		return t.Measured * MMPerCusp / 2, nil
	}
	return 0, fmt.Errorf("read measure: %q is no unit of it", t.Unit)
}

// Left is what is still to correct, in mm: the measured value less the target.
func (t Taken) Left() (float64, error) {
	mm, err := t.Millimetres()
	return mm - t.Target, err
}

// SD is the standard deviation of such a reading in mm; 0: the setting's.
func (t Taken) SD() float64 {
	switch t.Unit {
	case QuarterCusps:
		return QuarterCuspSD
	case HalfCusps:
		return HalfCuspSD
	}
	return 0
}
