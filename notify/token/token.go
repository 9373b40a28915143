// Package token makes and checks the reply address of a message: a short token
// that names the cause of the message (a nudge, an answer, a consent request)
// to whoever holds the key, and nothing to anybody else.
//
// It promises that a token is the same for the same key and cause for ever,
// that nobody without the key can make one that verifies, and that it survives
// what mail does to addresses: servers fold case, so only a-z and 2-7 are
// used, and a local part has 64 octets, so a token has 39. A token carries no
// name, no address and no number that counts up.
//
// Layout: 24 bytes in the base32 alphabet of RFC 4648 section 6, in lower case
// and without padding. The first 8 bytes are the selector, by which a database
// finds the row; the other 16 (128 bits) are the proof that the token was made
// here. Both are cut from HMAC-SHA256 (RFC 2104, FIPS 180-4).
//
// The package is pure: the key is an argument and nothing is opened.
package token

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

const (
	// Length is the number of characters in a token.
	Length = 39

	// MinKey is the fewest bytes a key may have: the 128 bits that the proof
	// itself is worth. A shorter key would be the weaker of the two.
	MinKey = 16

	selectorSize = 8
	proofSize    = 16
)

// The labels keep the two halves apart, so that a selector seen in a database
// says nothing of the proof. The selector has a fixed size, so no two pairs of
// selector and cause give the same input.
const (
	selectorLabel = "bandbell/sel\x00"
	proofLabel    = "bandbell/mac\x00"
)

// ErrShortKey says that a key has fewer than MinKey bytes.
var ErrShortKey = fmt.Errorf("token key is shorter than %d bytes", MinKey)

var encoding = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// Make returns the token of a cause: Length lower-case characters. The cause
// is whatever names the message among all messages; it is not in the token.
// The error is ErrShortKey.
func Make(key []byte, cause string) (string, error) {
	if len(key) < MinKey {
		return "", ErrShortKey
	}
	raw := compute(key, cause)
	return encoding.EncodeToString(raw[:]), nil
}

// Verify reports whether tok is the token of cause under key. Case is folded;
// the comparison takes the same time wherever the first difference is. A short
// key verifies nothing.
func Verify(key []byte, cause, tok string) bool {
	got, err := decode(tok)
	if err != nil || len(key) < MinKey {
		return false
	}
	want := compute(key, cause)
	return hmac.Equal(want[:], got)
}

// Selector returns the first 8 bytes of a token as 16 hexadecimal digits, the
// form a database indexes. It proves nothing: only Verify does. The error says
// whether the length, a character or the last character is wrong, and never
// repeats the token.
func Selector(tok string) (string, error) {
	raw, err := decode(tok)
	if err != nil {
		return "", err
	}
	return hex.EncodeToString(raw[:selectorSize]), nil
}

func compute(key []byte, cause string) (raw [selectorSize + proofSize]byte) {
	copy(raw[:selectorSize], mac(key, selectorLabel, cause))
	copy(raw[selectorSize:], mac(key, proofLabel, string(raw[:selectorSize]), cause))
	return raw
}

// mac is HMAC-SHA256 over the parts one after another.
func mac(key []byte, parts ...string) []byte {
	h := hmac.New(sha256.New, key)
	for _, p := range parts {
		h.Write([]byte(p))
	}
	return h.Sum(nil)
}

var errNotCanonical = errors.New("token: the last character carries stray bits")

// decode is strict where encoding/base32 is not: that one skips line breaks
// and ignores the three spare bits of the last character, so that one token
// would have many spellings.
func decode(tok string) ([]byte, error) {
	if len(tok) != Length {
		return nil, fmt.Errorf("token: %d characters, want %d", len(tok), Length)
	}
	for i := range len(tok) {
		if !inAlphabet(tok[i]) {
			return nil, fmt.Errorf("token: character %d is none of a-z, 2-7", i+1)
		}
	}
	tok = strings.ToLower(tok)
	raw, err := encoding.DecodeString(tok)
	if err != nil {
		return nil, fmt.Errorf("token: %w", err)
	}
	if encoding.EncodeToString(raw) != tok {
		return nil, errNotCanonical
	}
	return raw, nil
}

// inAlphabet looks at bytes, never runes: Unicode folding would take a Kelvin
// sign for a k.
func inAlphabet(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '2' <= c && c <= '7'
}
