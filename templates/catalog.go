package templates

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"sort"
	"strings"
	"sync"
)

//go:embed messages
var embedded embed.FS

// fallback is the language of whoever asks for one that is not there.
const fallback = "en"

const partsFile = "parts.md"

// Catalog holds messages that passed the lint. It is never changed once made
// and safe for concurrent use.
type Catalog struct {
	messages map[Entry]*source
	parts    map[string]*parts
	edited   map[Entry]bool
}

var builtIn = sync.OnceValues(func() (*Catalog, error) {
	root, err := fs.Sub(embedded, "messages")
	if err != nil {
		return nil, err
	}
	return load(root, nil)
})

// Default returns the built-in messages, in English and Spanish.
func Default() *Catalog {
	c, err := builtIn()
	if err != nil {
		// The files are part of the program, and a test holds that they load.
		panic("templates: built-in messages: " + err.Error())
	}
	return c
}

// Load lays the message files of a directory over the built-in ones: LANG at
// the top, message files in it. A language that is not built in has to be
// whole. The error is Faults, every fault of every file at once, and then there
// is no catalog; or the error of reading the directory. A nil directory gives
// the built-in messages.
func Load(overrides fs.FS) (*Catalog, error) {
	if overrides == nil {
		return Default(), nil
	}
	return load(overrides, Default())
}

func load(dir fs.FS, base *Catalog) (*Catalog, error) {
	c := &Catalog{messages: map[Entry]*source{}, parts: map[string]*parts{}, edited: map[Entry]bool{}}
	if base != nil {
		for e, s := range base.messages {
			c.messages[e] = s
		}
		for l, p := range base.parts {
			c.parts[l] = p
		}
	}
	files, err := list(dir)
	if err != nil {
		return nil, fmt.Errorf("read messages: %w", err)
	}
	var faults Faults
	broken := map[string]bool{} // files with faults
	add := func(file string, fs ...Fault) {
		if len(fs) > 0 {
			faults = append(faults, fs...)
			broken[file] = true
		}
	}
	langs := map[string]bool{}
	for _, file := range files {
		lang, name, nested := strings.Cut(file, "/")
		switch {
		case !nested || strings.Contains(name, "/") || path.Ext(name) != ".md":
			add(file, Fault{File: file, What: "this is not a message file", Hint: "files are named LANG/KIND.VARIANT.md, as en/band-change.PCD.md"})
			continue
		case !isLang(lang):
			add(file, Fault{File: file, What: fmt.Sprintf("%q is not a language", lang), Hint: "name the directory with a language code, as en or pt-br"})
			continue
		}
		langs[lang] = true
		text, err := read(dir, file)
		if err != nil {
			return nil, fmt.Errorf("read messages: %w", err)
		}
		if name == partsFile {
			if base != nil && base.parts[lang] != nil {
				add(file, Fault{File: file, What: "the parts of language " + lang + " are built in and cannot be replaced", Hint: "take the file out; the caution and the way to stop stand as they are"})
				continue
			}
			p, fs := readParts(file, lang, text)
			add(file, fs...)
			c.parts[lang] = p
			continue
		}
		e, what, hint := entryOf(lang, name)
		if what != "" {
			add(file, Fault{File: file, What: what, Hint: hint})
			continue
		}
		s, fs := readMessage(file, lang, text)
		add(file, fs...)
		c.messages[e] = s
		c.edited[e] = base != nil
	}
	for lang := range langs {
		if c.parts[lang] == nil {
			add(lang, Fault{File: lang + "/" + partsFile, What: "language " + lang + " has no parts: no greeting, no caution, no way to stop", Hint: "copy those of a built-in language and translate them"})
			broken[lang+"/"+partsFile] = true
		}
		for _, e := range Entries(lang) {
			if c.messages[e] == nil {
				add(e.Path(), Fault{File: e.Path(), What: "language " + lang + " lacks this message", Hint: "add the file, or patients of this language would read it in English"})
			}
		}
	}
	// What a rendered message looks like can be judged only where its parts are
	// sound.
	for _, file := range files {
		lang, name, _ := strings.Cut(file, "/")
		if name == partsFile || broken[file] || broken[lang+"/"+partsFile] || c.parts[lang] == nil {
			continue
		}
		if e, what, _ := entryOf(lang, name); what == "" {
			k, _ := findKind(e.Kind)
			faults = append(faults, lint(k, e, c.messages[e], c.parts[lang])...)
		}
	}
	if len(faults) > 0 {
		sort.SliceStable(faults, func(i, j int) bool { return faults[i].File < faults[j].File })
		return nil, faults
	}
	return c, nil
}

// list returns every file of a directory, sorted.
func list(dir fs.FS) ([]string, error) {
	var files []string
	err := fs.WalkDir(dir, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !d.IsDir() {
			files = append(files, p)
		}
		return nil
	})
	slices.Sort(files)
	return files, err
}

// read reads a file, but never more than one byte past what is allowed.
func read(dir fs.FS, file string) (string, error) {
	f, err := dir.Open(file)
	if err != nil {
		return "", err
	}
	b, err := io.ReadAll(io.LimitReader(f, maxSource+1))
	return string(b), errors.Join(err, f.Close())
}

func isLang(s string) bool {
	parts := strings.Split(s, "-")
	for i, p := range parts {
		if p == "" || len(p) > 8 || i == 0 && (len(p) < 2 || len(p) > 3) {
			return false
		}
		for _, r := range p {
			if (r < 'a' || r > 'z') && (i == 0 || r < '0' || r > '9') {
				return false
			}
		}
	}
	return true
}

// Language returns the language a message would be written in for a tag: the
// tag itself, else its base language, else en.
func (c *Catalog) Language(tag string) string {
	for _, l := range []string{strings.ToLower(strings.ReplaceAll(tag, "_", "-")), baseLang(tag)} {
		if c.parts[l] != nil {
			return l
		}
	}
	return fallback
}

// Languages returns every language there is, sorted.
func (c *Catalog) Languages() []string {
	var all []string
	for l := range c.parts {
		all = append(all, l)
	}
	slices.Sort(all)
	return all
}

// List returns every message, by language and then in the order of the kinds.
func (c *Catalog) List() []Entry {
	var all []Entry
	for _, l := range c.Languages() {
		all = append(all, Entries(l)...)
	}
	return all
}

// Source returns the file of a message as an editor would show it, and whether
// it was edited; ok is false when there is no such message.
func (c *Catalog) Source(e Entry) (text string, edited, ok bool) {
	s := c.messages[e]
	if s == nil {
		return "", false, false
	}
	return s.text, c.edited[e], true
}
