package chart

// Picture is one chart in all its forms.
type Picture struct {
	SVG   string     // one <svg> element with title, desc and role=img
	Text  string     // the same for a terminal: plain lines of at most 100 columns, each ended by a newline
	Head  []string   // what stands in the columns of Rows
	Rows  [][]string // the same numbers as a table, each row as long as Head
	Title string     // what it shows, for a heading or caption; the SVG's title
	Desc  string     // what there is to see, in words; the SVG's desc
}

// Said wherever reported hours are shown.
const (
	reported = "As reported by the patient, not measured."
	ifTrue   = "The bounds hold if the answers are true and the bands stay in between two of them."
	credited = "The change is credited to the bands, though aligners and growth share it."
)

// textWidth is the widest line of a Text, in columns.
const textWidth = 100
