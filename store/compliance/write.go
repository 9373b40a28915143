package compliance

import (
	"encoding/json"
	"errors"
	"time"

	"bandbell/scheduler/plan"
)

type recordJSON struct {
	Zone     string       `json:"zone"`
	AsOf     time.Time    `json:"as_of"`
	Window   windowJSON   `json:"window"`
	Plan     plan.Plan    `json:"plan"`
	Flags    []flagJSON   `json:"flags"`
	Nudges   []nudgeJSON  `json:"nudges"`
	Reports  []reportJSON `json:"reports"`
	Visits   []visitJSON  `json:"visits"`
	Settings settingsJSON `json:"settings"`
}

type windowJSON struct {
	From plan.Date `json:"from"`
	To   plan.Date `json:"to"`
}

type flagJSON struct {
	At     time.Time     `json:"at"`
	Slot   *string       `json:"slot"`
	What   plan.FlagKind `json:"what"`
	Level  *plan.Level   `json:"level"`
	Closed *time.Time    `json:"closed"`
}

type nudgeJSON struct {
	Kind    plan.Kind `json:"kind"`
	Slot    string    `json:"slot"`
	Due     time.Time `json:"due"`
	Until   time.Time `json:"until"`
	Outcome Outcome   `json:"outcome"`
}

type reportJSON struct {
	At    time.Time       `json:"at"`
	Slot  *string         `json:"slot,omitempty"`
	What  plan.ReportKind `json:"what"`
	Fresh *bool           `json:"fresh,omitempty"`
	Since *time.Time      `json:"since,omitempty"`
	From  *time.Time      `json:"from,omitempty"`
	To    *time.Time      `json:"to,omitempty"`
	Day   *plan.Date      `json:"day,omitempty"`
	Hours *float64        `json:"hours,omitempty"`
	Value *int            `json:"value,omitempty"`
}

type visitJSON struct {
	Date    plan.Date `json:"date"`
	Overjet *float64  `json:"overjet_mm"`
	Left    *float64  `json:"left_mm"`
	Right   *float64  `json:"right_mm"`
	SD      *float64  `json:"sd_mm"`
}

type settingsJSON struct {
	CarryMin    float64 `json:"carry_min"`
	RampMin     float64 `json:"ramp_min"`
	GraceMin    float64 `json:"grace_min"`
	PriorWear   float64 `json:"prior_wear"`
	PriorAnswer float64 `json:"prior_answer"`
	RatePer100h float64 `json:"rate_mm_per_100h"`
	RateSD      float64 `json:"rate_sd"`
	MeasureSD   float64 `json:"measure_sd_mm"`
	ToleranceMM float64 `json:"tolerance_mm"`
}

// MarshalJSON writes the record in the shape ReadRecord reads, every key
// given, with the instants in the patient's zone. Read again it is the same.
func (r Record) MarshalJSON() ([]byte, error) {
	if r.Zone == nil {
		return nil, errors.New("write record: it has no zone")
	}
	out := recordJSON{
		Zone: r.Zone.String(), AsOf: r.written(r.AsOf), Window: windowJSON(r.Window), Plan: r.Plan,
		Flags: []flagJSON{}, Nudges: []nudgeJSON{}, Reports: []reportJSON{}, Visits: []visitJSON{},
		Settings: settingsJSON(r.Settings),
	}
	for _, f := range r.Flags {
		e := flagJSON{At: r.written(f.At), Slot: unless("", f.Slot), What: f.What, Level: unless("", f.Level)}
		e.Closed = r.writtenIf(f.Closed)
		out.Flags = append(out.Flags, e)
	}
	for _, n := range r.Nudges {
		out.Nudges = append(out.Nudges, nudgeJSON{n.Kind, n.Slot, r.written(n.Due), r.written(n.Until), n.Outcome})
	}
	for _, e := range r.Reports {
		out.Reports = append(out.Reports, r.writtenReport(e))
	}
	for _, v := range r.Visits {
		out.Visits = append(out.Visits, visitJSON(v))
	}
	return json.Marshal(out)
}

func (r Record) writtenReport(e plan.Report) reportJSON {
	out := reportJSON{At: r.written(e.At), Slot: unless("", e.Slot), What: e.What}
	switch e.What {
	case plan.ReportOn:
		out.Fresh = &e.Fresh
	case plan.ReportOff:
		out.Since = r.writtenIf(e.Since)
	case plan.ReportOffSpan:
		from, to := r.written(e.From), r.written(e.To)
		out.From, out.To = &from, &to
	case plan.ReportWornTotal:
		out.Day, out.Hours = &e.Day, &e.Hours
	case plan.ReportSoreness:
		out.Value = &e.Value
	}
	return out
}

// written is t as it is written: in the patient's zone, or in UTC where the
// zone's offset has seconds, which RFC 3339 cannot say.
func (r Record) written(t time.Time) time.Time {
	l := t.In(r.Zone)
	if _, offset := l.Zone(); offset%60 != 0 {
		return t.UTC()
	}
	return l
}

func (r Record) writtenIf(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = r.written(t)
	return &t
}

// unless returns v, or nil where it is the empty value.
func unless[T comparable](empty, v T) *T {
	if v == empty {
		return nil
	}
	return &v
}
