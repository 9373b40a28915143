package notify

// Texts makes the words of a message.
type Texts interface {
	Render(Request) (Text, error)
}

// Request asks for the words of one message.
type Request struct {
	Kind     string // band-change, wear-start, soreness, answer, consent, test
	Variant  string // after-breakfast, d-3, 1, ...
	Language string
	Values   map[string]string
	ReplyTo  string
}

// Text is the words of one message.
type Text struct {
	Subject, Plain, HTML string
	Language             string
	Version              string
}
