package main

import (
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// field is one key of the configuration: its dotted name, the value it takes
// when absent, and what reads it.
type field struct {
	key     string
	missing any // required, or a value as TOML would give it
	set     func(value any) error
}

type mark struct{}

// required marks a key that has no default.
var required mark

// hinted is an error with a hint.
type hinted struct{ what, hint string }

func (h hinted) Error() string { return h.what }

// decodeConfig reads TOML into c and returns every fault at once.
func decodeConfig(c *Config, file string, src []byte) error {
	var faults plan.Faults
	values := map[string]any{}
	if err := toml.Unmarshal(src, &values); err != nil {
		f := plan.Fault{File: file, What: strings.TrimPrefix(err.Error(), "toml: ")}
		var syntax *toml.DecodeError
		if errors.As(err, &syntax) {
			f.Line, f.Col = syntax.Position()
			f.Hint = "text stands in quotes; each [table] and key stands once"
		}
		return plan.Faults{f}
	}
	places := keyPlaces(src)
	fault := func(key, what, hint string) {
		f := plan.Fault{File: file, Path: key, What: what, Hint: hint}
		if p, ok := places[key]; ok {
			f.Line, f.Col = p[0], p[1]
		} else if table, _, ok := strings.Cut(key, "."); ok {
			f.Line, f.Col = places[table][0], places[table][1]
		}
		faults = append(faults, f)
	}
	known := map[string]bool{}
	var names []string
	for _, f := range fields(c) {
		known[f.key] = true
		names = append(names, f.key)
		value, given := lookup(values, f.key)
		if !given {
			if f.missing == required {
				fault(f.key, "is missing", "config.example.toml explains every key")
				continue
			}
			value = f.missing
		}
		if err := f.set(value); err != nil {
			var h hinted
			errors.As(err, &h)
			fault(f.key, err.Error(), h.hint)
		}
	}
	for _, key := range flatten(values, "") {
		if !known[key] {
			hint := "config.example.toml lists every key"
			if near := closestKey(key, names); near != "" {
				hint = fmt.Sprintf("did you mean %s?", near)
			}
			fault(key, "no such key", hint)
		}
	}
	if len(faults) == 0 {
		c.checkTogether(fault)
	}
	return faults.Err()
}

// closestKey finds the key that was most likely meant: the same name in another
// table, or one that differs in a few letters.
func closestKey(key string, names []string) string {
	_, last, _ := strings.Cut(key, ".")
	for _, n := range names {
		if _, l, _ := strings.Cut(n, "."); l == last {
			return n
		}
	}
	return plan.Closest(key, names)
}

func lookup(values map[string]any, key string) (any, bool) {
	table, name, _ := strings.Cut(key, ".")
	t, ok := values[table].(map[string]any)
	if !ok {
		return nil, false
	}
	v, ok := t[name]
	return v, ok
}

// flatten lists the dotted names of all values.
func flatten(values map[string]any, prefix string) []string {
	var out []string
	for k, v := range values {
		if t, ok := v.(map[string]any); ok && prefix == "" {
			out = append(out, flatten(t, k+".")...)
			continue
		}
		out = append(out, prefix+k)
	}
	slices.Sort(out)
	return out
}

// keyPlaces finds line and column of every table and key.
func keyPlaces(src []byte) map[string][2]int {
	places := map[string][2]int{}
	var p unstable.Parser
	p.Reset(src)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		var parts []string
		var at [2]int
		for it := e.Key(); it.Next(); {
			n := it.Node()
			if len(parts) == 0 {
				pos := p.Shape(n.Raw).Start
				at = [2]int{pos.Line, pos.Column}
			}
			parts = append(parts, string(n.Data))
		}
		name := strings.Join(parts, ".")
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = name
			places[name] = at
		case unstable.KeyValue:
			if table != "" {
				name = table + "." + name
			}
			places[name] = at
		}
	}
	return places
}

func asText(v any) (string, error) {
	s, ok := v.(string)
	switch {
	case !ok:
		return "", hinted{"must be text", "put it in quotes"}
	case strings.ContainsAny(s, "\r\n\x00"):
		return "", hinted{"holds a line break", "write it on one line"}
	}
	return s, nil
}

func text(to *string) func(any) error {
	return func(v any) (err error) {
		*to, err = asText(v)
		*to = strings.TrimSpace(*to)
		return err
	}
}

func oneOf(to *string, words ...string) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err == nil && !slices.Contains(words, s) {
			err = hinted{fmt.Sprintf("%q is not known here", s), "one of " + strings.Join(words, ", ")}
		}
		*to = s
		return err
	}
}

// path reads a file name; a relative one is relative to the configuration.
func path(c *Config, to *string) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err == nil && s != "" && !filepath.IsAbs(s) {
			s = filepath.Join(filepath.Dir(c.file), s)
		}
		*to = s
		return err
	}
}

func number(to *int, low, high int) func(any) error {
	return func(v any) error {
		n, ok := v.(int64)
		if !ok {
			return hinted{"must be a whole number", "write it without quotes"}
		}
		if n < int64(low) || n > int64(high) {
			return hinted{fmt.Sprintf("%d is out of range", n), fmt.Sprintf("%d to %d", low, high)}
		}
		*to = int(n)
		return nil
	}
}

func duration(to *time.Duration, low, high time.Duration) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err != nil {
			return err
		}
		d, err := time.ParseDuration(s)
		if err != nil {
			return hinted{fmt.Sprintf("%q is not a length of time", s), `write "90s" or "10m"`}
		}
		if d < low || d > high {
			return hinted{s + " is out of range", fmt.Sprintf("%v to %v", low, high)}
		}
		*to = d
		return nil
	}
}

func clock(to *plan.Clock) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err == nil {
			*to, err = plan.ParseClock(s)
		}
		return err
	}
}

func zone(name *string, to **time.Location) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err != nil {
			return err
		}
		loc, err := time.LoadLocation(s)
		if err != nil || s == "" || s == "Local" {
			return hinted{fmt.Sprintf("%q is no time zone", s), "use an IANA name, such as America/New_York"}
		}
		*name, *to = s, loc
		return nil
	}
}

func address(to *plan.Address, maxLocal int) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err != nil {
			return err
		}
		a, err := plan.ParseAddress(s)
		if err == nil && len(a.Local()) > maxLocal {
			err = hinted{"the part before @ is too long", fmt.Sprintf("at most %d characters, since a token is added to it", maxLocal)}
		}
		*to = a
		return err
	}
}

func listenAddress(to *string) func(any) error {
	return func(v any) error {
		s, err := asText(v)
		if err != nil || s == "" {
			*to = s
			return err
		}
		_, port, err := net.SplitHostPort(s)
		if n, bad := strconv.Atoi(port); err != nil || bad != nil || n < 0 || n > 65535 {
			return hinted{fmt.Sprintf("%q is not an address to listen on", s), `write "127.0.0.1:2526", or "" to take in no mail by SMTP`}
		}
		*to = s
		return nil
	}
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
