package plan

import "encoding/json"

type planJSON struct {
	Appliance     Appliance     `json:"appliance"`
	AlignerStart  *Date         `json:"aligner_start,omitempty"`
	DaysPerTray   int           `json:"days_per_tray,omitempty"`
	Trays         int           `json:"trays,omitempty"`
	PlannedEnd    Date          `json:"planned_end"`
	BandsStart    Date          `json:"bands_start"`
	BandsEnd      Date          `json:"bands_end"`
	HoursPerDay   float64       `json:"hours_per_day"`
	ChangesPerDay int           `json:"changes_per_day"`
	Wear          []wearJSON    `json:"wear"`
	Meals         []mealJSON    `json:"meals"`
	Quiet         *quietJSON    `json:"quiet,omitempty"`
	NoticeAt      Clock         `json:"notice_at"`
	EveningAt     Clock         `json:"evening_at"`
	UsefulMin     int           `json:"useful_min"`
	Restarts      []Date        `json:"restarts"`
	Pauses        []pauseJSON   `json:"pauses"`
	Cadence       []cadenceJSON `json:"cadence"`
	Bands         []bandJSON    `json:"bands"`
	Bags          []bagJSON     `json:"bags"`
}

type wearJSON struct {
	From          Date    `json:"from"`
	HoursPerDay   float64 `json:"hours_per_day"`
	ChangesPerDay int     `json:"changes_per_day"`
	Nights        bool    `json:"nights"`
}

type mealJSON struct {
	Code    MealCode `json:"code"`
	At      Clock    `json:"at"`
	Minutes int      `json:"minutes"`
	Days    []string `json:"days"`
}

type quietJSON struct {
	From Clock `json:"from"`
	To   Clock `json:"to"`
}

type pauseJSON struct {
	From Date    `json:"from"`
	To   Date    `json:"to"`
	Of   PauseOf `json:"of"`
}

type cadenceJSON struct {
	From  Date `json:"from"`
	Level int  `json:"level"`
}

type bandJSON struct {
	From    Date    `json:"from"`
	To      Date    `json:"to"`
	Side    Side    `json:"side"`
	Pattern Pattern `json:"pattern"`
	Upper   []Hook  `json:"upper"`
	Lower   []Hook  `json:"lower"`
	Lumen   Lumen   `json:"lumen_mm"`
	Force   Force   `json:"force_oz"`
	Latex   bool    `json:"latex"`
	Bag     string  `json:"bag,omitempty"`
}

type bagJSON struct {
	Date  Date `json:"date"`
	Count int  `json:"count"`
}

// MarshalJSON writes the plan in the shape ReadPlan reads, every key given.
func (p Plan) MarshalJSON() ([]byte, error) {
	out := planJSON{
		Appliance: p.Appliance, PlannedEnd: p.PlannedEnd, BandsStart: p.BandsStart, BandsEnd: p.BandsEnd,
		HoursPerDay: p.HoursPerDay, ChangesPerDay: p.ChangesPerDay,
		NoticeAt: p.NoticeAt, EveningAt: p.EveningAt, UsefulMin: p.UsefulMin,
		Restarts: append([]Date{}, p.Restarts...),
		Wear:     []wearJSON{}, Meals: []mealJSON{}, Pauses: []pauseJSON{}, Cadence: []cadenceJSON{}, Bands: []bandJSON{}, Bags: []bagJSON{},
	}
	if p.Appliance != Braces {
		out.AlignerStart, out.DaysPerTray, out.Trays = &p.AlignerStart, p.DaysPerTray, p.Trays
	}
	if p.Quiet != (Quiet{}) {
		out.Quiet = &quietJSON{p.Quiet.From, p.Quiet.To}
	}
	for _, w := range p.Wear {
		out.Wear = append(out.Wear, wearJSON(w))
	}
	for _, m := range p.Meals {
		out.Meals = append(out.Meals, mealJSON{m.Code, m.At, m.Minutes, m.Days.names()})
	}
	for _, e := range p.Pauses {
		out.Pauses = append(out.Pauses, pauseJSON(e))
	}
	for _, e := range p.Cadence {
		out.Cadence = append(out.Cadence, cadenceJSON(e))
	}
	for _, b := range p.Bands {
		b.Upper, b.Lower = append([]Hook{}, b.Upper...), append([]Hook{}, b.Lower...)
		out.Bands = append(out.Bands, bandJSON(b))
	}
	for _, b := range p.Bags {
		out.Bags = append(out.Bags, bagJSON(b))
	}
	return json.Marshal(out)
}
