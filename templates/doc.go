// Package templates holds the words of every message bandbell writes: the
// default messages by kind and language, the small language in which staff
// edit them, and the lint an edited message has to pass.
//
// It promises that a bad edit can spoil a message but never anything else. A
// message is Markdown with named placeholders from a closed list, optional
// blocks and plural blocks; there is no logic to run away with. A value can
// only ever be text: it is put in after the Markdown was read, escaped for the
// part it goes to, and can hold no line break. The caution block, the clinic's
// phone and the way to stop are added by the renderer, so that no edit removes
// them. The package is pure: it sees strings and numbers and opens nothing.
//
// # Message files
//
// A file LANG/KIND.VARIANT.md (LANG/KIND.md for a kind without variants) is
// front matter between two lines of three dashes, and a body:
//
//	---
//	subject: After lunch: a fresh set in?
//	preheader: One tap is enough.
//	choice: YES = a fresh set is in
//	choice: NO = it is not in yet
//	---
//	Time for a fresh set{{?meal}} after {{meal}}{{/meal}}.
//
// In subject, preheader, the meaning of a choice and the body may stand
//
//	{{name}}                                  a value
//	{{?name}}...{{/name}}                     kept when the value is there
//	{{!name}}...{{/name}}                     kept when it is not
//	{{name| one: # day | other: # days}}      by number; # is the number
//
// The body takes paragraphs, lists, headings, emphasis and https links. The key
// "caution: yes" adds the caution block to a message that does not carry it by
// its kind.
//
// Each language has a file LANG/parts.md with what the renderer adds. Those of
// the built-in languages, English and Spanish, cannot be replaced; a further
// language brings its own.
package templates
