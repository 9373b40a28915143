package store

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"

	"bandbell/scheduler/plan"
)

// Receive keeps a message raw, before anything is made of it, and returns its
// id. The same octets for the same envelope recipients are one message, however
// often they come: fresh is then false and the id the first one's.
func (db *DB) Receive(ctx context.Context, in plan.Inbound) (id int64, fresh bool, err error) {
	to, err := json.Marshal(append([]string{}, in.To...))
	if err != nil {
		return 0, false, fmt.Errorf("receive message: %w", err)
	}
	digest := digestOf(in)
	raw := in.Raw
	if raw == nil {
		raw = []byte{}
	}
	err = db.write(ctx, "receive message", func(x *tx) error {
		id, err = x.insert(`INSERT INTO reply (digest, message_id, mail_from, rcpt_to, received, source, state)
			VALUES (?, ?, ?, ?, ?, ?, 'received') ON CONFLICT (digest) DO NOTHING`,
			digest, messageID(in.Raw), validUTF8(in.From), validUTF8(string(to)), ms(in.Received), in.Source)
		if err != nil {
			return err
		}
		if fresh = id != 0; !fresh {
			return x.one("SELECT id FROM reply WHERE digest = ?", []any{digest}, &id)
		}
		_, err = x.exec("INSERT INTO reply_raw (reply_id, raw) VALUES (?, ?)", id, raw)
		return err
	})
	if err != nil {
		return 0, false, err
	}
	return id, fresh, nil
}

// digestOf names a received message by its octets and envelope recipients, in
// whatever order they were given.
func digestOf(in plan.Inbound) []byte {
	h := sha256.New()
	h.Write(in.Raw)
	for _, to := range slices.Sorted(slices.Values(in.To)) {
		fmt.Fprintf(h, "\x00%s", to)
	}
	return h.Sum(nil)
}

const queryUnread = `SELECT r.id, w.raw, r.mail_from, r.rcpt_to, r.received, r.source
	FROM reply r INDEXED BY reply_unread JOIN reply_raw w ON w.reply_id = r.id WHERE r.state = 'received' ORDER BY r.id LIMIT ?`

// Unread lists messages that were received and not read yet, oldest first.
func (db *DB) Unread(ctx context.Context, limit int) (out []plan.Inbound, err error) {
	err = db.read(ctx, "list unread messages", func(x *tx) error {
		out, err = list(x, func(row scanner) (in plan.Inbound, err error) {
			var to []byte
			if err := row.Scan(&in.ID, &in.Raw, &in.From, &to, instant{&in.Received}, &in.Source); err != nil {
				return in, err
			}
			return in, json.Unmarshal(to, &in.To)
		}, queryUnread, limit)
		return err
	})
	return out, err
}
