package main

import (
	"bytes"
	"crypto/rand"
	"encoding/base32"
	"errors"
	"fmt"
	"os"
)

// minTokenKey is the least length of the secret that signs reply addresses.
const minTokenKey = 16

// readSecret reads a secret from its file, or where no file is named from the
// service credential of that name. A file that others can read is refused.
func readSecret(file, name string) ([]byte, error) {
	from := file
	if from == "" {
		if from = credential(name); from == "" {
			return nil, fmt.Errorf("no file is named for the secret %s", name)
		}
	}
	info, err := os.Stat(from)
	if err != nil {
		return nil, fmt.Errorf("read the secret %s: %w", name, errors.Unwrap(err))
	}
	if file != "" && info.Mode().Perm()&0o077 != 0 {
		return nil, hinted{fmt.Sprintf("the secret file %s can be read by others (mode %04o)", file, info.Mode().Perm()), "chmod 600 " + file}
	}
	b, err := os.ReadFile(from)
	if err != nil {
		return nil, fmt.Errorf("read the secret %s: %w", name, errors.Unwrap(err))
	}
	b = bytes.TrimRight(b, "\r\n")
	if len(b) == 0 {
		return nil, hinted{fmt.Sprintf("the secret file %s is empty", from), ""}
	}
	return b, nil
}

// tokenKey reads the secret that signs reply addresses.
func (c *Config) tokenKey() ([]byte, error) {
	key, err := readSecret(c.Mail.KeyFile, "token-key")
	if err == nil && len(key) < minTokenKey {
		err = hinted{fmt.Sprintf("the token key has %d octets, fewer than %d", len(key), minTokenKey), "let `bandbell init` make one"}
	}
	return key, err
}

// password reads the password of the submission server; empty without a user.
func (c *Config) password() (string, error) {
	if c.SMTP.User == "" {
		return "", nil
	}
	b, err := readSecret(c.SMTP.PasswordFile, "smtp-password")
	return string(b), err
}

// newTokenKey makes a fresh secret of 256 bits as text.
func newTokenKey() []byte {
	b := make([]byte, 32)
	rand.Read(b) // never fails; it ends the program where there is no randomness
	return []byte(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b) + "\n")
}

// writeSecret writes a file that its owner alone can read. It never replaces
// one that is there.
func writeSecret(file string, content []byte) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("write %s: %w", file, errors.Unwrap(err))
	}
	if _, err = f.Write(content); err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	return nil
}
