package hookup

import "bandbell/scheduler/plan"

// size is a crown as seen from the front, in millimetres.
type size struct{ width, height float64 }

// Mean mesiodistal widths and crown heights by position from the midline: S. J.
// Nelson, M. M. Ash, Wheeler's Dental Anatomy, Physiology and Occlusion, the
// tables of measurements of each tooth. The widths of the upper incisors and
// of the upper canine were compared with a reprint of its appendix on tooth
// traits; the others are from memory. The picture needs their proportions only.
var (
	upperPermanent = [...]size{{8.5, 10.5}, {6.5, 9.0}, {7.5, 10.0}, {7.0, 8.5}, {7.0, 8.5}, {10.0, 7.5}, {9.0, 7.0}, {8.5, 6.5}}
	lowerPermanent = [...]size{{5.0, 9.0}, {5.5, 9.5}, {7.0, 11.0}, {7.0, 8.5}, {7.0, 8.0}, {11.0, 7.5}, {10.5, 7.0}, {10.0, 7.0}}
	upperPrimary   = [...]size{{6.5, 6.0}, {5.1, 5.6}, {7.0, 6.5}, {7.3, 5.1}, {8.2, 5.7}}
	lowerPrimary   = [...]size{{4.2, 5.0}, {4.1, 5.2}, {5.0, 6.0}, {7.7, 6.0}, {9.9, 5.5}}
)

// places is how many permanent teeth a quadrant has room for.
const places = len(upperPermanent)

// sizeOf is the mean crown of a valid tooth.
func sizeOf(t plan.Tooth) size {
	i := t.Position() - 1
	switch {
	case t.Quadrant() > 4 && t.Upper():
		return upperPrimary[i]
	case t.Quadrant() > 4:
		return lowerPrimary[i]
	case t.Upper():
		return upperPermanent[i]
	}
	return lowerPermanent[i]
}
