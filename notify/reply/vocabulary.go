package reply

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
)

// vocabulary is one language's words and phrases, from lang/XX.txt. A
// translator copies lang/en.txt, keeps the names in brackets, and replaces the
// phrases; concepts.go says what each section means. Comments begin with #,
// phrases stand one or more a line, parted by commas.
type vocabulary struct {
	lang     string
	patterns []*pattern
	// common are frequent words that tell the language.
	common map[string]bool
	// aliases are other spellings of a word.
	aliases map[string]string
	// fuzzy are the words that a slip of a letter must not hide, spared those
	// that a slip must not turn into them.
	fuzzy, spared map[string]bool
	numbers       map[string]float64
	// words are all that its phrases use.
	words map[string]bool
}

// languages are the vocabularies by code; order is the order of preference.
var (
	langOrder    = []string{"en", "es", "fr", "de", "pt"}
	vocabularies = mustLoad()
)

func mustLoad() map[string]*vocabulary {
	out := map[string]*vocabulary{}
	for _, l := range langOrder {
		b, err := langFiles.ReadFile("lang/" + l + ".txt")
		if err != nil {
			panic(err)
		}
		v, faults := parseVocabulary(l, string(b))
		if len(faults) > 0 {
			panic(strings.Join(faults, "\n"))
		}
		out[l] = v
	}
	return out
}

// parseVocabulary reads one file and returns all its faults, each with file
// and line.
func parseVocabulary(lang, src string) (*vocabulary, []string) {
	v := &vocabulary{lang: lang, common: map[string]bool{}, aliases: map[string]string{}, fuzzy: map[string]bool{}, spared: map[string]bool{}, numbers: map[string]float64{}, words: map[string]bool{}}
	classes := map[string][][]form{}
	var faults []string
	fault := func(n int, format string, args ...any) {
		faults = append(faults, fmt.Sprintf("%s.txt:%d: %s", lang, n, fmt.Sprintf(format, args...)))
	}
	section, class := "", ""
	for i, line := range strings.Split(src, "\n") {
		n := i + 1
		if k := strings.Index(line, "# "); k == 0 || strings.TrimSpace(line) == "#" {
			continue
		}
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		if strings.HasPrefix(line, "[") && strings.HasSuffix(line, "]") {
			section, class = line[1:len(line)-1], ""
			if c, ok := strings.CutPrefix(section, "class "); ok {
				class = strings.TrimSpace(c)
				section = "class"
				if _, dup := classes[class]; dup {
					fault(n, "class %s is defined twice", class)
				}
				classes[class] = nil
			} else if !concepts[section] {
				fault(n, "unknown section [%s]", section)
			}
			continue
		}
		if section == "" {
			fault(n, "phrase before the first [section]")
			continue
		}
		for _, ph := range strings.Split(line, ",") {
			ph = strings.TrimSpace(ph)
			if ph == "" {
				continue
			}
			switch section {
			case "class":
				if strings.HasPrefix(ph, "<") {
					c, ok := classes[strings.Trim(ph, "<>")]
					if !ok {
						fault(n, "class %s is not defined above", ph)
					}
					classes[class] = append(classes[class], c...)
					continue
				}
				var seq []form
				for _, w := range strings.Fields(ph) {
					f, err := compileForm(w)
					if err != nil {
						fault(n, "%v", err)
					}
					seq = append(seq, f)
				}
				classes[class] = append(classes[class], seq)
			case "common":
				v.common[fold(ph)] = true
			case "alias":
				a, b, ok := strings.Cut(ph, "=")
				if !ok {
					fault(n, "an alias is written a=b")
					continue
				}
				v.aliases[fold(strings.TrimSpace(a))] = fold(strings.TrimSpace(b))
			case "fuzzy":
				v.fuzzy[fold(ph)] = true
			case "never-fuzzy":
				v.spared[fold(ph)] = true
			case "number":
				a, b, _ := strings.Cut(ph, "=")
				f, err := strconv.ParseFloat(strings.TrimSpace(b), 64)
				if err != nil {
					fault(n, "a number is written word=value")
					continue
				}
				v.numbers[fold(strings.TrimSpace(a))] = f
			default:
				src, value, _ := strings.Cut(ph, "=>")
				elems, err := compile(src, classes)
				if err != nil {
					fault(n, "%v", err)
					continue
				}
				for _, e := range elems {
					for _, alt := range e.alts {
						for _, f := range alt {
							v.words[fold(f.s)] = true
						}
					}
				}
				v.patterns = append(v.patterns, &pattern{concept: section, lang: lang, elems: elems, line: n, value: strings.TrimSpace(value)})
			}
		}
	}
	return v, faults
}

// leads are the words that may stand before a clause without a comma: "ok but
// why".
var leads = func() map[string]bool {
	out := map[string]bool{}
	for _, v := range vocabularies {
		for _, p := range v.patterns {
			if p.concept == "lead" && len(p.elems) == 1 {
				for _, a := range p.elems[0].alts {
					out[a[0].s] = true
				}
			}
		}
	}
	return out
}()

// matcher finds the phrases of several languages in one pass.
type matcher struct {
	byWord   map[string][]*pattern
	byPrefix map[string][]*pattern // keyed by the first three letters
	byNumber []*pattern
	anywhere []*pattern
}

var matchers = map[string]*matcher{}

func init() {
	// One matcher for each set of languages that is ever asked for: English
	// and Spanish alone, and with each of the others.
	matchers["en es"] = newMatcher("en", "es")
	for _, l := range langOrder[2:] {
		matchers["en es "+l] = newMatcher("en", "es", l)
	}
	matchers["en es fr de pt"] = newMatcher(langOrder...)
}

// alwaysHeard are the concepts looked for in a language that is not spoken.
var alwaysHeard = map[string]bool{"red": true, "yellow": true, "stop": true, "self-harm": true}

func newMatcher(langs ...string) *matcher {
	m := &matcher{byWord: map[string][]*pattern{}, byPrefix: map[string][]*pattern{}}
	spoken := map[string]bool{}
	for _, l := range langs {
		spoken[l] = true
	}
	for _, l := range langOrder {
		for _, p := range vocabularies[l].patterns {
			// What must not be missed is heard in every language, where more
			// than one word says it.
			if !spoken[l] && !(alwaysHeard[p.concept] && len(p.elems) > 1) {
				continue
			}
			fs, number := p.firsts()
			if number {
				m.byNumber = append(m.byNumber, p)
			}
			seen := map[string]bool{}
			for _, f := range fs {
				key := f.s
				if f.exact {
					key = fold(f.s)
				}
				if f.prefix {
					key = "*" + prefixKey(f.s)
				}
				if seen[key] {
					continue
				}
				seen[key] = true
				switch {
				case !f.prefix:
					m.byWord[key] = append(m.byWord[key], p)
				case len(f.s) < 3:
					m.anywhere = append(m.anywhere, p)
				default:
					m.byPrefix[prefixKey(f.s)] = append(m.byPrefix[prefixKey(f.s)], p)
				}
			}
		}
	}
	return m
}

func prefixKey(s string) string {
	if len(s) > 3 {
		return s[:3]
	}
	return s
}

// hit is one phrase found: words [from, to).
type hit struct {
	from, to int
	value    string
}

// find returns the hits of each concept in the order of the text.
func (m *matcher) find(ws []word) map[string][]hit {
	hits := map[string][]hit{}
	try := func(ps []*pattern, i int) {
		for _, p := range ps {
			if end, ok := p.match(ws, i); ok && end > i {
				hits[p.concept] = append(hits[p.concept], hit{i, end, p.value})
			}
		}
	}
	for i := range ws {
		try(m.byWord[ws[i].s], i)
		if len(ws[i].s) >= 3 {
			try(m.byPrefix[prefixKey(ws[i].s)], i)
		}
		if ws[i].isNum {
			try(m.byNumber, i)
		}
		try(m.anywhere, i)
	}
	for _, h := range hits {
		sort.SliceStable(h, func(a, b int) bool { return h[a].from < h[b].from || h[a].from == h[b].from && h[a].to > h[b].to })
	}
	return hits
}
