package plan

import (
	"encoding/json"
	"fmt"
	"slices"
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
