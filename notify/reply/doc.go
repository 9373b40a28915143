// Package reply reads one raw e-mail and says what its sender meant.
//
// It promises three things. Whatever bytes come in, a Reading comes out, in
// bounded time and memory, and nothing is lost for being malformed. Only what
// the person typed now is read: never the quoted nudge, a signature or a
// machine's text. And when the words leave a doubt, the Reading says that a
// person must look, with the reason.
//
// The way through: the message is cut at hard caps and repaired (header.go,
// part.go, transfer.go, charset.go), turned to text (html.go), freed of
// quotations and signatures (quote.go, signature.go), told from machines
// (machine.go, bounce.go), cut into words and clauses (words.go, clause.go),
// matched against the vocabularies in lang/ (vocabulary.go, pattern.go), and
// decided field by field, each decision keeping the stretch of text that made
// it. The vocabularies are data: a further language is a further file.
//
// The package is pure: no clock, no network, no database. Time comes from the
// message's own Date and from Asked.
package reply
