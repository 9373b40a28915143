package hookup

import (
	"slices"
	"strings"
	"unicode"

	"bandbell/scheduler/plan"
)

// speech is all the picture says in one language.
type speech struct {
	title       string // of the picture; tells that it is a mirror
	mirror      string // the same as a sentence, for those who do not see it
	right, left string // beside the halves
	before      string // what a solid line means
	behind      string // what a broken one means
	sides       map[plan.Side]string
	kinds       map[plan.HookKind]string // in the key; the empty one: a hook
	surfaces    map[plan.Surface]string  // in the key
	hook        func(h plan.Hook, words hookWords) string
	patterns    map[plan.Pattern]string // with U and L where the hooks of each arch go
	and         string
	alike       map[plan.HookKind]string // after the hooks, where all are of one kind; the empty one: nothing
	bag         [2]string                // before and after what is printed on the bag
}

// hookWords says how much of a hook has to be told.
type hookWords struct {
	notation plan.Notation
	side     bool // whether the tooth is a right or a left one
	surface  bool // whether it is the cheek side or the tongue side
	kind     bool // what kind of hook it is
}

// speeches are the languages there are words for, by the first part of their
// BCP 47 tag.
var speeches = map[string]*speech{"en": &english, "es": &spanish}

// speechOf finds the words for a language tag, English where there are none.
func speechOf(tag string) *speech {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if s, ok := speeches[base]; ok {
		return s
	}
	return &english
}

// sentence tells one band in full: its side, the figure it makes, and every
// hook with all that was said of it.
func (s *speech) sentence(b plan.Prescription, n plan.Notation) string {
	told := hookWords{notation: n, side: b.Side == plan.Front}
	all := slices.Concat(b.Upper, b.Lower)
	kind := all[0].Kind
	alike := len(all) > 2 && !slices.ContainsFunc(all, func(h plan.Hook) bool { return h.Kind != kind })
	told.kind = !alike
	told.surface = slices.ContainsFunc(all, func(h plan.Hook) bool { return h.Surface == plan.Tongue })
	list := func(hooks []plan.Hook) string {
		var names []string
		for _, h := range hooks {
			names = append(names, s.hook(plainly(h), told))
		}
		last := len(names) - 1
		if last < 1 {
			return strings.Join(names, "")
		}
		return strings.Join(names[:last], ", ") + " " + s.and + " " + names[last]
	}
	way := strings.NewReplacer("{U}", list(b.Upper), "{L}", list(b.Lower)).Replace(s.patterns[b.Pattern])
	if alike {
		way += s.alike[kind]
	}
	whole := s.sides[b.Side] + ": " + way + "."
	if printed := clean(b.Bag); printed != "" {
		whole += s.bag[0] + printed + s.bag[1]
	}
	return whole
}

// longestBag is how much of what is printed on a bag is told, in runes.
const longestBag = 40

// clean makes a name of one line of text out of whatever was typed: control
// and formatting characters go, among them those that turn the direction of
// what follows; white space becomes single blanks; what is too long is cut.
func clean(name string) string {
	name = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsGraphic(r) || r == unicode.ReplacementChar:
			return -1
		}
		return r
	}, name)
	runes := []rune(strings.Join(strings.Fields(name), " "))
	if len(runes) > longestBag {
		runes = append(runes[:longestBag-1], '…')
	}
	return string(runes)
}
