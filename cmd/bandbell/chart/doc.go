// Package chart draws what the answers of one patient come to: the wear
// raster, the hours a day and the fan of the bite's finish.
//
// It promises that nothing is said by colour, that nothing is hidden and that
// nothing is shown in one form alone: each picture comes as an SVG element, as
// lines for a terminal and as a table of the same numbers. It is a pure
// function of the record and its figures: the same ones give the same bytes.
//
// The SVG takes the colour of the text about it (currentColor), so it follows
// a page from light to dark and prints black on white. It holds no script, no
// style and no reference beyond itself, so that it can stand in a page under
// the strictest content policy, and its ids are its own, so that several can
// stand in one page. Every word that comes from outside is escaped.
//
// Its width and height are its natural size, at which writing is 12 units
// high; a page narrower than that lets it be scrolled. Marks bear classes that
// begin with chart-, for a page that wants to set them off further.
//
// The hours are reported, not measured, and every picture says so.
package chart
