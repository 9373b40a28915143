package reply

// concepts are the sections a vocabulary may have. What each one holds:
var concepts = map[string]bool{
	// Telling the language, and reading words.
	"common": true,                      // frequent words of this language only
	"alias":  true,                      // a=b: another spelling
	"number": true,                      // word=value
	"fuzzy":  true, "never-fuzzy": true, // words a slip must not hide; words that are none

	// Answers.
	"yes": true, "no": true, // a word that answers by itself
	"ok":     true, // a weaker yes
	"filler": true, // may stand beside an answer and changes nothing
	"not":    true, // turns round what follows it
	"idiom":  true, // holds a "no" that denies nothing

	// The change of bands.
	"changed":  true, // done: "changed them"
	"change":   true, // the bare verb, which other words make done, denied or meant
	"put-on":   true, // put on, without a word of fresh or old
	"same":     true, // the old set
	"wearing":  true, // they are on
	"is-off":   true, // they are off now
	"took-off": true, // they were taken off
	"forgot":   true, // not done, and why
	"later":    true, // not yet, but meant
	"doubt":    true, "hearsay": true,
	"correct":  true, // takes back what was said before
	"turn":     true, // the later statement holds: but, then, now
	"chatter":  true, // a word of [person] that is about something else
	"sarcasm":  true,
	"saw":      true,                  // the one who reports was there
	"yes-tail": true,                  // answers at the end of a clause too
	"yes-word": true, "no-word": true, // answer words that are nothing else
	"after-no":    true, // after a leading "no", shows that it was the answer
	"yes-else":    true, // after a yes, shows that it answers something else
	"or-no":       true, // "yes or no"
	"other-thing": true, // what else can be changed: an address, a mind
	"fixed":       true, // over and mended

	// Grammar.
	"cut":     true, // where a new clause begins
	"but-not": true, // ends the reach of a denial
	"subject": true, // begins a statement of its own after a comma
	"copula":  true, // makes a sign a statement of its own

	// Who and what is meant.
	"pronoun":  true, // takes up a part named before a comma
	"for-whom": true, // for, before a name
	"lead":     true, // may stand before a clause that ^ begins
	"no-noun":  true, // what a leading "no" denies instead of answering
	"one-side": true, "bands-both": true, "side": true,
	"stop-else": true, "out-else": true, "blame": true, "own": true, "hay": true, "again": true,
	"band-word": true, "place": true, "value-before": true, "value-after": true, "from-value": true,
	"two": true, "if": true,
	"meal-PCM": true, "meal-PCD": true, "meal-PCV": true, "meal-HS": true, "meal-PC": true, "meal-any": true,
	"at-meal":     true, // binds a meal to an answer: after, at, for
	"before-meal": true,
	"meal-lead":   true, // after, for: between the verb and the meal
	"meal-did":    true, // did, changed: right before the meal
	"meal-not":    true, // not, skipped

	// Times and spans.
	"since": true, "from": true, "to": true, "at": true, "hour": true, "minute": true, "am": true, "pm": true,
	"noon": true, "midnight": true, "half": true, "quarter": true, "past": true, "till": true, "and-half": true,
	"span-off": true, "span-on": true, "whole-day": true, "vague": true, "not-time": true, "yesterday": true,
	"approx": true, "until-now": true, "ago": true, "ago-before": true, "article": true, "of-unit": true, "not-wear": true,

	// Things that go wrong.
	"out-of-bands": true, "running-low": true,
	"part":   true, // value: hook, button, bracket, wire, aligner, molar-band
	"damage": true, "damage-before": true, "broken": true, "not-part": true,
	"sore": true, "severe": true, "comfort": true, "old-value": true, "now-value": true,
	"red": true, "yellow": true, "yellow-weak": true, "mouth": true, "elsewhere": true, "cause": true, "bands": true,
	"long-ago": true, "over": true, // a sign that has gone
	"swelling": true, "ulcer": true, "fever": true, "jaw": true, "medical": true,

	// Wishes.
	"mail-noun": true, // the e-mails, or the list
	"mail-end":  true, // with a mail-noun in one sentence, a wish to have no more
	"mail-seen": true, // speaks of an e-mail without a wish
	"stop":      true, "stop-word": true, "fewer": true, "start": true, "pause": true,

	// Questions. The value is the topic.
	"ask": true, "request": true, "rhetorical": true, "topic": true,

	// Needs of a person.
	"wrong-person": true, "new-address": true, "self-harm": true, "plan-date": true, "person": true,
}
