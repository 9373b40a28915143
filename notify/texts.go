package notify

// Texts makes the words of a message.
type Texts interface {
	Render(Request) (Text, error)
}

// Request asks for the words of one message.
type Request struct {
	Kind     string            // band-change, wear-start, soreness, consent, stopped, emergency, answer, test
	Variant  string            // PCM, d-3, 1, r1, red, ...; empty for a kind without variants
	Language string            // BCP 47 tag
	Guardian bool              // the reader is the patient's parent or guardian
	Values   map[string]string // by placeholder; one that is not known is absent
	Numbers  map[string]int    // by placeholder, for what may be counted
	ReplyTo  string            // the address answers go to
	Token    string            // of this message, as it stands in ReplyTo
	Picture  string            // Content-ID of the picture that goes with it; empty: none
}

// Text is the words of one message.
type Text struct {
	Subject  string
	Plain    string // complete on its own
	HTML     string // the same; empty: plain only
	Language string // of the text, which may differ from the one asked for
	Version  string // of the text
}
