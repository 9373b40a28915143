// Package inbox takes mail in and hands what it means to a recorder.
//
// It promises that a message for which the sender was told 250 is on file,
// raw, before that word went out, and that whatever the reader then makes of
// it, even nothing, is written down once. A message that cannot be stored is
// refused for now (451) and stays with its sender.
//
// A message is tied to what it answers by the token of our reply address,
// proved with the key, or by the Message-ID it replies to. Its From never says
// whose it is. An address that is not on file lowers trust: what it states of
// wear waits for a person, while a stop or a sign of harm counts at once.
// Answers to the sender's server are the same whether a token is known or not.
//
// The way through: a listener (listener.go, session.go, wire.go, body.go) or a
// file (file.go) stores the message; Step (read.go) finds what it answers
// (header.go, match.go), has it read, and turns the reading into what goes on
// record (heard.go), with the automatic answers it calls for (answer.go). The
// package composes no mail.
//
// Log lines name messages by their number in the database and quote none.
package inbox
