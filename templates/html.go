package templates

import (
	"bytes"
	"html"
	"strings"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/util"
)

// Styles stand on the elements themselves, for many readers drop style sheets.
// Colours are given only where both are: text takes the reader's own in light
// and dark. White on #0b5394 has a contrast of 7.9:1, over the 4.5:1 of WCAG
// 2.2 criterion 1.4.3; a button is over 44 px high, more than the 24 of 2.5.8.
const (
	styleBody      = "margin:0;padding:0"
	stylePreheader = "display:none;max-height:0;overflow:hidden"
	styleTable     = "width:100%;max-width:560px"
	styleCell      = "padding:16px;font-family:Arial,Helvetica,sans-serif;font-size:16px;line-height:1.5"
	styleP         = "margin:0 0 16px"
	styleList      = "margin:0 0 16px;padding:0 0 0 24px"
	styleHeading   = "margin:0 0 8px;font-size:18px;line-height:1.3"
	styleLink      = "text-decoration:underline"
	styleChoice    = "padding:0 0 8px"
	styleButton    = "display:inline-block;padding:10px 16px;border-radius:6px;background:#0b5394;color:#ffffff;font-size:16px;line-height:24px;text-decoration:none"
	styleCaution   = "margin:0 0 16px;padding:8px 12px;border:2px solid #8a6d00"
	styleImage     = "display:block;width:100%;max-width:528px;height:auto"
)

var styles = map[ast.NodeKind]string{
	ast.KindParagraph: styleP,
	ast.KindList:      styleList,
	ast.KindHeading:   styleHeading,
	ast.KindLink:      styleLink,
	ast.KindAutoLink:  styleLink,
}

// html writes the HTML part.
func (d *drawing) html() string {
	var b strings.Builder
	esc := html.EscapeString
	p := func(style, s string) {
		if s != "" {
			b.WriteString(`<p style="` + style + `">` + esc(s) + "</p>\n")
		}
	}
	b.WriteString(`<!DOCTYPE html>
<html lang="` + esc(d.lang) + `" dir="` + direction(d.lang) + `">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>` + esc(d.subject) + `</title>
</head>
<body style="` + styleBody + `">
<div style="` + stylePreheader + `">` + esc(d.preheader) + `</div>
<table role="presentation" cellpadding="0" cellspacing="0" border="0" align="center" style="` + styleTable + `">
<tr><td style="` + styleCell + `">
`)
	p(styleP, d.greeting)
	b.WriteString(d.htmlBody())
	if d.picture != "" {
		p(styleP, d.pictured)
		b.WriteString(`<p style="` + styleP + `"><img src="cid:` + esc(d.picture) + `" alt="` + esc(d.alt) + `" style="` + styleImage + `"></p>` + "\n")
	}
	if len(d.choices) > 0 {
		p(styleP, d.reply)
		b.WriteString(`<table role="presentation" cellpadding="0" cellspacing="0" border="0" style="margin:0 0 8px">` + "\n")
		for _, c := range d.choices {
			b.WriteString(`<tr><td style="` + styleChoice + `"><a href="` + esc(c.href) + `" style="` + styleButton + `">` +
				esc(c.word+": "+c.meaning) + "</a></td></tr>\n")
		}
		b.WriteString("</table>\n")
	}
	p(styleCaution, d.caution)
	for _, line := range d.ending {
		p(styleP, line)
	}
	if d.way.line != "" {
		// The word itself is the link, so that the sentence reads the same.
		before, after, _ := strings.Cut(d.way.line, d.way.word)
		b.WriteString(`<p style="` + styleP + `">` + esc(before) + `<a href="` + esc(d.way.href) + `">` + d.way.word + "</a>" + esc(after) + "</p>\n")
	}
	b.WriteString("</td></tr>\n</table>\n</body>\n</html>\n")
	return b.String()
}

func (d *drawing) htmlBody() string {
	root := d.parsed()
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if style, ok := styles[n.Kind()]; ok && entering {
			n.SetAttributeString("style", []byte(style))
		}
		return ast.WalkContinue, nil
	})
	var b bytes.Buffer
	if err := markdown.Renderer().Render(&b, d.source, root); err != nil {
		// Render fails only when its writer does, and a buffer does not.
		panic("templates: write to a buffer: " + err.Error())
	}
	// Marks are plain characters to the renderer; the values are escaped here
	// and so can never be read as Markdown or as HTML.
	return fill(b.String(), d.scope.marks, html.EscapeString)
}

// unescape resolves backslashes and character references as the HTML side of
// the library does, so that both parts say the same.
func unescape(b []byte) []byte {
	return util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations(b)))
}
