package main

import (
	"fmt"
	"strings"
	"time"

	"bandbell/scheduler/plan"

	"github.com/spf13/cobra"
)

func (a *app) patientVerbs() *cobra.Command {
	c := &cobra.Command{
		Use:   "patient",
		Short: "Add, list and show patients; record consent; pause, resume, stop; export",
		RunE:  needVerb,
	}
	c.AddCommand(a.patientAddVerb(), a.patientListVerb(), a.patientShowVerb(), a.patientConsentVerb(),
		a.patientPauseVerb(), a.patientResumeVerb(), a.patientStopVerb(), a.patientExportVerb())
	return c
}

// needVerb answers a verb that only groups others.
func needVerb(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return c.Help()
	}
	c.SuggestionsMinimumDistance = 2
	hint := c.CommandPath() + " --help"
	if s := c.SuggestionsFor(args[0]); len(s) > 0 {
		hint = fmt.Sprintf("did you mean %q?", c.CommandPath()+" "+s[0])
	}
	return usage("%s has no %q\n  hint: %s", c.CommandPath(), args[0], hint)
}

func (a *app) patientAddVerb() *cobra.Command {
	var p plan.Patient
	var addr, zone, latex, born string
	var guardians []string
	c := &cobra.Command{
		Use:   "add",
		Short: "Enrol a patient",
		Long: `Enrol a patient. Nothing is sent before consent is recorded (patient consent)
and a plan is set (plan set).`,
		Example: `  bandbell patient add --first-name Ada --address ada@example.org --latex-allergy no
  bandbell patient add --first-name Ben --address ben@example.org --guardian "Carla=carla@example.org" --language es`,
		Args: exactly(0, "no argument, only flags"),
	}
	f := c.Flags()
	f.StringVar(&p.FirstName, "first-name", "", "first `NAME`, the only one that stands in messages")
	f.StringVar(&p.LastName, "last-name", "", "last `NAME`, for the desk's lists")
	f.StringVar(&addr, "address", "", "e-mail `ADDRESS`")
	f.StringVar(&p.Phone, "phone", "", "`NUMBER` to dial")
	f.StringVar(&p.Language, "language", "", "language of the messages: en or es (default the clinic's)")
	f.StringVar(&zone, "zone", "", "time `ZONE` the patient lives in (default the clinic's)")
	f.StringVar(&latex, "latex-allergy", string(plan.NotAsked), "yes, no or not-asked; a latex band needs a no")
	f.StringVar(&born, "born", "", "`DATE` of birth")
	f.StringArrayVar(&guardians, "guardian", nil, "a guardian to be written to as well, `NAME=ADDRESS`; may stand several times")
	c.RunE = func(c *cobra.Command, _ []string) error {
		now, err := a.now()
		if err != nil {
			return err
		}
		db, cfg, err := a.open()
		if err != nil {
			return err
		}
		defer db.Close()
		if p.Language == "" {
			p.Language = cfg.Clinic.Language
		}
		if p.Zone = zone; zone == "" {
			p.Zone = cfg.Clinic.ZoneName
		}
		if err := fillPatient(&p, addr, latex, born, guardians); err != nil {
			return err
		}
		p.Created = now
		added, err := db.AddPatient(c.Context(), p, actor, now)
		if err != nil {
			return fmt.Errorf("add the patient: %w", err)
		}
		if a.json {
			return a.print(patientJSON(added))
		}
		fmt.Fprintln(a.out, added.Ref)
		fmt.Fprintf(a.err, "added. Next: bandbell patient consent %s --how paper --by YOU, then bandbell plan set %s FILE\n", added.Ref, added.Ref)
		return nil
	}
	return c
}

// fillPatient checks what the flags say and returns every fault at once.
func fillPatient(p *plan.Patient, addr, latex, born string, guardians []string) error {
	var fs plan.Faults
	fault := func(flag, what, hint string) { fs = append(fs, plan.Fault{Path: "--" + flag, What: what, Hint: hint}) }
	name := func(flag, v string) {
		if strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r == 0x7f }) || len(v) > 200 {
			fault(flag, "holds a control character or is too long", "at most 200 letters on one line")
		}
	}
	if strings.TrimSpace(p.FirstName) == "" {
		fault("first-name", "is missing", "")
	}
	name("first-name", p.FirstName)
	name("last-name", p.LastName)
	name("phone", p.Phone)
	if p.Language != "en" && p.Language != "es" {
		fault("language", fmt.Sprintf("%q is not a language of the messages", p.Language), "en or es")
	}
	if _, err := time.LoadLocation(p.Zone); err != nil || p.Zone == "" || p.Zone == "Local" {
		fault("zone", fmt.Sprintf("%q is no time zone", p.Zone), "use an IANA name, such as America/New_York")
	}
	switch p.LatexAllergy = plan.Answer(latex); p.LatexAllergy {
	case plan.Yes, plan.No, plan.NotAsked:
	default:
		fault("latex-allergy", fmt.Sprintf("%q is not known", latex), "yes, no or not-asked")
	}
	if born != "" {
		d, err := plan.ParseDate(born)
		if err != nil {
			fault("born", err.Error(), "")
		}
		p.Born = d
	}
	take := func(flag, address string, r plan.Recipient) {
		parsed, err := plan.ParseAddress(address)
		if err != nil {
			fault(flag, err.Error(), "")
		}
		r.Address = parsed
		p.Recipients = append(p.Recipients, r)
	}
	take("address", addr, plan.Recipient{Role: plan.RolePatient})
	for _, g := range guardians {
		who, address, ok := strings.Cut(g, "=")
		if !ok || strings.TrimSpace(who) == "" {
			fault("guardian", "needs a name and an address", "write NAME=ADDRESS")
			continue
		}
		name("guardian", who)
		take("guardian", address, plan.Recipient{Role: plan.RoleGuardian, Name: strings.TrimSpace(who)})
	}
	if err := fs.Err(); err != nil {
		return wrongUse{err}
	}
	return nil
}

func (a *app) patientListVerb() *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the patients", Args: exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			db, _, err := a.open()
			if err != nil {
				return err
			}
			defer db.Close()
			patients, err := db.Patients(c.Context())
			if err != nil {
				return fmt.Errorf("list the patients: %w", err)
			}
			list := []patientOut{}
			t := newTable(a.out, "patient", "name", "language", "zone", "mail", "hold")
			for _, p := range patients {
				out := patientJSON(p)
				list = append(list, out)
				t.row(p.Ref, p.FirstName+" "+p.LastName, p.Language, p.Zone, out.Mail, p.Hold.Reason)
			}
			if a.json {
				return a.print(map[string]any{"patients": list})
			}
			t.flush()
			return nil
		},
	}
}

func (a *app) patientShowVerb() *cobra.Command {
	return &cobra.Command{
		Use: "show PATIENT", Short: "Show one patient", Args: exactly(1, "a PATIENT"),
		RunE: func(c *cobra.Command, args []string) error {
			db, _, err := a.open()
			if err != nil {
				return err
			}
			defer db.Close()
			p, err := db.Patient(c.Context(), args[0])
			if err != nil {
				return fmt.Errorf("show patient %s: %w", args[0], err)
			}
			out := patientJSON(p)
			if a.json {
				return a.print(out)
			}
			t := newTable(a.out, "patient", p.Ref)
			t.row("name", strings.TrimSpace(p.FirstName+" "+p.LastName))
			t.row("phone", p.Phone)
			t.row("language, zone", p.Language+", "+p.Zone)
			t.row("latex allergy", string(p.LatexAllergy))
			t.row("mail", out.Mail)
			if p.Hold.Held() {
				t.row("on hold", p.Hold.Reason+", since "+p.Hold.Since.Format(time.RFC3339))
			}
			for _, r := range out.Recipients {
				t.row("written to", fmt.Sprintf("%s %s <%s>, consent: %s", r.Role, r.Name, r.Address, orNone(r.ConsentHow)))
			}
			t.flush()
			return nil
		},
	}
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// patientOut is a patient as the verbs print one.
type patientOut struct {
	Patient      string         `json:"patient"`
	FirstName    string         `json:"first_name"`
	LastName     string         `json:"last_name"`
	Phone        string         `json:"phone"`
	Language     string         `json:"language"`
	Zone         string         `json:"zone"`
	LatexAllergy plan.Answer    `json:"latex_allergy"`
	Born         plan.Date      `json:"born"`
	Created      string         `json:"created"`
	Mail         string         `json:"mail"` // in words: whether anything is sent
	HoldSince    *string        `json:"hold_since"`
	HoldReason   string         `json:"hold_reason"`
	Recipients   []recipientOut `json:"recipients"`
}

type recipientOut struct {
	Role       plan.Role    `json:"role"`
	Name       string       `json:"name"`
	Address    plan.Address `json:"address"`
	ConsentAt  *string      `json:"consent_at"`
	ConsentHow string       `json:"consent_how"`
	Stopped    *string      `json:"stopped"`
	Bounced    *string      `json:"bounced"`
}

func patientJSON(p plan.Patient) patientOut {
	out := patientOut{
		Patient: p.Ref, FirstName: p.FirstName, LastName: p.LastName, Phone: p.Phone, Language: p.Language, Zone: p.Zone,
		LatexAllergy: p.LatexAllergy, Born: p.Born, Created: p.Created.UTC().Format(time.RFC3339), Mail: "nobody consented yet",
		HoldSince: instant(p.Hold.Since), HoldReason: p.Hold.Reason, Recipients: []recipientOut{},
	}
	for _, r := range p.Recipients {
		out.Recipients = append(out.Recipients, recipientOut{r.Role, r.Name, r.Address, instant(r.Consent.At), r.Consent.How, instant(r.Stopped), instant(r.Bounced)})
		if r.Consent.Given() && r.Stopped.IsZero() && r.Bounced.IsZero() {
			out.Mail = "on"
		}
	}
	switch {
	case !p.Stopped.IsZero():
		out.Mail = "stopped"
	case p.Hold.Held():
		out.Mail = "on hold"
	}
	return out
}

func instant(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.UTC().Format(time.RFC3339)
	return &s
}
