package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"bandbell/scheduler/plan"
	"bandbell/store"
	"bandbell/store/compliance"

	"github.com/spf13/cobra"
)

func (a *app) morningVerb() *cobra.Command {
	return &cobra.Command{
		Use:   "morning",
		Short: "Print the morning list: whom to call, why, and the number to dial",
		Long: `Print whom to call and why, in the order of what waiting costs: patients on hold
first, then what is a matter of safety, then where the most time is lost. It
ends with exit code 1 where the list could not be worked out for somebody, which
is not the same as having no one to call.`,
		Example: "  bandbell morning\n  bandbell morning --json",
		Args:    exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			now, err := a.now()
			if err != nil {
				return err
			}
			db, cfg, err := a.open()
			if err != nil {
				return err
			}
			defer db.Close()
			m, err := db.Morning(c.Context(), now)
			if err != nil {
				return err
			}
			if a.json {
				err = a.print(morningJSON(m))
			} else {
				err = printMorning(a.out, m, cfg.Clinic.Zone)
			}
			if err != nil {
				return err
			}
			if n := len(m.Failed); n > 0 {
				return fmt.Errorf("could not work out the figures of %s; the list is not whole", plural(n, "patient"))
			}
			return nil
		},
	}
}

// printMorning prints the list for people, in the clinic's zone.
func printMorning(w io.Writer, m store.Morning, zone *time.Location) error {
	at := m.At.In(zone)
	switch {
	case len(m.Rows) > 0:
		fmt.Fprintf(w, "The morning list, %s: %d to look at\n", at.Format("Mon 2 Jan 2006 15:04 MST"), len(m.Rows))
	case len(m.Failed) == 0:
		fmt.Fprintf(w, "No one to call, last checked %s\n", at.Format("15:04 on Mon 2 Jan 2006, MST"))
	}
	for i, row := range m.Rows {
		fmt.Fprintf(w, "%2d. %-6s %s (%s), %s\n", i+1, row.Patient, printable(fullName(row.Who)), printable(orNoNumber(row.Who.Phone)), standingWord(row))
		for _, why := range row.Why {
			fmt.Fprintf(w, "      %s\n", printable(why))
		}
		for n, o := range row.Open {
			if n == openShown {
				break
			}
			fmt.Fprintf(w, "      %s, %s: %s\n", o.At.In(zone).Format("2 Jan 15:04"), o.What, printable(oneLine(o.Text, lastShown)))
		}
		if row.Last.Text != "" && (len(row.Open) == 0 || !row.Open[0].At.Equal(row.Last.At)) {
			fmt.Fprintf(w, "      %s: %s\n", lastLabel(row.Last, zone), printable(oneLine(row.Last.Text, lastShown)))
		}
	}
	for _, f := range m.Failed {
		fmt.Fprintf(w, "Could not be worked out: %s: %s\n", f.Ref, printable(f.Err.Error()))
	}
	_, err := fmt.Fprintf(w, "    new %d, steady %d, without a plan %d; hours are as the patients report them, not measured\n",
		m.Standings[compliance.New], m.Standings[compliance.Steady], m.NoPlan)
	return err
}

// How many letters of somebody's words, and how many of what is still open,
// stand on a list.
const (
	lastShown = 160
	openShown = 3
)

// standingWord is the standing; a hold is said with it.
func standingWord(row store.MorningRow) string {
	if row.Who.Hold.Held() {
		return string(row.Standing) + ", messages on hold"
	}
	if !row.Who.Stopped.IsZero() {
		return string(row.Standing) + ", messages stopped"
	}
	return string(row.Standing)
}

// lastLabel says when the last words came and, where it was not the patient,
// from whom.
func lastLabel(l store.LastWords, zone *time.Location) string {
	s := "last words, " + l.At.In(zone).Format("2 Jan 15:04")
	if l.Role == plan.RoleGuardian {
		s += strings.TrimRight(" (guardian "+printable(l.Name), " ") + ")"
	}
	return s
}

// oneLine joins lines and cuts a text to so many letters.
func oneLine(s string, most int) string {
	s = strings.Join(strings.Fields(s), " ")
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return strings.TrimRight(string([]rune(s)[:most-1]), " ") + "…"
}

func fullName(p plan.Patient) string { return strings.TrimSpace(p.FirstName + " " + p.LastName) }

func orNoNumber(phone string) string {
	if phone == "" {
		return "no number on file"
	}
	return phone
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// morningOut is what `morning --json` prints.
type morningOut struct {
	Checked   string                      `json:"checked"`
	Rows      []morningRowOut             `json:"rows"`
	Standings map[compliance.Standing]int `json:"standings"`
	NoPlan    int                         `json:"no_plan"`
	Failed    []morningFaultOut           `json:"failed"`
}

type morningRowOut struct {
	Patient    string              `json:"patient"`
	Name       string              `json:"name"`
	Phone      string              `json:"phone"`
	Standing   compliance.Standing `json:"standing"`
	Why        []string            `json:"why"`
	Hold       bool                `json:"hold"`
	Safety     string              `json:"safety"`
	LagPerWeek float64             `json:"lag_per_week"`
	Waiting    int                 `json:"waiting_days"`
	Open       []openOut           `json:"open"`
	Last       *lastOut            `json:"last_words"`
}

type openOut struct {
	What plan.FlagKind `json:"what"`
	At   string        `json:"at"`
	Text string        `json:"text"`
}

type lastOut struct {
	Text string    `json:"text"`
	At   string    `json:"at"`
	From plan.Role `json:"from"`
}

type morningFaultOut struct {
	Patient string `json:"patient"`
	Fault   string `json:"fault"`
}

var safetyNames = map[compliance.Safety]string{compliance.NoDanger: "none", compliance.Harm: "harm", compliance.Emergency: "emergency"}

func morningJSON(m store.Morning) morningOut {
	out := morningOut{Checked: m.At.UTC().Format(time.RFC3339), Rows: []morningRowOut{}, Standings: map[compliance.Standing]int{},
		NoPlan: m.NoPlan, Failed: []morningFaultOut{}}
	for _, s := range []compliance.Standing{compliance.Call, compliance.Quiet, compliance.Slipping, compliance.New, compliance.Steady} {
		out.Standings[s] = m.Standings[s]
	}
	for _, r := range m.Rows {
		out.Rows = append(out.Rows, morningRowOut{r.Patient, fullName(r.Who), r.Who.Phone, r.Standing, r.Why, r.Who.Hold.Held(),
			safetyNames[r.Safety], math.Round(r.LagPerWeek*1e6) / 1e6, r.Waiting, openJSON(r.Open), lastJSON(r.Last)})
	}
	for _, f := range m.Failed {
		out.Failed = append(out.Failed, morningFaultOut{f.Ref, f.Err.Error()})
	}
	return out
}

func openJSON(open []store.OpenWords) []openOut {
	out := []openOut{}
	for _, o := range open {
		out = append(out, openOut{o.What, o.At.UTC().Format(time.RFC3339), o.Text})
	}
	return out
}

func lastJSON(l store.LastWords) *lastOut {
	if l.Text == "" {
		return nil
	}
	return &lastOut{l.Text, l.At.UTC().Format(time.RFC3339), l.Role}
}
