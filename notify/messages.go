package notify

import "bandbell/templates"

// Messages are the clinic's texts from a catalog of message files.
type Messages struct {
	Catalog *templates.Catalog
}

// Render asks the catalog for the words of one message.
func (m Messages) Render(r Request) (Text, error) {
	msg, err := m.Catalog.Render(templates.Request{
		Kind: r.Kind, Variant: r.Variant, Lang: r.Language,
		Values: r.Values, Counts: r.Numbers, ReplyTo: r.ReplyTo, Guardian: r.Guardian, Picture: r.Picture,
	})
	if err != nil {
		return Text{}, err
	}
	return Text{Subject: msg.Subject, Plain: msg.Text, HTML: msg.HTML, Language: msg.Lang, Version: msg.Version}, nil
}
