package notify

import (
	"crypto/sha256"
	"encoding/hex"

	"github.com/emersion/go-message"

	"bandbell/notify/hookup"
	"bandbell/scheduler/plan"
)

// HookUp draws the bands a patient is to hook as a PNG, teeth numbered as the
// clinic likes them. It is what a Composer's Picture is set to.
func HookUp(n plan.Notation) func(bands []plan.Prescription, lang string) ([]byte, error) {
	return func(bands []plan.Prescription, lang string) ([]byte, error) {
		p, err := hookup.Draw(bands, hookup.Options{Lang: lang, Notation: n})
		if err != nil {
			return nil, err
		}
		return p.PNG()
	}
}

// maxPicture is the most a picture may weigh, in octets; a larger one is left
// out. Phones fetch mail over poor lines. Common practice, no source.
const maxPicture = 64 << 10

// picture is a PNG that goes with a message.
type picture struct {
	id  string // Content-ID without brackets; empty: none
	png []byte
}

// picture draws the bands a wear-start message speaks of.
func (c *Composer) picture(job plan.Job, id identity) picture {
	if c.Picture == nil || job.Cause != plan.CauseNudge || job.Nudge.Kind != plan.WearStart {
		return picture{}
	}
	bands := job.Plan.BandsOn(aboutDay(job.Nudge, job.Plan))
	if len(bands) == 0 {
		return picture{}
	}
	png, err := c.Picture(bands, languageOf(job))
	if err != nil || len(png) == 0 || len(png) > maxPicture {
		return picture{}
	}
	sum := sha256.Sum256([]byte("picture " + id.messageID))
	return picture{"bands." + hex.EncodeToString(sum[:8]) + "@" + c.Clinic.From.Domain(), png}
}

// writeRelated writes the HTML and the picture it shows (RFC 2387; RFC 2392
// for the cid link).
func writeRelated(w *message.Writer, messageID, html string, pic picture) error {
	var h message.Header
	h.SetContentType("multipart/related", map[string]string{"boundary": boundary("related", messageID), "type": "text/html"})
	related, err := w.CreatePart(h)
	if err != nil {
		return err
	}
	if err := writeText(related, "text/html", html); err != nil {
		return err
	}
	var image message.Header
	image.SetContentType("image/png", nil)
	image.Set("Content-Transfer-Encoding", "base64")
	image.SetContentDisposition("inline", map[string]string{"filename": "bands.png"})
	image.AddRaw([]byte("Content-ID: <" + pic.id + ">\r\n"))
	if err := writePart(related, image, pic.png); err != nil {
		return err
	}
	return related.Close()
}
