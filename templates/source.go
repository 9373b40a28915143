package templates

import (
	"fmt"
	"regexp"
	"sort"
	"strings"
	"unicode/utf8"
)

// maxSource bounds a message file, in bytes.
const maxSource = 16 << 10

// choice is one answer a message offers: the word to send, and what it means.
type choice struct {
	word    string
	meaning []node
	pos     int
}

// source is one parsed message file.
type source struct {
	file      string
	text      string // the whole file, for places and the version
	subject   []node
	preheader []node
	choices   []choice
	caution   bool
	body      []node
	bodyPos   int
}

// reader collects the faults of one file.
type reader struct {
	file   string
	text   string
	lang   string
	faults Faults
}

func (r *reader) fault(pos int, what, hint string) {
	before := r.text[:pos]
	start := strings.LastIndexByte(before, '\n') + 1
	r.faults = append(r.faults, Fault{
		File: r.file,
		Line: strings.Count(before, "\n") + 1,
		Col:  utf8.RuneCountInString(before[start:]) + 1,
		What: what, Hint: hint,
	})
}

func (r *reader) sorted() Faults {
	sort.SliceStable(r.faults, func(i, j int) bool {
		a, b := r.faults[i], r.faults[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Col < b.Col
	})
	return r.faults
}

// field is one "key: value" line of front matter.
type field struct {
	key, value       string
	keyPos, valuePos int
}

// frontMatter reads the fields and returns where the body starts. Text that
// cannot stand in any message file is reported here too.
func (r *reader) frontMatter() (fields []field, body int) {
	if len(r.text) > maxSource {
		r.fault(0, fmt.Sprintf("the file has %d bytes, at most %d are allowed", len(r.text), maxSource), "say one thing, shorter")
		return nil, len(r.text)
	}
	if !utf8.ValidString(r.text) {
		r.fault(0, "the file is not UTF-8", "save it as UTF-8")
		return nil, len(r.text)
	}
	for i, c := range r.text {
		if isMark(c) || c == utf8.RuneError || c < ' ' && c != '\n' && c != '\t' || c == 0x7F {
			r.fault(i, fmt.Sprintf("character U+%04X cannot stand in a message", c), "take it out")
		}
	}
	const rule = "---\n"
	if !strings.HasPrefix(r.text, rule) {
		r.fault(0, "the file does not begin with front matter", `begin with a line "---", then "subject: ...", then another "---"`)
		return nil, len(r.text)
	}
	pos := len(rule)
	for pos < len(r.text) {
		end := strings.IndexByte(r.text[pos:], '\n')
		if end < 0 {
			end = len(r.text) - pos
		}
		line := r.text[pos : pos+end]
		next := min(pos+end+1, len(r.text))
		switch trimmed := strings.TrimSpace(line); {
		case line == "---":
			return fields, next
		case trimmed == "" || strings.HasPrefix(trimmed, "#"):
		default:
			key, value, ok := strings.Cut(line, ":")
			if !ok {
				r.fault(pos, "this line of the front matter has no colon", `write "key: value"`)
				break
			}
			lead := len(value) - len(strings.TrimLeft(value, " \t"))
			fields = append(fields, field{
				key: strings.TrimSpace(key), keyPos: pos,
				value: strings.TrimSpace(value), valuePos: pos + len(key) + 1 + lead,
			})
		}
		pos = next
	}
	r.fault(0, "the front matter has no end", `close it with a line "---"`)
	return fields, len(r.text)
}

// word of a choice: what a patient types or a button sends.
var choiceWord = regexp.MustCompile(`^[\p{L}\p{N}][\p{L}\p{N} .,:'-]{0,38}$`)

var messageKeys = []string{"subject", "preheader", "choice", "caution"}

// readMessage parses a message file. The source is usable only without faults.
func readMessage(file, lang, text string) (*source, Faults) {
	text = strings.ReplaceAll(strings.TrimPrefix(text, "\uFEFF"), "\r\n", "\n")
	r := &reader{file: file, text: text, lang: lang}
	s := &source{file: file, text: text}
	fields, body := r.frontMatter()
	if len(r.faults) > 0 && body == len(text) {
		return s, r.sorted()
	}
	seen := map[string]bool{}
	for _, f := range fields {
		if seen[f.key] && f.key != "choice" {
			r.fault(f.keyPos, fmt.Sprintf("%s is given twice", f.key), "keep one")
			continue
		}
		seen[f.key] = true
		if f.value == "" {
			r.fault(f.keyPos, fmt.Sprintf("%s is empty", f.key), "")
			continue
		}
		switch f.key {
		case "subject":
			s.subject = r.parse(f.value, f.valuePos)
		case "preheader":
			s.preheader = r.parse(f.value, f.valuePos)
		case "caution":
			if s.caution = f.value == "yes"; !s.caution {
				r.fault(f.valuePos, "caution can only be yes", "leave the line out; a caution that the kind carries cannot be switched off")
			}
		case "choice":
			word, meaning, ok := strings.Cut(f.value, "=")
			trimmed := strings.TrimSpace(meaning)
			word = strings.TrimSpace(word)
			if !ok || trimmed == "" || !choiceWord.MatchString(word) {
				r.fault(f.valuePos, "this choice is not a word and its meaning", `write "choice: YES = the new set is in"`)
				break
			}
			for _, c := range s.choices {
				if strings.EqualFold(c.word, word) {
					r.fault(f.valuePos, fmt.Sprintf("the choice %q is given twice", word), "keep one")
				}
			}
			at := f.valuePos + strings.Index(f.value, "=") + 1 + strings.Index(meaning, trimmed)
			s.choices = append(s.choices, choice{word: word, meaning: r.parse(trimmed, at), pos: f.valuePos})
		default:
			r.fault(f.keyPos, fmt.Sprintf("unknown key %q", f.key), didYouMean(f.key, messageKeys))
		}
	}
	for _, key := range []string{"subject", "preheader"} {
		if !seen[key] {
			r.fault(0, "the front matter has no "+key, `add a line "`+key+`: ..."`)
		}
	}
	s.bodyPos = body
	if strings.TrimSpace(text[body:]) == "" {
		r.fault(body, "the message has no text", "write it below the front matter")
	}
	s.body = r.parse(text[body:], body)
	return s, r.sorted()
}
