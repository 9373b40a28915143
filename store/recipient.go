package store

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bandbell/scheduler/plan"
)

const (
	recipientColumns = "id, role, name, address, language, consent_at, consent_how, consent_by, consent_text, stopped, bounced"
	queryRecipients  = "SELECT " + recipientColumns + " FROM recipient WHERE patient_id = ? ORDER BY id"
)

func scanRecipient(row scanner, r *plan.Recipient, more ...any) error {
	return row.Scan(append([]any{&r.ID, &r.Role, &r.Name, &r.Address, &r.Language, instant{&r.Consent.At},
		&r.Consent.How, &r.Consent.By, &r.Consent.Text, instant{&r.Stopped}, instant{&r.Bounced}}, more...)...)
}

func (x *tx) recipients(patient int64) ([]plan.Recipient, error) {
	return list(x, func(row scanner) (r plan.Recipient, err error) { return r, scanRecipient(row, &r) }, queryRecipients, patient)
}

// GiveConsent records that the person at address agreed to be e-mailed about
// the patient; the empty address stands for every recipient. An address that is
// nobody's is ErrNotFound. The tick looks at the patient again from c.At on.
func (db *DB) GiveConsent(ctx context.Context, ref, address string, c plan.Consent, by string) error {
	if !c.Given() {
		return fmt.Errorf("give consent: no instant was given")
	}
	return db.write(ctx, "give consent", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		n := 0
		for _, r := range p.Recipients {
			if address != "" && address != string(r.Address) {
				continue
			}
			n++
			if _, err := x.exec("UPDATE recipient SET consent_at = ?, consent_how = ?, consent_by = ?, consent_text = ? WHERE id = ?",
				ms(c.At), c.How, c.By, c.Text, r.ID); err != nil {
				return err
			}
		}
		if n == 0 {
			return fmt.Errorf("recipient with that address: %w", ErrNotFound)
		}
		if err := x.lookAgain(p, c.At); err != nil {
			return err
		}
		return x.note(c.At, by, "consent", p.Ref, fmt.Sprintf("%d recipients, how %q, text %q", n, c.How, c.Text))
	})
}

// lookAgain lets the next tick look at a patient who has a plan. One to whom
// nothing could be sent until now is owed nothing for that time: what came due
// in it is not made up for.
func (x *tx) lookAgain(before plan.Patient, now time.Time) error {
	query, args := "UPDATE patient SET next_due = min(ifnull(next_due, ?), ?)", []any{ms(now), ms(now)}
	if !before.Stopped.IsZero() || !slices.ContainsFunc(before.Recipients, mayBeWritten) {
		query, args = query+", through = max(through, ?)", append(args, ms(now))
	}
	_, err := x.exec(query+" WHERE id = ? AND version > 0", append(args, before.ID)...)
	return err
}

func mayBeWritten(r plan.Recipient) bool {
	return r.Consent.Given() && r.Stopped.IsZero() && r.Bounced.IsZero()
}
