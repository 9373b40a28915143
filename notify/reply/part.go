package reply

import (
	"encoding/json"
	"mime"
	"regexp"
	"strings"
)

// body is what the parts of a message hold, as far as this package cares: the
// texts, the machine-readable reports, and whether something else came along.
type body struct {
	plain, html []string
	// statuses and returned are the delivery-status blocks (RFC 3464) and the
	// headers of a returned message.
	statuses []string
	returned header
	// reaction is the emoji of a mail program's one-tap reaction.
	reaction string
	// reportType is delivery-status, disposition-notification or
	// feedback-report, from multipart/report or from the parts themselves.
	reportType string
	// pictures counts images, sound and film that belong to no quotation;
	// cids are the Content-IDs of the others, judged when the HTML is known.
	pictures int
	cids     []string
	// sealed is true of an encrypted part, other counts parts never opened.
	sealed bool
	other  int
	// forwarded counts whole messages attached.
	forwarded int
	damaged   bool
	parts     int
}

// walk takes one part with its header and adds what it holds. It never looks
// deeper than maxDepth or at more than maxParts.
func (bd *body) walk(h header, b []byte, depth int) {
	bd.parts++
	if depth > maxDepth || bd.parts > maxParts {
		bd.damaged = true
		return
	}
	kind, params := contentType(h)
	disposition := strings.ToLower(strings.TrimSpace(h.get("content-disposition")))
	attached := strings.HasPrefix(disposition, "attachment")
	switch {
	case strings.HasPrefix(kind, "multipart/"):
		bd.multipart(kind, params, b, depth)
	case kind == "message/delivery-status" || kind == "message/global-delivery-status":
		bd.reportType = "delivery-status"
		dec, _ := decodeTransfer(b, h.get("content-transfer-encoding"))
		bd.statuses = append(bd.statuses, toUTF8(dec, "utf-8"))
	case kind == "message/disposition-notification":
		bd.reportType = "disposition-notification"
	case kind == "message/feedback-report":
		bd.reportType = "feedback-report"
	case kind == "message/rfc822", kind == "message/global", kind == "text/rfc822-headers", kind == "message/rfc822-headers":
		bd.forwarded++
		dec, _ := decodeTransfer(b, h.get("content-transfer-encoding"))
		if rh, _, _ := splitHeader(dec, false); bd.returned == nil {
			bd.returned = rh
		}
	case kind == "text/vnd.google.email-reaction+json":
		dec, _ := decodeTransfer(b, h.get("content-transfer-encoding"))
		var r struct {
			Emoji string `json:"emoji"`
		}
		if json.Unmarshal(dec, &r) == nil {
			bd.reaction = cleanRunes(r.Emoji)
		}
	case (kind == "text/plain" || kind == "text/html" || kind == "text/enriched") && !attached:
		bd.text(kind, params, h, b)
	case strings.HasPrefix(kind, "image/"), strings.HasPrefix(kind, "video/"), strings.HasPrefix(kind, "audio/"):
		if id := strings.Trim(h.get("content-id"), "<> "); id != "" && !attached {
			bd.cids = append(bd.cids, id)
		} else {
			bd.pictures++
		}
	case strings.HasPrefix(kind, "application/pkcs7-mime"), strings.HasPrefix(kind, "application/x-pkcs7-mime"), kind == "application/pgp-encrypted":
		bd.sealed = true
	case strings.HasSuffix(kind, "pkcs7-signature"), kind == "application/pgp-signature":
	default:
		if name := strings.ToLower(params["name"] + h.get("content-disposition")); imageName.MatchString(name) {
			bd.pictures++
		}
		bd.other++
	}
}

var imageName = regexp.MustCompile(`\.(jpe?g|png|gif|heic|heif|webp|mp4|mov|m4a)\b`)

func (bd *body) text(kind string, params map[string]string, h header, b []byte) {
	dec, ok := decodeTransfer(b, h.get("content-transfer-encoding"))
	if !ok {
		bd.damaged = true
	}
	s, known := decodeCharset(dec, params["charset"])
	if !known {
		bd.damaged = true
	}
	if strings.Count(s, "\uFFFD")*10 > len(s) && len(s) > 0 {
		bd.damaged = true
	}
	s = normalLines(s)
	switch {
	case kind == "text/html" || kind == "text/plain" && looksHTML(s):
		bd.html = append(bd.html, s)
	case kind == "text/enriched":
		bd.html = append(bd.html, s)
	default:
		if params["format"] == "flowed" {
			s = unflow(s, params["delsp"] == "yes")
		}
		bd.plain = append(bd.plain, s)
	}
}

// looksHTML catches HTML under a text/plain label.
func looksHTML(s string) bool {
	t := strings.ToLower(strings.TrimSpace(s))
	if len(t) > 200 {
		t = t[:200]
	}
	return strings.HasPrefix(t, "<html") || strings.HasPrefix(t, "<!doctype html") || strings.HasPrefix(t, "<div") || strings.HasPrefix(t, "<body")
}

func (bd *body) multipart(kind string, params map[string]string, b []byte, depth int) {
	if kind == "multipart/report" && params["report-type"] != "" {
		bd.reportType = strings.ToLower(params["report-type"])
	}
	if kind == "multipart/encrypted" {
		bd.sealed = true
		return
	}
	chunks := splitParts(b, params["boundary"])
	if chunks == nil {
		// No boundary to be found: read it as the text it holds.
		bd.text("text/plain", nil, nil, b)
		return
	}
	for _, c := range chunks {
		if bd.parts >= maxParts {
			bd.damaged = true
			return
		}
		h, rest, cut := splitHeader(c, false)
		bd.damaged = bd.damaged || cut
		if h == nil && kind == "multipart/digest" {
			h = header{{"content-type", "message/rfc822"}}
		}
		bd.walk(h, rest, depth+1)
	}
}

var typeWord = regexp.MustCompile(`^[a-z]+/[a-z0-9.+_-]+`)
var looseParam = regexp.MustCompile(`(?i)(charset|boundary|format|delsp|report-type|name)\s*=\s*("[^"]*"|[^;\s"]+)`)

// contentType reads the field and, where it is malformed, picks the type and
// the parameters that matter out of it.
func contentType(h header) (string, map[string]string) {
	v := h.get("content-type")
	if v == "" {
		return "text/plain", map[string]string{}
	}
	kind, params, err := mime.ParseMediaType(v)
	if err == nil && strings.Contains(kind, "/") {
		for _, k := range []string{"format", "delsp"} {
			params[k] = strings.ToLower(params[k])
		}
		return kind, params
	}
	params = map[string]string{}
	for _, m := range looseParam.FindAllStringSubmatch(v, 12) {
		k := strings.ToLower(m[1])
		if _, ok := params[k]; !ok {
			params[k] = strings.Trim(m[2], `"`)
		}
	}
	params["format"], params["delsp"] = strings.ToLower(params["format"]), strings.ToLower(params["delsp"])
	if kind = typeWord.FindString(strings.ToLower(strings.TrimSpace(v))); kind == "" {
		kind = "text/plain"
		if params["boundary"] != "" {
			kind = "multipart/mixed"
		}
	}
	return kind, params
}
