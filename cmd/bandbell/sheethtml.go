package main

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"bandbell/cmd/bandbell/chart"
)

//go:embed sheet.html
var sheetPage string

// sheetTemplate escapes by place whatever it is given; only the pictures, whose
// words the chart has escaped already, go in as they are.
var sheetTemplate = template.Must(template.New("sheet").Parse(sheetPage))

// html writes the sheet as one page that needs nothing from outside.
func (s *sheet) html(w io.Writer) error {
	why := s.Why
	if more := len(why) - whyShown; more > 0 {
		why = append(why[:whyShown:whyShown], fmt.Sprintf("and %d more", more))
	}
	v := map[string]any{"S": s, "Why": why, "Days": s.days, "Raster": picture(s.raster), "Run": picture(s.run), "Bite": s.Forecast, "Fan": nil}
	if s.fan != nil {
		v["Fan"] = fanView{picture(*s.fan), s.fan.Title, s.fan.Head[:fanColumns], s.fanRows()}
		v["Bite"] = []string{s.Forecast[len(s.Forecast)-lagLines]} // the picture and its table say the rest
	}
	err := sheetTemplate.Execute(w, v)
	if err != nil {
		return fmt.Errorf("write the sheet as HTML: %w", err)
	}
	return nil
}

func picture(p chart.Picture) template.HTML { return template.HTML(p.SVG) }

// whyShown is how many reasons stand on the paper; the text has them all.
const whyShown = 4

// fanView is the forecast with its numbers as a table.
type fanView struct {
	SVG   template.HTML
	Title string
	Head  []string
	Rows  [][]string
}

// fanColumns are the columns of the forecast's table that hold days: what, and
// the three points.
const fanColumns = 4

// fanRows are the rows of the forecast's table that hold a day; what the others
// say stands in words.
func (s *sheet) fanRows() [][]string {
	var out [][]string
	for _, row := range s.fan.Rows {
		if row[2] != "" {
			out = append(out, row[:fanColumns])
		}
	}
	return out
}
