package reply

import "sync"

// detect tells the language of the words. preferred stands unless another one
// is plainly spoken; English stands where nothing tells.
func detect(ws []word, preferred string) string {
	score := map[string]int{}
	for i := range ws {
		if i > 400 {
			break
		}
		for _, l := range langOrder {
			v := vocabularies[l]
			if v.common[ws[i].s] {
				score[l] += 2
			}
			if v.common["="+ws[i].raw] {
				score[l]++
			}
		}
	}
	best := preferred
	if _, ok := vocabularies[best]; !ok {
		best = ""
	}
	top := 0
	if best != "" {
		top = score[best] + 2
	}
	for _, l := range langOrder {
		if score[l] > top {
			best, top = l, score[l]
		}
	}
	if best == "" {
		best = "en"
	}
	return best
}

// matcherFor returns the phrases to look for: English and Spanish always, for
// people mix them, and the language spoken.
func matcherFor(lang string) *matcher {
	if m, ok := matchers["en es "+lang]; ok {
		return m
	}
	return matchers["en es"]
}

// respell undoes other spellings and slips of one letter in the words that
// must not be missed.
func respell(s, lang string) string {
	for _, l := range []string{lang, "en", "es"} {
		if v := vocabularies[l]; v != nil {
			if to, ok := v.aliases[s]; ok && (l == lang || len(s) > 3 && !v.common[s] && !vocabularies[lang].known(s)) {
				return to
			}
		}
	}
	if len(s) < 6 || len(s) > 14 {
		return s
	}
	for _, l := range []string{lang, "en", "es"} {
		v := vocabularies[l]
		if v != nil && (v.fuzzy[s] || v.spared[s] || v.known(s)) {
			return s
		}
	}
	if to, ok := slips()[s]; ok {
		return to
	}
	return s
}

// known tells whether a language uses the word by itself.
func (v *vocabulary) known(s string) bool { return v.common[s] || v.words[s] }

// slips maps every spelling that is one letter away (dropped, doubled, changed
// or swapped, never the first) from a word that must not be missed.
var slips = sync.OnceValue(func() map[string]string {
	const letters = "abcdefghijklmnopqrstuvwxyz"
	out := map[string]string{}
	for _, l := range []string{"en", "es"} {
		for w := range vocabularies[l].fuzzy {
			put := func(s string) {
				if _, ok := out[s]; !ok {
					out[s] = w
				}
			}
			for i := 1; i < len(w); i++ {
				put(w[:i] + w[i+1:])
				if i+1 < len(w) {
					put(w[:i] + w[i+1:i+2] + w[i:i+1] + w[i+2:])
				}
				for _, c := range letters {
					put(w[:i] + string(c) + w[i+1:])
					put(w[:i] + string(c) + w[i:])
				}
			}
		}
	}
	return out
})

// numbers gives number words their value.
func numbers(ws []word, lang string) {
	en, es := vocabularies["en"], vocabularies["es"]
	order := []*vocabulary{en, es}
	if lang == "es" {
		order = []*vocabulary{es, en}
	} else if v := vocabularies[lang]; v != nil && lang != "en" {
		order = []*vocabulary{v, en, es}
	}
	for i := range ws {
		if ws[i].isNum || ws[i].clock || ws[i].junk || ws[i].date {
			continue
		}
		for n, v := range order {
			// A Spanish "once" in English is no eleven.
			if n > 0 && (en.common[ws[i].s] || ws[i].s == "once" || ws[i].s == "son") && v != en {
				continue
			}
			if f, ok := v.numbers[ws[i].s]; ok {
				ws[i].num, ws[i].isNum = f, true
				break
			}
		}
	}
}
