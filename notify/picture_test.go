package notify

import (
	"bytes"
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"

	"bandbell/scheduler/plan"
	"bandbell/templates"
)

// TestPictureGoesWithWearStart: multipart/alternative of the text and a
// multipart/related of HTML and picture (RFC 2387), which the HTML shows by its
// Content-ID (RFC 2392); for no other message, and not where it cannot be
// drawn.
func TestPictureGoesWithWearStart(t *testing.T) {
	png := bytes.Repeat([]byte{0x89, 'P', 'N', 'G', '\r', '\n', 0, '.'}, 500)
	var asked []plan.Prescription
	c := &Composer{Clinic: testClinic, Key: testKey, Texts: Messages{templates.Default()},
		Picture: func(b []plan.Prescription, _ string) ([]byte, error) { asked = b; return png, nil }}
	c.Clinic.Emergency = "911"
	j := nudge(1)
	j.Plan, j.Nudge = treated(), samples["wear-start"]
	got := mustCompose(t, c, j)
	checkLines(t, got.Bytes)
	if len(asked) != 2 {
		t.Errorf("%d bands drawn; the first day has two", len(asked))
	}
	msg, err := mail.ReadMessage(bytes.NewReader(got.Bytes))
	if err != nil {
		t.Fatal(err)
	}
	_, params, err := mime.ParseMediaType(msg.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	r := multipart.NewReader(msg.Body, params["boundary"])
	if p, err := r.NextRawPart(); err != nil || !strings.HasPrefix(p.Header.Get("Content-Type"), "text/plain") {
		t.Fatalf("first part %v", err)
	}
	p, err := r.NextRawPart()
	if err != nil {
		t.Fatal(err)
	}
	kind, params, err := mime.ParseMediaType(p.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/related" || params["type"] != "text/html" {
		t.Fatalf("second part %s %v, %v", kind, params, err)
	}
	related := multipart.NewReader(p, params["boundary"])
	html, err := related.NextRawPart()
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(quotedprintable.NewReader(html))
	if err != nil {
		t.Fatal(err)
	}
	image, err := related.NextRawPart()
	if err != nil {
		t.Fatal(err)
	}
	id := strings.Trim(image.Header.Get("Content-Id"), "<>")
	if id == "" || !bytes.Contains(page, []byte(`src="cid:`+id+`"`)) {
		t.Errorf("the page does not show %q", id)
	}
	back, err := io.ReadAll(base64.NewDecoder(base64.StdEncoding, image))
	if err != nil || !bytes.Equal(back, png) {
		t.Errorf("the picture arrived changed, %v", err)
	}
	if again := mustCompose(t, c, j); !bytes.Equal(again.Bytes, got.Bytes) {
		t.Error("the same job made two messages")
	}

	j.Nudge = samples["soreness"]
	if got := mustCompose(t, c, j); bytes.Contains(got.Bytes, []byte("image/png")) {
		t.Error("a picture went with a soreness message")
	}
	j.Nudge = samples["wear-start"]
	for name, draw := range map[string]func([]plan.Prescription, string) ([]byte, error){
		"cannot be drawn": func([]plan.Prescription, string) ([]byte, error) { return nil, errors.New("no hooks") },
		"too large":       func([]plan.Prescription, string) ([]byte, error) { return make([]byte, maxPicture+1), nil },
	} {
		c.Picture = draw
		if got := mustCompose(t, c, j); bytes.Contains(got.Bytes, []byte("multipart/related")) {
			t.Errorf("%s: sent all the same", name)
		}
	}
}
