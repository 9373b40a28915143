package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// maxDepth bounds the nesting of a JSON document.
const maxDepth = 32

// Node is one value of a JSON document with its place.
type Node struct {
	at    int // octets from the start of the document
	value any // string, json.Number, bool, nil; or []*Node, []member
}

type member struct {
	key  string
	at   int
	node *Node
}

// Document is a JSON text read so that every fault in it can be told with its
// line and column, all of them at once.
type Document struct {
	Root   *Node
	name   string
	text   []byte
	faults Faults
	places map[string]int // path -> octets from the start
}

// ReadDocument reads JSON (RFC 8259). A text that is not JSON gives Faults with
// the place where it stops being so; a key that stands twice is a fault too.
func ReadDocument(name string, text []byte) (*Document, error) {
	d := &Document{name: name, text: bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), places: map[string]int{}}
	dec := json.NewDecoder(bytes.NewReader(d.text))
	dec.UseNumber()
	if bad := notUTF8(d.text); bad >= 0 {
		d.fault(bad, "", "this is not UTF-8 text", "save the file as UTF-8 (RFC 8259 section 8.1)")
		return nil, d.Err()
	}
	root, err := d.read(dec, "", 0)
	if err == nil {
		d.Root = root
		if _, extra := dec.Token(); extra != io.EOF {
			d.fault(int(dec.InputOffset()), "", "something follows the end of the JSON value", "a file holds one JSON object")
		}
		return d, nil
	}
	if errors.Is(err, errDepth) {
		d.fault(int(dec.InputOffset()), "", err.Error(), "")
		return nil, d.Err()
	}
	at, what := len(d.text), "the JSON ends too early"
	// The decoder counts octets anew at each value; the whole text read in one
	// go knows the place.
	var syntax *json.SyntaxError
	if errors.As(json.Unmarshal(d.text, new(json.RawMessage)), &syntax) && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		at, what = int(syntax.Offset)-1, "this is not JSON: "+syntax.Error()
	}
	d.fault(at, "", what, "look for a missing comma, quote or bracket just before this place")
	return nil, d.Err()
}

// notUTF8 is where the text stops being UTF-8, or -1. The decoder would put a
// replacement character there and so lose what stood in the file.
func notUTF8(text []byte) int {
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRune(text[at:])
		if r == utf8.RuneError && size == 1 {
			return at
		}
		at += size
	}
	return -1
}

var errDepth = fmt.Errorf("nested deeper than %d levels", maxDepth)

func (d *Document) read(dec *json.Decoder, path string, depth int) (*Node, error) {
	if depth > maxDepth {
		return nil, errDepth
	}
	at := d.next(dec)
	tok, err := dec.Token()
	if err != nil {
		return nil, err
	}
	delim, ok := tok.(json.Delim)
	if !ok {
		return &Node{at: at, value: tok}, nil
	}
	if delim == '[' {
		items := []*Node{}
		for dec.More() {
			n, err := d.read(dec, fmt.Sprintf("%s[%d]", path, len(items)), depth+1)
			if err != nil {
				return nil, err
			}
			items = append(items, n)
		}
		_, err := dec.Token()
		return &Node{at: at, value: items}, err
	}
	members := []member{}
	seen := map[string]bool{}
	for dec.More() {
		keyAt := d.next(dec)
		tok, err := dec.Token()
		if err != nil {
			return nil, err
		}
		key := tok.(string) // the decoder lets nothing else be a key
		n, err := d.read(dec, join(path, key), depth+1)
		if err != nil {
			return nil, err
		}
		if seen[key] {
			d.fault(keyAt, join(path, key), standsTwice, "keep one of the two")
			continue
		}
		seen[key] = true
		members = append(members, member{key, keyAt, n})
	}
	_, err = dec.Token()
	return &Node{at: at, value: members}, err
}

// next is where the coming token starts.
func (d *Document) next(dec *json.Decoder) int {
	at := int(dec.InputOffset())
	for at < len(d.text) && strings.IndexByte(" \t\r\n,:", d.text[at]) >= 0 {
		at++
	}
	return at
}

// Fault notes something wrong at the node.
func (d *Document) Fault(n *Node, path, what, hint string) { d.fault(n.at, path, what, hint) }

func (d *Document) fault(at int, path, what, hint string) {
	at = min(max(at, 0), len(d.text))
	before := d.text[:at]
	line := bytes.Count(before, []byte("\n"))
	col := at - (bytes.LastIndexByte(before, '\n') + 1)
	d.faults = append(d.faults, Fault{d.name, line + 1, col + 1, path, what, hint})
}

// FaultAt notes faults found later in the values that were read, each at the
// place its path was read from, or at the nearest value around it.
func (d *Document) FaultAt(prefix string, found Faults) {
	for _, f := range found {
		path := prefix + f.Path
		at, ok := 0, false
		for p := path; p != "" && !ok; p = parent(p) {
			at, ok = d.places[p]
		}
		d.fault(at, path, f.What, f.Hint)
	}
}

const standsTwice = "stands twice"

// join is the path of a member of the object at path.
func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func parent(path string) string {
	i := strings.LastIndexAny(path, ".[")
	return path[:max(i, 0)]
}

// Err returns every fault noted so far, sorted by place, or nil.
func (d *Document) Err() error { return d.faults.Err() }
