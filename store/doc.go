// Package store keeps everything bandbell knows in one SQLite file, and is the
// only package that speaks SQL.
//
// It promises that what a method reports as done is on the disk, whole: each
// act is one transaction, written with synchronous=FULL, and the audit row
// stands in the same transaction as the act. A nudge is on file once for ever
// and one outgoing message once a cause and recipient, by a UNIQUE key and not
// by a check. A message goes from state to state only by the steps of [Final]'s
// table, each with its reason; whatever forbids a message is asked again inside
// the transaction that claims it.
//
// It never asks the time: every instant is an argument. Instants are kept as
// whole milliseconds UTC, so what is read back is cut to the millisecond.
//
// One connection writes (BEGIN IMMEDIATE), several read. A write is not
// cancelled by its context once begun: the driver would roll back under the
// open transaction and commit what follows by itself (go-sqlite3 issue 769).
//
// What the workers need of it is declared beside each of them. Beyond that there
// are FailAddress, for a refusal that names a dead address, EnqueueConsent, and
// [ErrRead], which Record returns for a reply that is on record already. SetHold
// takes the reason, because a hold without one helps nobody at the desk.
package store
