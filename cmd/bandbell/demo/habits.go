package demo

import (
	"time"

	"bandbell/scheduler/plan"
)

// answer is what a person writes back, and when.
type answer struct {
	text  string
	after time.Duration // from the nudge
	html  bool          // their mail program writes HTML
	auto  bool          // a machine answers
	press bool          // they press a button, which opens a new message
}

// answerTo decides what the person does with a nudge; ok is false where they
// leave it.
func (p *person) answerTo(kind plan.Kind, day int) (a answer, ok bool) {
	p.asked++
	a.after = time.Duration(2+p.luck.IntN(40)) * time.Minute
	a.html = p.luck.IntN(5) == 0
	switch p.habit {
	case silent:
		if p.asked > 12 {
			return a, false
		}
	case responder:
		if !p.away {
			p.away = true
			a.auto, a.after = true, 3*time.Second
			a.text = "I am out of the office until Monday and will answer your message when I am back."
			return a, true
		}
		return a, p.chance(30) && p.say(&a, yesWords...)
	case latex:
		if kind == plan.BandChange && p.asked > 8 && !p.alarmed {
			p.alarmed = true
			a.text = "changed them but my lips are itchy and theres a rash around my mouth"
			return a, true
		}
	}
	switch kind {
	case plan.Soreness:
		return a, p.chance(80) && p.say(&a, soreWords(p.habit, day, p.Language, p.luck.IntN(3))...)
	case plan.WearStart:
		return a, p.chance(60) && p.say(&a, p.words(startWords, startWordsES)...)
	}
	switch p.habit {
	case forgetful:
		switch n := p.luck.IntN(100); {
		case n < 35:
			return a, false
		case n < 60:
			return a, p.say(&a, noWords...)
		}
	case sore:
		if day < 9 && p.chance(35) {
			return a, p.say(&a, "no, too sore right now, took them off at lunch", "not yet, my teeth hurt")
		}
	default:
		if p.chance(8) {
			return a, false
		}
		if p.chance(4) {
			return a, p.say(&a, p.words(oddWords, oddWordsES)...)
		}
	}
	if p.chance(30) {
		a.press, a.text = true, "YES"
		return a, true
	}
	return a, p.say(&a, p.words(yesWords, yesWordsES)...)
}

func (p *person) chance(percent int) bool { return p.luck.IntN(100) < percent }

// say picks one of the words; it is always true, so that it can end a condition.
func (p *person) say(a *answer, words ...string) bool {
	a.text = words[p.luck.IntN(len(words))]
	return true
}

func (p *person) words(en, es []string) []string {
	if p.Language == "es" {
		return es
	}
	return en
}

// How the invented people write.
var (
	yesWords   = []string{"yes", "Yep, done", "ya", "done :)", "yes changed both", "Yes!", "k done", "Yes, fresh ones in."}
	yesWordsES = []string{"sí", "si ya", "listo", "sí, ya me las cambié", "hecho", "Sí, las dos."}
	noWords    = []string{"no", "nope forgot", "not yet", "no sorry, forgot them at home", "nah forgot", "no, took them out at 1pm"}
	oddWords   = []string{"ya but 1 broke lol", "how many times a day do I change them?", "yes. do I keep them in for soccer?",
		"the little hook came off my tooth", "I only have like 5 left"}
	oddWordsES   = []string{"sí, pero se me rompió una", "¿cuántas veces al día las cambio?", "ya casi no me quedan gomas"}
	startWords   = []string{"yes they are in", "Yes, put them in this morning", "ok, started"}
	startWordsES = []string{"sí, ya las tengo puestas", "sí, empecé hoy"}
)

// soreWords is how sore a person says to be on a day of the sore week: most at
// first, little after four days.
func soreWords(h habit, day int, lang string, roll int) []string {
	level := max(0, 5-day) + roll%2
	if h == sore {
		level = max(2, 8-day)
	}
	digit := string(rune('0' + min(level, 9)))
	if lang == "es" {
		return []string{digit, "un " + digit, digit + ", pero las llevo puestas"}
	}
	return []string{digit, "a " + digit + " i think", digit + ", still wearing them"}
}
