package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
	"strconv"
	"time"

	"github.com/mattn/go-sqlite3"

	"bandbell/scheduler/plan"
)

// refAlphabet leaves out what is misread (0 o 1 l i) and the vowels, so that no
// ref spells a word. Six characters of 27 make 387 million refs.
const (
	refAlphabet = "23456789bcdfghjkmnpqrstvwxz"
	refLength   = 6
)

// AddPatient puts a patient and the people to write to on file and returns it
// with its ids and its Ref, which is drawn at random unless given. Faults in
// what was given come all at once, as plan.Faults; a Ref in use is one of them.
// Consent that is given with a recipient is kept.
func (db *DB) AddPatient(ctx context.Context, p plan.Patient, by string, now time.Time) (plan.Patient, error) {
	if err := checkPatient(&p); err != nil {
		return plan.Patient{}, err
	}
	p.Recipients = append([]plan.Recipient(nil), p.Recipients...)
	drawn := p.Ref == ""
	p.Created = time.UnixMilli(now.UnixMilli()).UTC()
	for try := 0; ; try++ {
		if drawn {
			ref, err := newRef()
			if err != nil {
				return plan.Patient{}, err
			}
			p.Ref = ref
		}
		err := db.write(ctx, "add patient", func(x *tx) error { return x.addPatient(&p, by, now) })
		if !taken(err, "patient.ref") {
			return p, err
		}
		if !drawn {
			return plan.Patient{}, plan.Faults{{Path: "ref", What: strconv.Quote(p.Ref) + " is in use", Hint: "leave it out to have one drawn"}}
		}
		if try == 20 {
			return plan.Patient{}, fmt.Errorf("add patient: no free ref in %d draws", try)
		}
	}
}

func (x *tx) addPatient(p *plan.Patient, by string, now time.Time) (err error) {
	var since, reason any = ms(p.Hold.Since), p.Hold.Reason
	p.ID, err = x.insert(`INSERT INTO patient (ref, first_name, last_name, phone, language, zone, latex_allergy,
		born, created, stopped, hold_since, hold_reason, through) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		p.Ref, p.FirstName, p.LastName, p.Phone, p.Language, p.Zone, string(p.LatexAllergy),
		day(p.Born), ms(p.Created), ms(p.Stopped), since, reason, ms(now))
	if err != nil {
		return err
	}
	for i := range p.Recipients {
		r := &p.Recipients[i]
		r.ID, err = x.insert(`INSERT INTO recipient (patient_id, role, name, address, language,
			consent_at, consent_how, consent_by, consent_text, stopped, bounced) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			p.ID, string(r.Role), r.Name, string(r.Address), r.Language,
			ms(r.Consent.At), r.Consent.How, r.Consent.By, r.Consent.Text, ms(r.Stopped), ms(r.Bounced))
		if err != nil {
			return err
		}
	}
	return x.note(now, by, "patient add", p.Ref, fmt.Sprintf("%d recipients", len(p.Recipients)))
}

// taken reports whether err is a broken UNIQUE rule over the column.
func taken(err error, column string) bool {
	var e sqlite3.Error
	return errors.As(err, &e) && e.ExtendedCode == sqlite3.ErrConstraintUnique &&
		e.Error() == "UNIQUE constraint failed: "+column
}

func newRef() (string, error) {
	b := make([]byte, refLength)
	for i := range b {
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(refAlphabet))))
		if err != nil {
			return "", fmt.Errorf("draw ref: %w", err)
		}
		b[i] = refAlphabet[n.Int64()]
	}
	return string(b), nil
}

// Patient returns the patient of a ref, ErrNotFound where there is none. Upper
// and lower case are the same.
func (db *DB) Patient(ctx context.Context, ref string) (p plan.Patient, err error) {
	err = db.read(ctx, "read patient", func(x *tx) error {
		p, err = x.patientByRef(ref)
		return err
	})
	return p, err
}

// Patients lists everybody on file by ref.
func (db *DB) Patients(ctx context.Context) (out []plan.Patient, err error) {
	err = db.read(ctx, "list patients", func(x *tx) error {
		out, err = list(x, scanPatient, "SELECT "+patientColumns+" FROM patient ORDER BY ref")
		if err != nil {
			return err
		}
		at := make(map[int64]int, len(out))
		for i, p := range out {
			at[p.ID] = i
		}
		type of struct {
			patient int64
			r       plan.Recipient
		}
		all, err := list(x, func(row scanner) (o of, err error) {
			return o, scanRecipient(row, &o.r, &o.patient)
		}, "SELECT "+recipientColumns+", patient_id FROM recipient ORDER BY id")
		for _, o := range all {
			p := &out[at[o.patient]]
			p.Recipients = append(p.Recipients, o.r)
		}
		return err
	})
	return out, err
}

const (
	patientColumns = "id, ref, first_name, last_name, phone, language, zone, latex_allergy, born, created, stopped, hold_since, hold_reason"
	queryPatient   = "SELECT " + patientColumns + " FROM patient WHERE id = ?"
	queryByRef     = "SELECT id FROM patient WHERE ref = ?"
)

func scanPatient(row scanner) (p plan.Patient, err error) {
	return p, row.Scan(&p.ID, &p.Ref, &p.FirstName, &p.LastName, &p.Phone, &p.Language, &p.Zone, &p.LatexAllergy,
		date{&p.Born}, instant{&p.Created}, instant{&p.Stopped}, instant{&p.Hold.Since}, &p.Hold.Reason)
}

// patientByRef reads a patient with its recipients.
func (x *tx) patientByRef(ref string) (plan.Patient, error) {
	var id int64
	if err := x.one(queryByRef, []any{ref}, &id); err != nil {
		return plan.Patient{}, fmt.Errorf("patient %q: %w", ref, err)
	}
	return x.patient(id)
}

// patient reads a patient with its recipients.
func (x *tx) patient(id int64) (plan.Patient, error) {
	s, err := x.stmt(queryPatient, []any{id})
	if err != nil {
		return plan.Patient{}, err
	}
	p, err := scanPatient(s.QueryRowContext(x.ctx, id))
	if err != nil {
		return p, err
	}
	p.Recipients, err = x.recipients(id)
	return p, err
}
