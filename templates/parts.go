package templates

import (
	"fmt"
	"slices"
	"strings"
)

// parts are the words of one language that the renderer adds to every message.
type parts struct {
	text  string // the whole file, for the version
	named map[string][]node
}

// The parts a language has to have, with the placeholders each must use, so
// that the caution and the way to stop say what they are for.
var partRules = []struct {
	name  string
	must  []string // placeholders
	words []string // literal words
}{
	{name: "greeting"},
	{name: "greeting_guardian"},
	{name: "reply"},
	{name: "choice"},
	{name: "picture"},
	{name: "caution", must: []string{"clinic_phone", "emergency_number"}},
	{name: "unwatched"},
	{name: "phone", must: []string{"clinic_phone"}},
	{name: "stop", words: []string{StopWord}},
	{name: "start", words: []string{StartWord}},
	{name: "staff"},
}

// The words that stop and resume the messages, the same in every language, so
// that what reads replies needs to learn no new ones.
const (
	StopWord  = "STOP"
	StartWord = "START"
)

// The two holes in the part "choice"; not placeholders, for only the renderer
// fills them.
const (
	wordHole    = "<word>"
	meaningHole = "<meaning>"
)

// readParts parses a file of parts: front matter and nothing below it.
func readParts(file, lang, text string) (*parts, Faults) {
	text = strings.ReplaceAll(strings.TrimPrefix(text, "\uFEFF"), "\r\n", "\n")
	r := &reader{file: file, text: text, lang: lang}
	p := &parts{text: text, named: map[string][]node{}}
	fields, body := r.frontMatter()
	if len(r.faults) > 0 {
		return p, r.sorted()
	}
	if strings.TrimSpace(text[body:]) != "" {
		r.fault(body, "a file of parts has nothing below the front matter", "")
	}
	names := make([]string, len(partRules))
	for i, rule := range partRules {
		names[i] = rule.name
	}
	values := map[string]field{}
	for _, f := range fields {
		_, twice := values[f.key]
		switch {
		case twice:
			r.fault(f.keyPos, fmt.Sprintf("%s is given twice", f.key), "keep one")
		case !slices.Contains(names, f.key):
			r.fault(f.keyPos, fmt.Sprintf("unknown part %q", f.key), didYouMean(f.key, names))
		default:
			values[f.key] = f
			p.named[f.key] = r.parse(f.value, f.valuePos)
		}
	}
	for _, rule := range partRules {
		f, ok := values[rule.name]
		if !ok || f.value == "" {
			r.fault(0, "the part "+rule.name+" is missing", `add a line "`+rule.name+`: ..."`)
			continue
		}
		for _, name := range rule.must {
			if !slices.ContainsFunc(p.named[rule.name], func(n node) bool { return n.name == name && !n.block && n.forms == nil }) {
				r.fault(f.valuePos, fmt.Sprintf("the part %s does not say {{%s}}", rule.name, name), "outside of any block, so that it is always said")
			}
		}
		words := rule.words
		if rule.name == "choice" {
			words = []string{wordHole, meaningHole}
		}
		for _, w := range words {
			if !slices.ContainsFunc(p.named[rule.name], func(n node) bool { return strings.Contains(n.text, w) }) {
				r.fault(f.valuePos, fmt.Sprintf("the part %s does not say %s", rule.name, w), "outside of any block, so that it is always said")
			}
		}
	}
	return p, r.sorted()
}
