// Package plan holds the nouns of bandbell: the patient, the plan an
// orthodontist wrote for that patient, the nudges it owes, and the reports and
// flags that come back.
//
// It promises that a value which passed validation can be acted on without a
// second look: teeth exist, hooks stand on the right side of the right arch,
// no day has the same meal twice. Validation reports every fault at once, each
// with its place and a hint. The package is pure: it never asks for the time,
// opens nothing and depends on the standard library only.
//
// It also holds the one function that turns a local date and wall clock into
// an instant (Instant), so that the timetable and the ledger can never
// disagree about a day on which the clocks change.
package plan
