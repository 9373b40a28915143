// Package hookup draws where a patient's own bands go: both rows of teeth, the
// hooks, and each band as the path it takes round them. It promises that the
// same prescriptions give the same bytes, that the SVG and the PNG are made
// from one list of shapes, and that whatever the picture shows stands in words
// as well. It reads no clock, no file and no network.
//
// The picture is a mirror. A patient puts bands in before a mirror, with the
// picture beside it, and in a mirror the own right hand is on the right; so the
// patient's right is drawn on the right and both halves say so: "your right",
// "your left". A clinician's chart is drawn from the chair, the other way
// round (ISO 3950 numbers the quadrants as seen by someone who faces the
// patient); staff who see this picture are told by its title that it is the
// mirror's.
//
// Teeth are schematic: crowns as seen from the front with the arch rolled out
// flat, wide in proportion to published means and somewhat taller, every
// permanent place filled though the patient may lack a tooth there. Where a band hangs on a
// primary tooth, that stands in the place of its successor.
//
// Nothing is told by colour alone. What lies on the cheek side is filled and
// its band solid; what lies on the tongue side is hollow and its band dashed,
// as behind the teeth. Each kind of hook has its own mark. Where there are
// several bands each has a number in a disc, which its sentence repeats. The
// ground is painted white, so that a dark page changes nothing.
package hookup
