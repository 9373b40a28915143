package notify

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"
)

// variants of band-change, by the meal event of the slot.
var mealVariants = map[plan.MealCode]string{
	plan.AfterBreakfast: "after-breakfast",
	plan.AfterLunch:     "after-lunch",
	plan.AfterDinner:    "after-dinner",
	plan.AfterMeal:      "after-meal",
	plan.Bedtime:        "bedtime",
}

var mealWords = map[string]map[plan.MealCode]string{
	"en": {plan.AfterBreakfast: "breakfast", plan.AfterLunch: "lunch", plan.AfterDinner: "dinner", plan.AfterMeal: "meal", plan.Bedtime: "bedtime"},
	"es": {plan.AfterBreakfast: "desayuno", plan.AfterLunch: "almuerzo", plan.AfterDinner: "cena", plan.AfterMeal: "comida", plan.Bedtime: "hora de dormir"},
}

// words asks the texts for a job's message.
func (c *Composer) words(job plan.Job, id identity) (Text, error) {
	r, err := c.request(job, id)
	if err != nil {
		return Text{}, err
	}
	return c.Texts.Render(r)
}

// request fills in what the texts are asked with.
func (c *Composer) request(job plan.Job, id identity) (Request, error) {
	lang := languageOf(job)
	r := Request{Language: lang, ReplyTo: string(id.reply), Values: map[string]string{
		"clinic": c.Clinic.Name, "phone": c.Clinic.Phone, "first_name": greeted(job), "ref": id.token,
	}}
	switch job.Cause {
	case plan.CauseNudge:
		return c.nudge(job, r)
	case plan.CauseAnswer:
		r.Kind, r.Variant = "answer", job.Topic
		if job.Topic == "" {
			return r, fmt.Errorf("an answer without a topic")
		}
	case plan.CauseConsent, plan.CauseTest:
		r.Kind = string(job.Cause)
	default:
		return r, fmt.Errorf("no texts are made for cause %q", job.Cause)
	}
	return r, nil
}

func (c *Composer) nudge(job plan.Job, r Request) (Request, error) {
	n, p := job.Nudge, job.Plan
	r.Kind = string(n.Kind)
	r.Values["date"] = dateWords(n.Day, r.Language)
	r.Values["start_date"] = dateWords(p.Start(), r.Language)
	r.Values["hookup"] = strings.Join(c.hookUps(p, hookDay(n, p), r.Language), "\n")
	switch n.Kind {
	case plan.BandChange:
		_, code, _ := strings.Cut(n.Slot, "/")
		meal := plan.MealCode(code)
		variant, ok := mealVariants[meal]
		if !ok {
			return r, fmt.Errorf("slot names no meal we know")
		}
		if n.Whole {
			variant = "whole-day"
		}
		r.Variant = variant
		r.Values["meal"] = mealWords[baseTag(r.Language)][meal]
	case plan.WearStart:
		r.Variant, _, _ = strings.Cut(n.Slot, "/")
	case plan.Soreness:
		_, day, ok := strings.Cut(n.Slot, "/")
		prefix := "restart-"
		if !ok {
			day, prefix = n.Slot, ""
		}
		day = strings.TrimPrefix(day, "s")
		if _, err := strconv.Atoi(day); err != nil {
			return r, fmt.Errorf("slot names no day we know")
		}
		r.Variant, r.Values["day"] = prefix+day, day
	default:
		return r, fmt.Errorf("no texts are made for nudges of kind %q", n.Kind)
	}
	return r, nil
}

// hookDay is the day whose prescriptions a nudge shows: the first day of wear
// for the notices ahead of it, else its own.
func hookDay(n plan.Nudge, p plan.Plan) plan.Date {
	if n.Kind == plan.WearStart && n.Day.Before(p.Start()) {
		return p.Start()
	}
	return n.Day
}

// hookUps describes the prescriptions in force on a day, one a line.
func (c *Composer) hookUps(p plan.Plan, day plan.Date, lang string) []string {
	notation := c.Clinic.Notation
	if notation == "" {
		notation = plan.ISO
	}
	t := tongueOf(lang)
	var lines []string
	for _, b := range p.BandsOn(day) {
		lines = append(lines, t.hookUp(b, notation))
	}
	return lines
}

// languageOf is the recipient's language, else the patient's, else English.
func languageOf(job plan.Job) string {
	switch {
	case job.To.Language != "":
		return job.To.Language
	case job.Patient.Language != "":
		return job.Patient.Language
	}
	return "en"
}

func baseTag(tag string) string {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if _, ok := mealWords[base]; ok {
		return base
	}
	return "en"
}

// greeted is the first name of whoever is written to.
func greeted(job plan.Job) string {
	if job.To.Role == plan.RoleGuardian && job.To.Name != "" {
		return job.To.Name
	}
	return job.Patient.FirstName
}

var (
	spanishDays   = [...]string{"domingo", "lunes", "martes", "miércoles", "jueves", "viernes", "sábado"}
	spanishMonths = [...]string{"", "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"}
)

// dateWords writes a day out: Monday 1 June 2026, lunes 1 de junio de 2026.
func dateWords(d plan.Date, lang string) string {
	if d.IsZero() {
		return ""
	}
	if baseTag(lang) == "es" {
		return fmt.Sprintf("%s %d de %s de %d", spanishDays[d.Weekday()], d.Day, spanishMonths[d.Month], d.Year)
	}
	return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Format("Monday 2 January 2006")
}
