package notify

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"golang.org/x/net/idna"

	"bandbell/notify/token"
	"bandbell/scheduler/plan"
)

// causeOf names a message for one recipient for ever; the token of its reply
// address and its Message-ID are made from it.
func causeOf(job plan.Job) string { return fmt.Sprintf("%s#%d", job.Key, job.To.ID) }

// messageID is the Message-ID of a cause, without angle brackets: 128 bits
// that only the key can make, so it holds nothing about the patient and does
// not count up, in our own domain (RFC 5322 section 3.6.4).
func messageID(key []byte, cause, domain string) string {
	h := hmac.New(sha256.New, key)
	h.Write([]byte("bandbell/mid\x00" + cause))
	return hex.EncodeToString(h.Sum(nil)[:16]) + "@" + domain
}

// identity is what a message is called by: its id, the address its replies
// come to, and the part of that address a database looks up.
type identity struct {
	messageID string
	reply     plan.Address
	token     string
	selector  string
}

func (c *Composer) identify(job plan.Job) (identity, error) {
	cause := causeOf(job)
	tok, err := token.Make(c.Key, cause)
	if err != nil {
		return identity{}, fmt.Errorf("make reply address: %w", err)
	}
	reply, err := token.Address(string(c.Clinic.Mailbox), tok)
	if err != nil {
		return identity{}, fmt.Errorf("make reply address: %w", err)
	}
	selector, err := token.Selector(tok)
	if err != nil {
		return identity{}, fmt.Errorf("make reply address: %w", err)
	}
	domain := c.Clinic.From.Domain()
	return identity{messageID(c.Key, cause, domain), plan.Address(reply), tok, selector}, nil
}

// onWire is the form in which an address is written: a domain beyond ASCII in
// its A-labels (RFC 5890), so that only a local part beyond ASCII needs
// SMTPUTF8.
func onWire(a plan.Address) plan.Address {
	if a.ASCII() {
		return a
	}
	domain, err := idna.Lookup.ToASCII(a.Domain())
	if err != nil {
		return a
	}
	return plan.Address(a.Local() + "@" + domain)
}
