package templates

import (
	"fmt"
	"slices"
	"strings"
)

// node is a piece of a parsed text: words, a value, a block or a plural.
type node struct {
	text     string            // words, when name is empty
	name     string            // the placeholder of a value, block or plural
	block    bool              // an optional block over children
	negate   bool              // a block kept when the value is missing
	children []node            // of a block
	forms    map[string]string // of a plural, by category; nil otherwise
	pos      int               // byte offset in the file
}

// maxDepth bounds blocks in blocks.
const maxDepth = 4

// parse reads a piece of the file that begins at offset base.
func (r *reader) parse(s string, base int) []node {
	p := &parser{reader: r, s: s, base: base}
	nodes := p.list("", 0)
	return nodes
}

type parser struct {
	reader *reader
	s      string
	base   int
	pos    int
}

func (p *parser) fault(pos int, what, hint string) { p.reader.fault(p.base+pos, what, hint) }

// list reads until the end, or until the end tag of the open block.
func (p *parser) list(open string, depth int) []node {
	var nodes []node
	begun := p.pos
	for p.pos < len(p.s) {
		at := strings.Index(p.s[p.pos:], "{{")
		if at < 0 {
			at = len(p.s) - p.pos
		}
		if at > 0 {
			words := p.s[p.pos : p.pos+at]
			if i := strings.Index(words, "}}"); i >= 0 {
				p.fault(p.pos+i, "}} without {{ before it", "take it out or write the {{")
			}
			nodes = append(nodes, node{text: words, pos: p.base + p.pos})
			p.pos += at
			continue
		}
		tag := p.pos
		end := strings.Index(p.s[tag:], "}}")
		if end < 0 {
			p.fault(tag, "{{ is not closed", "close it with }}")
			p.pos = len(p.s)
			break
		}
		inner := p.s[tag+2 : tag+end]
		p.pos = tag + end + 2
		if strings.ContainsAny(inner, "{\n") {
			p.fault(tag, "{{ is not closed on its line", "close it with }}")
			continue
		}
		switch trimmed := strings.TrimSpace(inner); {
		case strings.HasPrefix(trimmed, "/"):
			name := strings.TrimSpace(trimmed[1:])
			if open != "" && name == open {
				return nodes
			}
			what, hint := fmt.Sprintf("{{/%s}} closes nothing", name), "take it out"
			if open != "" {
				hint = fmt.Sprintf("the open block is {{?%s}}", open)
			}
			p.fault(tag, what, hint)
		case strings.HasPrefix(trimmed, "?"), strings.HasPrefix(trimmed, "!"):
			name := strings.TrimSpace(trimmed[1:])
			p.known(tag, name)
			if depth == maxDepth {
				p.fault(tag, fmt.Sprintf("blocks are nested more than %d deep", maxDepth), "say it more simply")
			}
			if depth > maxDepth {
				// Already reported; go on flat so that a hostile file stays cheap.
				continue
			}
			n := node{name: name, block: true, negate: trimmed[0] == '!', pos: p.base + tag}
			n.children = p.list(name, depth+1)
			nodes = append(nodes, n)
		case strings.Contains(trimmed, "|"):
			nodes = append(nodes, p.plural(tag, inner))
		default:
			p.known(tag, trimmed)
			nodes = append(nodes, node{name: trimmed, pos: p.base + tag})
		}
	}
	if open != "" {
		p.fault(max(begun-1, 0), fmt.Sprintf("the block of %s before this is not closed", open), fmt.Sprintf("close it with {{/%s}}", open))
	}
	return nodes
}

func (p *parser) known(tag int, name string) Placeholder {
	ph, ok := findPlaceholder(name)
	if !ok {
		p.fault(tag, fmt.Sprintf("unknown placeholder %q", name), didYouMean(name, placeholderNames()))
	}
	return ph
}

// plural reads "name| one: # day | other: # days".
func (p *parser) plural(tag int, inner string) node {
	parts := strings.Split(inner, "|")
	name := strings.TrimSpace(parts[0])
	n := node{name: name, forms: map[string]string{}, pos: p.base + tag}
	if ph := p.known(tag, name); ph.Name != "" && !ph.Number {
		p.fault(tag, fmt.Sprintf("%s is not a number and has no plural", name), "")
	}
	want := pluralOf(p.reader.lang).categories
	for _, part := range parts[1:] {
		category, form, ok := strings.Cut(part, ":")
		category = strings.TrimSpace(category)
		switch {
		case !ok:
			p.fault(tag, "a plural form has no colon", `write "other: # days"`)
		case !slices.Contains(want, category):
			p.fault(tag, fmt.Sprintf("language %s has no plural category %q", p.reader.lang, category), "it has "+strings.Join(want, ", "))
		case strings.TrimSpace(form) == "":
			p.fault(tag, fmt.Sprintf("the plural form %s is empty", category), "")
		default:
			if _, twice := n.forms[category]; twice {
				p.fault(tag, fmt.Sprintf("the plural form %s is given twice", category), "keep one")
			}
			n.forms[category] = strings.TrimSpace(form)
		}
	}
	for _, category := range want {
		if _, ok := n.forms[category]; !ok {
			p.fault(tag, fmt.Sprintf("the plural of %s lacks the category %s", name, category), fmt.Sprintf("add %q", "| "+category+": ..."))
		}
	}
	return n
}
