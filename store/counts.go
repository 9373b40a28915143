package store

import (
	"context"

	"bandbell/scheduler/plan"
)

// Counts is how much of everything there is.
type Counts struct {
	Patients   int                               `json:"patients"`
	Held       int                               `json:"held"`       // patients on hold
	Stopped    int                               `json:"stopped"`    // patients to whom all mail is stopped
	Nudges     map[plan.Kind]map[plan.State]int  `json:"nudges"`     // messages of nudges, by kind and state
	Others     map[plan.Cause]map[plan.State]int `json:"others"`     // messages of other causes
	Replies    map[string]int                    `json:"replies"`    // by kind; "" for those not read yet
	ForPerson  int                               `json:"for_person"` // replies that somebody must read, or had to
	Unseen     int                               `json:"unseen"`     // of those, not seen by staff yet
	DayRecords int                               `json:"day_records"`
	Late       int                               `json:"late"`       // accepted at or after their until: must be 0
	Doubted    int                               `json:"doubted"`    // sent a second time after an end without an answer
	Duplicates int                               `json:"duplicates"` // accepted more than once for one nudge and recipient: must be 0
	Bounced    int                               `json:"bounced"`    // accepted, then sent back
	Open       int                               `json:"open"`       // messages not final yet
}

// Counts counts what is on file. It reads everything: for a status page or a
// demo, not for a tick.
func (db *DB) Counts(ctx context.Context) (c Counts, err error) {
	c = Counts{Nudges: map[plan.Kind]map[plan.State]int{}, Others: map[plan.Cause]map[plan.State]int{}, Replies: map[string]int{}}
	err = db.read(ctx, "count", func(x *tx) error {
		for query, to := range map[string]*int{
			"SELECT count(*) FROM patient":                                       &c.Patients,
			"SELECT count(*) FROM patient WHERE hold_since IS NOT NULL":          &c.Held,
			"SELECT count(*) FROM patient WHERE stopped IS NOT NULL":             &c.Stopped,
			"SELECT count(*) FROM reply WHERE needs_person = 1":                  &c.ForPerson,
			"SELECT count(*) FROM reply WHERE needs_person = 1 AND seen IS NULL": &c.Unseen,
			"SELECT count(*) FROM day_record":                                    &c.DayRecords,
			"SELECT count(*) FROM outgoing WHERE accepted_at >= until":           &c.Late,
			"SELECT count(*) FROM outgoing WHERE resent = 1":                     &c.Doubted,
			"SELECT count(*) FROM outgoing WHERE bounced_at IS NOT NULL":         &c.Bounced,
			"SELECT count(*) FROM outgoing WHERE ended IS NULL":                  &c.Open,
			`SELECT count(*) FROM (SELECT 1 FROM outgoing WHERE accepted_at IS NOT NULL AND nudge_id IS NOT NULL
				GROUP BY nudge_id, recipient_id HAVING count(*) > 1)`: &c.Duplicates,
		} {
			if err := x.one(query, nil, to); err != nil {
				return err
			}
		}
		type cell struct {
			cause plan.Cause
			kind  plan.Kind
			state plan.State
			n     int
		}
		cells, err := list(x, func(row scanner) (e cell, err error) {
			return e, row.Scan(&e.cause, &e.kind, &e.state, &e.n)
		}, `SELECT o.cause, ifnull(n.kind, ''), o.state, count(*) FROM outgoing o LEFT JOIN nudge n ON n.id = o.nudge_id GROUP BY 1, 2, 3`)
		if err != nil {
			return err
		}
		for _, e := range cells {
			if e.cause == plan.CauseNudge {
				add(c.Nudges, e.kind, e.state, e.n)
			} else {
				add(c.Others, e.cause, e.state, e.n)
			}
		}
		type replies struct {
			kind string
			n    int
		}
		kinds, err := list(x, func(row scanner) (e replies, err error) { return e, row.Scan(&e.kind, &e.n) },
			"SELECT kind, count(*) FROM reply GROUP BY kind")
		for _, e := range kinds {
			c.Replies[e.kind] = e.n
		}
		return err
	})
	return c, err
}

func add[K comparable](to map[K]map[plan.State]int, key K, s plan.State, n int) {
	if to[key] == nil {
		to[key] = map[plan.State]int{}
	}
	to[key][s] += n
}
