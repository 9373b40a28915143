package reply

import (
	"embed"
	"fmt"
	"regexp"
	"strings"
)

//go:embed lang/*.txt
var langFiles embed.FS

// mailMarks are the compiled sections of lang/mail.txt: what mail programs
// write around, or instead of, what a person typed.
var mailMarks = mustMarks("lang/mail.txt")

// markSections are the sections that the file must hold.
var markSections = []string{
	"attribution", "attribution-run", "attribution-start", "attribution-end", "original", "forwarded", "head-from", "head-other",
	"device", "disclaimer", "auto-subject", "auto-body", "auto-person", "bounce-subject", "bounce-from", "bounce-body",
}

// marks is one list of expressions a section.
type marks map[string][]*regexp.Regexp

func mustMarks(name string) marks {
	b, err := langFiles.ReadFile(name)
	if err != nil {
		panic(err)
	}
	m, faults := parseMarks(string(b))
	if len(faults) > 0 {
		panic(name + ": " + strings.Join(faults, "; "))
	}
	return m
}

// parseMarks reads a file of sections of expressions and returns all its
// faults, each with its line.
func parseMarks(src string) (marks, []string) {
	m := marks{}
	var faults []string
	section := ""
	for i, line := range strings.Split(src, "\n") {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
			continue
		case strings.HasPrefix(line, "[") && strings.HasSuffix(line, "]"):
			section = line[1 : len(line)-1]
			continue
		}
		re, err := regexp.Compile("(?i)" + line)
		if err != nil {
			faults = append(faults, fmt.Sprintf("line %d: %v", i+1, err))
			continue
		}
		if section == "" {
			faults = append(faults, fmt.Sprintf("line %d: expression before the first [section]", i+1))
			continue
		}
		m[section] = append(m[section], re)
	}
	for _, s := range markSections {
		if len(m[s]) == 0 {
			faults = append(faults, fmt.Sprintf("section [%s] is missing or empty", s))
		}
	}
	return m, faults
}

// match tells whether any expression of a section matches s.
func (m marks) match(section, s string) bool {
	for _, re := range m[section] {
		if re.MatchString(s) {
			return true
		}
	}
	return false
}
