// Package notify drains the outbox: it claims what is due, composes it, stores
// the bytes, sends them, and writes down what came of it.
//
// It promises: never lost in silence, never more than one duplicate, never
// late. The bytes of a message are on file before anything is dialled, so a
// second attempt sends the same bytes under the same Message-ID. Just before
// the final dot the row says so; a connection that ends between the dot and
// the answer leaves the outcome unknown (RFC 1047), and such a message is sent
// at most once more. A reply, whatever its code, is never ambiguous: after 4yz
// or 5yz the server must not deliver (RFC 5321 section 4.2.5). A message whose
// moment has passed lapses with its reason instead of leaving.
//
// When a refusal is about us and not about the message (a password, a
// certificate, a policy), nothing more is claimed for a while and the messages
// stay where they are until their moment passes. When an outcome cannot be
// written, it is kept, written again, and nothing else is sent before that.
//
// Each message goes to one recipient. Log lines name rows by number; no
// address, no name and no word of a message stands in them.
package notify
