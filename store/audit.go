package store

import (
	"context"
	"time"
)

// Act is one row of the audit trail.
type Act struct {
	At     time.Time
	By     string // desk:NAME, patient, daemon
	What   string // patient add, plan set, stop ...
	Ref    string // the patient's; empty: nobody's
	Detail string // what changed; never a message text, a name or an address
}

// note writes an audit row in the transaction of the act.
func (x *tx) note(at time.Time, by, what, ref, detail string) error {
	_, err := x.exec("INSERT INTO audit (at, by, what, ref, detail) VALUES (?, ?, ?, ?, ?)",
		at.UnixMilli(), by, what, ref, detail)
	return err
}

const queryAudit = "SELECT at, by, what, ref, detail FROM audit WHERE ref = ? ORDER BY at DESC, id DESC LIMIT ?"

// Audit lists the newest acts concerning a patient, newest first.
func (db *DB) Audit(ctx context.Context, ref string, limit int) (acts []Act, err error) {
	err = db.read(ctx, "read audit trail", func(x *tx) error {
		acts, err = list(x, scanAct, queryAudit, ref, limit)
		return err
	})
	return acts, err
}

func scanAct(row scanner) (a Act, err error) {
	return a, row.Scan(instant{&a.At}, &a.By, &a.What, &a.Ref, &a.Detail)
}
