package plan

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Object reads the members of one JSON object, noting every fault in its
// document and never stopping at the first. A member that is absent or null
// takes its default; one that must be there is asked for with Need.
type Object struct {
	doc     *Document
	node    *Node
	path    string
	broken  bool // the node is no object, which was noted; nothing is missing in it
	members []member
	known   map[string]bool
}

// Object opens a node as an object. For another kind of value it notes a fault
// and gives an object in which nothing is present.
func (d *Document) Object(n *Node, path string) *Object {
	o := &Object{doc: d, node: n, path: path, known: map[string]bool{}}
	d.places[path] = n.at
	members, ok := n.value.([]member)
	if !ok {
		d.Fault(n, path, "must be an object, not "+n.kind(), "write { ... }")
	}
	o.members, o.broken = members, !ok
	return o
}

func (n *Node) kind() string {
	switch n.value.(type) {
	case string:
		return "a string"
	case json.Number:
		return "a number"
	case bool:
		return "true or false"
	case nil:
		return "null"
	case []*Node:
		return "a list"
	}
	return "an object"
}

// Path is where the member stands in the document.
func (o *Object) Path(key string) string { return join(o.path, key) }

// Get returns the member, or nil where it is absent or null.
func (o *Object) Get(key string) *Node {
	o.known[key] = true
	for _, m := range o.members {
		if m.key == key {
			o.doc.places[o.Path(key)] = m.node.at
			if m.node.value == nil {
				return nil
			}
			return m.node
		}
	}
	return nil
}

// Need notes a fault for each named member that is absent or null.
func (o *Object) Need(keys ...string) {
	for _, key := range keys {
		if o.Get(key) == nil && !o.broken {
			o.doc.Fault(o.node, o.Path(key), "is missing", "")
		}
	}
}

// Forbid notes a fault for each named member that is present.
func (o *Object) Forbid(what, hint string, keys ...string) {
	for _, key := range keys {
		if n := o.Get(key); n != nil {
			o.doc.Fault(n, o.Path(key), what, hint)
		}
	}
}

const noSuchKey = "no such key"

// Done notes a fault for each member that was never asked for.
func (o *Object) Done() {
	var known []string
	for k := range o.known {
		known = append(known, k)
	}
	slices.Sort(known) // of two words equally near, always the same
	for _, m := range o.members {
		if o.known[m.key] {
			continue
		}
		hint := "remove it"
		if near := Closest(m.key, known); near != "" {
			hint = fmt.Sprintf("did you mean %q?", near)
		}
		o.doc.fault(m.at, o.Path(m.key), noSuchKey, hint)
	}
}

func (o *Object) wrong(key string, n *Node, what, hint string) {
	o.doc.Fault(n, o.Path(key), what, hint)
}

// String returns a string member, or "".
func (o *Object) String(key string) string {
	s, _ := o.text(key)
	return s
}

// text returns a string member, and false where it is absent or, which is then
// noted, no string.
func (o *Object) text(key string) (string, bool) {
	n := o.Get(key)
	if n == nil {
		return "", false
	}
	s, ok := n.value.(string)
	if !ok {
		o.wrong(key, n, "must be a string, not "+n.kind(), "")
	}
	return s, ok
}

// Word returns a string member that must be one of the words, or the default.
func (o *Object) Word(key, missing string, words ...string) string {
	s, ok := o.text(key)
	if !ok {
		return missing
	}
	for _, w := range words {
		if s == w {
			return s
		}
	}
	hint := "one of " + strings.Join(words, ", ")
	if near := Closest(s, words); near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	o.wrong(key, o.Get(key), strconv.Quote(s)+" is not known here", hint)
	return missing
}

// Bool returns a true-or-false member, or false.
func (o *Object) Bool(key string) bool {
	n := o.Get(key)
	if n == nil {
		return false
	}
	b, ok := n.value.(bool)
	if !ok {
		o.wrong(key, n, "must be true or false, not "+n.kind(), "")
	}
	return b
}

// Number returns a number from low to high, or the default.
func (o *Object) Number(key string, missing, low, high float64) float64 {
	n := o.Get(key)
	if n == nil {
		return missing
	}
	num, ok := n.value.(json.Number)
	if !ok {
		o.wrong(key, n, "must be a number, not "+n.kind(), "")
		return missing
	}
	v, err := num.Float64()
	if err != nil || v < low || v > high || math.IsNaN(v) {
		o.wrong(key, n, fmt.Sprintf("%s is out of range", num), limits(low, high))
		return missing
	}
	return v
}

// smallest as a lower bound says "over 0".
const smallest = math.SmallestNonzeroFloat64

func limits(low, high float64) string {
	if low == smallest {
		return "over 0, at most " + trim(high)
	}
	return trim(low) + " to " + trim(high)
}

// Int returns a whole number from low to high, or the default.
func (o *Object) Int(key string, missing, low, high int) int {
	v := o.Number(key, float64(missing), float64(low), float64(high))
	if v != math.Trunc(v) {
		o.wrong(key, o.Get(key), "must be a whole number", "")
		return missing
	}
	return int(v)
}

// Date returns a date member, or the zero Date.
func (o *Object) Date(key string) Date {
	s, ok := o.text(key)
	if !ok {
		return Date{}
	}
	d, err := ParseDate(s)
	if err != nil {
		o.wrong(key, o.Get(key), err.Error(), "")
	}
	return d
}

// Clock returns a time of day, or the default.
func (o *Object) Clock(key string, missing Clock) Clock {
	s, ok := o.text(key)
	if !ok {
		return missing
	}
	c, err := ParseClock(s)
	if err != nil {
		o.wrong(key, o.Get(key), err.Error(), "")
		return missing
	}
	return c
}

// Time returns an instant written as RFC 3339, or the zero time.
func (o *Object) Time(key string) time.Time {
	s, ok := o.text(key)
	if !ok {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		o.wrong(key, o.Get(key), fmt.Sprintf("%q is not an instant", s), "write it as RFC 3339: 2026-06-01T08:00:00-04:00")
	}
	return t
}

// Child returns an object member, or nil where it is absent.
func (o *Object) Child(key string) *Object {
	if n := o.Get(key); n != nil {
		return o.doc.Object(n, o.Path(key))
	}
	return nil
}

// List returns the nodes of a list member; none where it is absent.
func (o *Object) List(key string) []*Node {
	n := o.Get(key)
	if n == nil {
		return nil
	}
	items, ok := n.value.([]*Node)
	if !ok {
		o.wrong(key, n, "must be a list, not "+n.kind(), "write [ ... ]")
	}
	for i, item := range items {
		o.doc.places[o.at(key, i)] = item.at
	}
	return items
}

func (o *Object) at(key string, i int) string { return fmt.Sprintf("%s[%d]", o.Path(key), i) }

// Each calls f for every object of a list member and notes unknown keys in
// each.
func (o *Object) Each(key string, f func(*Object)) {
	for i, n := range o.List(key) {
		e := o.doc.Object(n, o.at(key, i))
		f(e)
		e.Done()
	}
}

// Dates returns a list of dates.
func (o *Object) Dates(key string) []Date {
	var out []Date
	for i, n := range o.List(key) {
		s, ok := n.value.(string)
		if !ok {
			o.doc.Fault(n, o.at(key, i), "must be a string, not "+n.kind(), "write it as YYYY-MM-DD")
			continue
		}
		d, err := ParseDate(s)
		if err != nil {
			o.doc.Fault(n, o.at(key, i), err.Error(), "")
			continue
		}
		out = append(out, d)
	}
	return out
}
