package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bandbell/cmd/bandbell/chart"
	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

// sheetDays is how many days the sheet shows by time of day: what fits beside
// the rest on one page.
const sheetDays = 14

// sheetWords is how much of somebody's words stands on the sheet.
const sheetWords = 220

func (a *app) sheetVerb() *cobra.Command {
	var html string
	c := &cobra.Command{
		Use:   "sheet PATIENT",
		Short: "Print the one page for the chair, as text or as HTML for paper",
		Long: `Print the one page for the chair: plan and hook-up, hours a day with their
bounds, wear by time of day, soreness, last words, the bite beside the end of
the aligners, supply, and what to say. With --html it is a page for A4 and
Letter that needs nothing from outside.`,
		Example: `  bandbell sheet K7MQ2X
  bandbell sheet K7MQ2X --html sheet.html`,
		Args: exactly(1, "a PATIENT"),
	}
	c.Flags().StringVar(&html, "html", "", "write HTML to this `FILE` (- is standard output)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if html != "" && a.json {
			return usage("--html and --json each ask for a form of their own; give one")
		}
		now, err := a.now()
		if err != nil {
			return err
		}
		db, cfg, err := a.open()
		if err != nil {
			return err
		}
		defer db.Close()
		s, err := readSheet(c.Context(), db, cfg, args[0], now)
		if err != nil {
			return fmt.Errorf("make the sheet of patient %s: %w", args[0], err)
		}
		switch html {
		case "":
			if a.json {
				return a.print(s)
			}
			return s.text(a.out)
		case "-":
			return s.html(a.out)
		}
		return writeSheet(html, s)
	}
	return c
}

// writeSheet writes the page whole or not at all, readable by its owner only.
func writeSheet(file string, s *sheet) error {
	f, err := os.CreateTemp(filepath.Dir(file), ".sheet-*")
	if err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	defer os.Remove(f.Name()) // after the rename there is none
	if err = s.html(f); err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), file)
	}
	if err != nil {
		return fmt.Errorf("write the sheet: %w", err)
	}
	return nil
}

// sheet is the page in words; the pictures stand beside them.
type sheet struct {
	Clinic   string              `json:"clinic"`
	Patient  string              `json:"patient"`
	Name     string              `json:"name"`
	AsOf     string              `json:"as_of"` // for people, with the zone
	Standing compliance.Standing `json:"standing"`
	Why      []string            `json:"why"`
	Mail     string              `json:"mail"` // why nothing is sent; empty: messages are on
	Say      []string            `json:"say"`
	Plan     []sheetLine         `json:"plan"`
	Hours    []string            `json:"hours"`
	Soreness string              `json:"soreness"`
	Supply   string              `json:"supply"`
	Forecast []string            `json:"forecast"`
	Visits   []string            `json:"visits"`
	Words    []sheetLine         `json:"words"`
	Cautions []string            `json:"cautions"`

	days   []sheetDay
	raster chart.Picture
	run    chart.Picture
	fan    *chart.Picture // nil: there is no forecast to show
}

// sheetLine is a name and what stands beside it.
type sheetLine struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// notJudged stands where a day is not known well enough to say about how much.
const notJudged = "–"

// sheetDay is a row of the table beside the raster.
type sheetDay struct{ Day, Low, High, About, Working, Unknown string }

func readSheet(ctx context.Context, db *store.DB, cfg *Config, ref string, now time.Time) (*sheet, error) {
	p, err := db.Patient(ctx, ref)
	if err != nil {
		return nil, err
	}
	r, err := db.PatientRecord(ctx, ref, now, nil)
	if err != nil {
		return nil, err
	}
	f, err := compliance.Compute(r)
	if err != nil {
		return nil, err
	}
	visits, err := db.Visits(ctx, ref)
	if err != nil {
		return nil, err
	}
	open, err := db.OpenWords(ctx, ref, now)
	if err != nil {
		return nil, err
	}
	last, err := db.LastWords(ctx, ref, now)
	if err != nil {
		return nil, err
	}
	today := plan.DateOf(now, r.Zone)
	s := &sheet{
		Clinic: cfg.Clinic.Name, Patient: p.Ref, Name: fullName(p), AsOf: now.In(r.Zone).Format("2 Jan 2006 15:04 MST"),
		Standing: f.Standing, Why: f.Why, Say: sayings(r, f), Plan: planLines(r, today, cfg.Clinic.Notation), Hours: hourWords(f),
		Soreness: sorenessWords(&r.Plan, f, today), Supply: supplyWords(f.Supply, today), Forecast: forecastWords(&r.Plan, f),
		Visits: visitWords(visits, today), Words: wordLines(open, last, r.Zone),
		Cautions: []string{notMeasured, boundsIf, "Nothing here says how far a tooth has moved. A reminder and a record: no medical device, and no substitute for the orthodontist's judgment."},
	}
	if mail := patientJSON(p).Mail; mail != "on" {
		s.Mail = "Messages: " + mail + "."
		if p.Hold.Held() {
			s.Mail = fmt.Sprintf("Messages: on hold since %s, %s.", p.Hold.Since.In(r.Zone).Format("2 Jan 2006"), p.Hold.Reason)
		}
	}
	return s, s.draw(r, f)
}

// draw makes the pictures and the table beside them.
func (s *sheet) draw(r *compliance.Record, f *compliance.Figures) (err error) {
	narrow := *r
	if from := r.Window.To.AddDays(1 - sheetDays); from.After(r.Window.From) {
		narrow.Window.From = from
	}
	if s.raster, err = chart.Raster(&narrow); err != nil {
		return err
	}
	for _, d := range f.Days {
		if d.Date.Before(narrow.Window.From) {
			continue
		}
		about, working := decimal(d.Worn.Point), decimal(d.Working.Point)
		switch {
		case d.Stated:
			about += " stated"
		case !d.Usable:
			about, working = notJudged, notJudged // what is left would be a guess
		}
		s.days = append(s.days, sheetDay{shortDay(d.Date), decimal(d.Worn.Low), decimal(d.Worn.High), about, working, decimal(d.Unknown)})
	}
	s.run = chart.Hours(r, f)
	if forecastKnown(f) {
		fan := chart.Fan(r, f)
		s.fan = &fan
	}
	return nil
}

// shortDay writes Wed 25 Nov.
func shortDay(d plan.Date) string {
	return fmt.Sprintf("%s %d %s", d.Weekday().String()[:3], d.Day, d.Month.String()[:3])
}

// planLines say what is prescribed on a day.
func planLines(r *compliance.Record, today plan.Date, n plan.Notation) []sheetLine {
	p := &r.Plan
	var out []sheetLine
	if p.Appliance == plan.Aligners {
		text := fmt.Sprintf("%d trays of %d days from %s to %s", p.Trays, p.DaysPerTray, day(p.AlignerStart), day(p.TreatmentEnd()))
		if k := today.DaysSince(p.AlignerStart); k >= 0 && k < p.Trays*p.DaysPerTray {
			text += fmt.Sprintf("; today tray %d, day %d of it", k/p.DaysPerTray+1, k%p.DaysPerTray+1)
		}
		out = append(out, sheetLine{"Aligners", text})
	} else {
		out = append(out, sheetLine{"Braces", "planned end " + day(p.PlannedEnd)})
	}
	w := p.WearOn(today)
	text := fmt.Sprintf("from %s, %v h and %s a day", day(p.Start()), w.HoursPerDay, plural(w.ChangesPerDay, "fresh set"))
	if w.Nights {
		text += ", nights only"
	}
	if !p.BandsEnd.IsZero() {
		text += ", to " + day(p.BandsEnd)
	}
	for _, e := range p.Pauses {
		if !today.Before(e.From) && !today.After(e.To) {
			text += fmt.Sprintf("; %s paused to %s", e.Of, day(e.To))
		}
	}
	out = append(out, sheetLine{"Bands", text})
	bands := p.BandsOn(today)
	for _, b := range bands {
		out = append(out, sheetLine{strings.ToUpper(string(b.Side[:1])) + string(b.Side[1:]), bandWords(b, n)})
	}
	if len(bands) == 0 {
		out = append(out, sheetLine{"Hook-up", "no band is prescribed for today"})
	}
	return out
}

// visitWords list the last readings, what is still to correct.
func visitWords(visits []store.Visit, today plan.Date) []string {
	var out []string
	for _, v := range visits {
		if !v.Date.After(today) {
			out = append(out, day(v.Date)+": "+strings.Join(stillWords(v.Still), ", "))
		}
	}
	return out[max(0, len(out)-3):]
}

// wordLines are what the patient wrote: what is still open, then the last.
func wordLines(open []store.OpenWords, last store.LastWords, zone *time.Location) []sheetLine {
	var out []sheetLine
	for n, o := range open {
		if n == openShown {
			break
		}
		out = append(out, sheetLine{o.At.In(zone).Format("2 Jan 15:04") + ", " + strings.ReplaceAll(string(o.What), "-", " ") + ", open", oneLine(o.Text, sheetWords)})
	}
	if last.Text != "" && (len(open) == 0 || !open[0].At.Equal(last.At)) {
		out = append(out, sheetLine{lastLabel(last, zone), oneLine(last.Text, sheetWords)})
	}
	return out
}
