// Package compliance works out what a patient's answers mean: a ledger of when
// the bands were on, off or not known, the hours that counted for movement,
// the trend, silence, the bite forecast and the patient's standing.
//
// It promises that every figure is a pure function of one Record: the same
// record gives the same figures on any machine, in whatever order its reports
// stand, with its instant As-of in the place of a clock. Nothing is guessed in
// silence: where the answers leave time unknown, hours come as bounds with a
// point between them, and what cannot be known is null, never zero.
//
// The hours are reported, not measured. The bounds hold if the answers are
// true and the bands stay in between two of them.
//
// Spans are minutes of real elapsed time. A local day runs from the first
// instant of its date to the first instant of the next, so it has 1380, 1440
// or 1500 minutes, and sometimes others, where clocks change.
package compliance
