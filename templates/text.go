package templates

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	gtext "github.com/yuin/goldmark/text"
)

// width is the longest line of the text part in characters: under the 78 of
// RFC 5322 section 2.1.1, with room for the mark of one quotation.
const width = 76

// ReplyRule is the line above and below the choices in the text part. A
// message comes back quoted under its answer, and whoever reads the answer can
// tell the words of the message from those of the patient by it.
const ReplyRule = "======================================"

// markdown reads CommonMark; raw HTML is left out of what it writes.
var markdown = goldmark.New()

// plain writes the text part; a limit of nought leaves lines unwrapped.
func (d *drawing) plain(limit int) string {
	w := &wrapper{limit: limit}
	w.paragraph(d.greeting)
	d.plainBody(w)
	if d.pictured != "" {
		w.paragraph(d.pictured)
	}
	if len(d.choices) > 0 {
		w.paragraph(d.reply)
		w.block()
		w.line("", "", ReplyRule)
		for _, c := range d.choices {
			w.line("", "  ", c.line)
		}
		w.line("", "", ReplyRule)
	}
	w.paragraph(d.caution)
	w.block()
	for _, line := range d.ending {
		w.line("", "", line)
	}
	if d.way.line != "" {
		w.line("", "", d.way.line)
	}
	return strings.TrimRight(w.out.String(), "\n") + "\n"
}

// parsed reads the Markdown of the body, once for both parts.
func (d *drawing) parsed() ast.Node {
	if d.root == nil {
		d.source = []byte(d.body)
		d.root = markdown.Parser().Parse(gtext.NewReader(d.source))
	}
	return d.root
}

func (d *drawing) plainBody(w *wrapper) {
	root := d.parsed()
	p := &plainWriter{w: w, src: d.source, marks: d.scope.marks}
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		p.blockNode(n, "", "")
	}
}

// plainWriter turns the blocks of a Markdown document into lines.
type plainWriter struct {
	w     *wrapper
	src   []byte
	marks []string
}

// blockNode writes one block. The first line begins with first, the others
// with rest.
func (p *plainWriter) blockNode(n ast.Node, first, rest string) {
	switch n := n.(type) {
	case *ast.List:
		p.list(n, first, rest)
	case *ast.TextBlock:
		p.w.line(first, rest, p.inline(n))
	default:
		if n.Type() == ast.TypeBlock && n.FirstChild() != nil && n.FirstChild().Type() == ast.TypeBlock {
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				p.blockNode(c, first, rest)
			}
			return
		}
		p.w.block()
		p.w.line(first, rest, p.inline(n))
	}
}

func (p *plainWriter) list(l *ast.List, first, rest string) {
	p.w.block()
	number := l.Start
	for item := l.FirstChild(); item != nil; item = item.NextSibling() {
		bullet := "- "
		if l.IsOrdered() {
			bullet = strconv.Itoa(number) + ". "
			number++
		}
		indent := rest + strings.Repeat(" ", len(bullet))
		lead := first + bullet
		for c := item.FirstChild(); c != nil; c = c.NextSibling() {
			if nested, ok := c.(*ast.List); ok {
				p.nested(nested, indent)
			} else {
				p.w.line(lead, indent, p.inline(c))
			}
			lead = indent
		}
		first = rest
	}
}

// nested lists follow their item without an empty line.
func (p *plainWriter) nested(l *ast.List, indent string) {
	p.w.fresh = true
	p.list(l, indent, indent)
}

// inline returns the words of a block with the values in place. A line break
// that the source asked for stays as a newline.
func (p *plainWriter) inline(n ast.Node) string {
	var b strings.Builder
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		switch n := n.(type) {
		case *ast.Text:
			if entering {
				b.Write(unescape(n.Segment.Value(p.src)))
				if n.HardLineBreak() {
					b.WriteByte('\n')
				} else if n.SoftLineBreak() {
					b.WriteByte(' ')
				}
			}
		case *ast.String:
			if entering {
				b.Write(n.Value)
			}
		case *ast.AutoLink:
			if entering {
				b.Write(n.URL(p.src))
			}
		case *ast.Link:
			if !entering {
				b.WriteString(" (" + string(n.Destination) + ")")
			}
		case *ast.RawHTML, *ast.Image:
			return ast.WalkSkipChildren, nil
		}
		return ast.WalkContinue, nil
	})
	return fill(b.String(), p.marks, func(v string) string { return v })
}

// fill puts the values in for their marks.
func fill(s string, marks []string, escape func(string) string) string {
	var b strings.Builder
	for _, r := range s {
		if i := int(r - firstMark); isMark(r) && i < len(marks) {
			b.WriteString(escape(marks[i]))
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// wrapper writes lines, broken at blanks.
type wrapper struct {
	out   strings.Builder
	limit int
	fresh bool // nothing since the last empty line
}

// block starts a new block with an empty line before it.
func (w *wrapper) block() {
	if w.out.Len() > 0 && !w.fresh {
		w.out.WriteByte('\n')
	}
	w.fresh = true
}

func (w *wrapper) paragraph(s string) {
	if s != "" {
		w.block()
		w.line("", "", s)
	}
}

// line writes s, which may hold newlines, and wraps it. A word longer than a
// line stands on a line of its own.
func (w *wrapper) line(first, rest, s string) {
	w.fresh = false
	for _, part := range strings.Split(s, "\n") {
		w.out.WriteString(first)
		col, begun := utf8.RuneCountInString(first), false
		for _, word := range strings.FieldsFunc(part, func(r rune) bool { return r == ' ' }) {
			n := utf8.RuneCountInString(word)
			switch {
			case !begun:
			case w.limit > 0 && col+1+n > w.limit:
				w.out.WriteString("\n" + rest)
				col = utf8.RuneCountInString(rest)
			default:
				w.out.WriteByte(' ')
				col++
			}
			w.out.WriteString(word)
			col += n
			begun = true
		}
		w.out.WriteByte('\n')
		first = rest
	}
}
