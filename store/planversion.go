package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"bandbell/scheduler/plan"
)

// SetPlan adds a version of a patient's plan that is in force from the local
// day first, in the zone the patient is in now, and returns its number. What is
// wrong with the plan comes as plan.Faults, a latex band among it unless the
// patient is known not to be allergic. In the same transaction the day records
// are folded anew and the next tick is told to look.
func (db *DB) SetPlan(ctx context.Context, ref string, p plan.Plan, first plan.Date, by string, now time.Time) (version int, err error) {
	if fs := p.Check(); len(fs) > 0 {
		return 0, fs.Err()
	}
	if first.IsZero() {
		return 0, plan.Faults{{Path: "from", What: "is missing", Hint: "name the first local day of this version"}}
	}
	err = db.write(ctx, "set plan", func(x *tx) error {
		who, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		if fs := p.CheckFor(who.LatexAllergy); len(fs) > 0 {
			return fs.Err()
		}
		if err := db.addVersion(x, who, p, first, by, now); err != nil {
			return err
		}
		return x.one("SELECT version FROM patient WHERE id = ?", []any{who.ID}, &version)
	})
	if err != nil {
		return 0, err
	}
	return version, nil
}

// addVersion adds a version of a plan that was checked, folds the day records
// anew and lets the next tick look.
func (db *DB) addVersion(x *tx, who plan.Patient, p plan.Plan, first plan.Date, by string, now time.Time) error {
	text, err := json.Marshal(p)
	if err != nil {
		return fmt.Errorf("write plan: %w", err)
	}
	// What cannot be read back is not put on file.
	if _, err := plan.ReadPlan("", text); err != nil {
		return err
	}
	var version int
	if err := x.one("SELECT version + 1 FROM patient WHERE id = ?", []any{who.ID}, &version); err != nil {
		return err
	}
	if _, err := x.insert("INSERT INTO plan_version (patient_id, number, first, zone, created, by, plan) VALUES (?, ?, ?, ?, ?, ?, ?)",
		who.ID, version, first.String(), who.Zone, ms(now), by, string(text)); err != nil {
		return err
	}
	through := "through"
	if version == 1 {
		through = "?" // nothing is owed from before the first plan was written
	}
	query, args := "UPDATE patient SET version = ?, next_due = ?, through = "+through+" WHERE id = ?", []any{version, ms(now)}
	if version == 1 {
		args = append(args, ms(now.Add(-time.Millisecond))) // what is due at this very moment is owed
	}
	if _, err := x.exec(query, append(args, who.ID)...); err != nil {
		return err
	}
	if err := db.refoldAll(x, who.ID, now); err != nil {
		return err
	}
	return x.note(now, by, "plan set", who.Ref, fmt.Sprintf("version %d from %s", version, first))
}

// Plan returns the latest version of a patient's plan, ErrNotFound where none
// was set.
func (db *DB) Plan(ctx context.Context, ref string) (v plan.Version, err error) {
	all, err := db.PlanVersions(ctx, ref)
	if err != nil {
		return v, err
	}
	if len(all) == 0 {
		return v, fmt.Errorf("plan of patient %q: %w", ref, ErrNotFound)
	}
	return all[len(all)-1], nil
}

// PlanVersions lists the versions of a patient's plan, oldest first.
func (db *DB) PlanVersions(ctx context.Context, ref string) (out []plan.Version, err error) {
	err = db.read(ctx, "read plan", func(x *tx) error {
		p, err := x.patientByRef(ref)
		if err != nil {
			return err
		}
		out, err = x.versions(p.ID, nil)
		return err
	})
	return out, err
}

const queryVersions = "SELECT id, number, first, zone, created, by, plan FROM plan_version WHERE patient_id = ? ORDER BY number"

// versions reads a patient's plans, oldest first. A plan that comes out of the
// cache is shared and must not be changed; nil: no cache.
func (x *tx) versions(patient int64, cache *planCache) ([]plan.Version, error) {
	return list(x, func(row scanner) (plan.Version, error) {
		var v plan.Version
		var id int64
		var text []byte
		err := row.Scan(&id, &v.Number, date{&v.First}, &v.Zone, instant{&v.Created}, &v.By, &text)
		if err != nil {
			return v, err
		}
		v.Plan, err = cache.read(id, text)
		return v, err
	}, queryVersions, patient)
}

// inForce is the version in force on a local day: the latest written of those
// that had begun; before the first day of all, the oldest. False: no plan.
func inForce(versions []plan.Version, d plan.Date) (plan.Version, bool) {
	for i := len(versions) - 1; i >= 0; i-- {
		if !versions[i].First.After(d) {
			return versions[i], true
		}
	}
	if len(versions) == 0 {
		return plan.Version{}, false
	}
	return versions[0], true
}
