package templates

import (
	"fmt"
	"slices"
	"strings"
)

// ending is what the renderer puts under a message.
type ending int

const (
	endStop  ending = iota // the clinic's phone and how to stop
	endStart               // the clinic's phone and how to start again
	endStaff               // a word for staff
)

// kind is one kind of message and the rules its messages keep.
type kind struct {
	name     string
	variants []string // {""} for a kind without variants
	reply    bool     // asks something: two to four choices must be there
	caution  bool     // carries the caution block whatever the file says
	picture  bool     // may show the hook-up picture
	greets   bool     // opens with the greeting
	ending   ending
}

// The kinds, in the order in which they are listed. The variants of band-change
// are the HL7 timing codes of the meal (PCM after breakfast, PCD after lunch,
// PCV after dinner, PC after another meal, HS at bedtime) and day, the question
// about the whole day. Those of soreness are the days of the first week and,
// with an r, those after a restart. Those of answer are the topics of a
// question.
var kinds = []kind{
	{name: "band-change", variants: []string{"PCM", "PCD", "PCV", "PC", "HS", "day"}, reply: true, greets: true},
	{name: "wear-start", variants: []string{"d-3", "d-1", "d0", "b"}, reply: true, caution: true, picture: true, greets: true},
	{name: "soreness", variants: []string{"1", "2", "3", "4", "5", "6", "7", "r1", "r2", "r3"}, reply: true, caution: true, greets: true},
	{name: "consent", variants: []string{""}, reply: true, greets: true},
	{name: "stopped", variants: []string{""}, greets: true, ending: endStart},
	{name: "goodbye", variants: []string{""}, greets: true},
	{name: "emergency", variants: []string{"red", "yellow"}, caution: true, greets: true},
	{name: "answer", variants: []string{"hook-up", "how-often", "forgot", "sport-or-meal", "pain", "pain-reliever", "ran-out", "broken", "received"}, caution: true, greets: true},
	{name: "digest", variants: []string{""}, ending: endStaff},
	{name: "test", variants: []string{""}, ending: endStaff},
}

func findKind(name string) (kind, bool) {
	for _, k := range kinds {
		if k.name == name {
			return k, true
		}
	}
	return kind{}, false
}

// patient reports whether the message goes to a patient or guardian.
func (k kind) patient() bool { return k.ending != endStaff }

// Entry names one message.
type Entry struct {
	Kind    string
	Variant string // empty for a kind without variants
	Lang    string // as the directory is named: en, es
}

// Path returns the file of the message inside the message directory.
func (e Entry) Path() string {
	if e.Variant == "" {
		return e.Lang + "/" + e.Kind + ".md"
	}
	return e.Lang + "/" + e.Kind + "." + e.Variant + ".md"
}

// Entries returns every message that one language has to have.
func Entries(lang string) []Entry {
	var all []Entry
	for _, k := range kinds {
		for _, v := range k.variants {
			all = append(all, Entry{k.name, v, lang})
		}
	}
	return all
}

// entryOf reads a file name; the error is what is wrong, the hint what is
// known.
func entryOf(lang, base string) (e Entry, what, hint string) {
	name := strings.TrimSuffix(base, ".md")
	kindName, variant, _ := strings.Cut(name, ".")
	k, ok := findKind(kindName)
	if !ok {
		names := make([]string, len(kinds))
		for i, k := range kinds {
			names[i] = k.name
		}
		return e, fmt.Sprintf("there is no kind of message %q", kindName), didYouMean(kindName, names)
	}
	if !slices.Contains(k.variants, variant) {
		if k.variants[0] == "" {
			return e, fmt.Sprintf("messages of kind %s have no variants", k.name), "name the file " + k.name + ".md"
		}
		return e, fmt.Sprintf("kind %s has no variant %q", k.name, variant), didYouMean(variant, k.variants)
	}
	return Entry{k.name, variant, lang}, "", ""
}
