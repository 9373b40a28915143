package reply

import (
	"fmt"
	"sort"
	"strings"
)

// grammar are the concepts too small to be worth a line of an explanation.
var grammar = map[string]bool{
	"filler": true, "subject": true, "copula": true, "cut": true, "but-not": true, "after-no": true, "no-noun": true, "lead": true, "own": true,
	"article": true, "of-unit": true, "place": true, "side": true, "band-word": true, "value-before": true, "value-after": true, "from-value": true,
	"at-meal": true, "before-meal": true, "meal-lead": true, "meal-did": true, "meal-not": true, "yes-word": true, "no-word": true, "am": true, "pm": true,
	"span-on": true, "span-off": true, "approx": true, "other-thing": true, "for-whom": true, "again": true, "bands": true, "mouth": true, "elsewhere": true,
}

// Explain reads a message as Read does and tells, clause by clause, which
// phrases were found and, below, what was decided from which words. The text
// quotes the patient: it is for the screen of staff, never for a log.
func Explain(raw []byte, asked Asked) string {
	r := Read(raw, asked)
	var b strings.Builder
	fmt.Fprintf(&b, "kind: %s\n", r.Kind)
	if r.Kind != KindReply {
		fmt.Fprintf(&b, "why: %s\n", r.Why)
		return b.String()
	}
	a := analyse(r.Text, asked)
	fmt.Fprintf(&b, "language: %s\n", a.lang)
	type found struct {
		from, to int
		concept  string
	}
	var all []found
	for concept, hs := range a.hits {
		if grammar[concept] {
			continue
		}
		for _, h := range hs {
			all = append(all, found{h.from, h.to, concept})
		}
	}
	sort.Slice(all, func(i, j int) bool {
		if all[i].from != all[j].from {
			return all[i].from < all[j].from
		}
		return all[i].concept < all[j].concept
	})
	n := 0
	for k, c := range a.clauses {
		fmt.Fprintf(&b, "clause %d: %q", k+1, a.text[a.ws[c.from].start:a.ws[c.to-1].end])
		if c.asks {
			b.WriteString(" (asks)")
		}
		if c.supposes {
			b.WriteString(" (supposes)")
		}
		b.WriteByte('\n')
		for ; n < len(all) && all[n].from < c.to; n++ {
			f := all[n]
			fmt.Fprintf(&b, "    %-14s %q", f.concept, a.text[a.ws[f.from].start:a.ws[f.to-1].end])
			if a.denied(hit{from: f.from, to: f.to}) {
				b.WriteString(" (denied)")
			}
			b.WriteByte('\n')
		}
	}
	for _, s := range r.steps {
		fmt.Fprintf(&b, "%s: %s, from %q\n", s.what, s.why, r.Quote(s.span))
	}
	for _, rep := range r.Reports {
		fmt.Fprintf(&b, "report %s, certainty %.2f, from %q\n", rep.What, rep.Certainty, r.Quote(rep.Span))
	}
	fmt.Fprintf(&b, "needs a person: %v (%s)\n", r.NeedsPerson, r.Why)
	return b.String()
}
