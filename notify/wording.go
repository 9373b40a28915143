package notify

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"bandbell/scheduler/plan"
	"bandbell/templates"
)

// The topics of answers that are messages of their own kind. An emergency
// without a word on how bad it is gets the text for the worst.
const (
	topicStopped   = "stopped"
	topicEmergency = "emergency"
	topicYellow    = "emergency-yellow" // signs to act on today, none of them a danger to life
)

// mealWords name what the bands are changed after, as it stands behind
// "after". A meal without a name of its own has no word; bedtime is not after
// anything.
var mealWords = map[string]map[plan.MealCode]string{
	"en": {plan.AfterBreakfast: "breakfast", plan.AfterLunch: "lunch", plan.AfterDinner: "dinner", plan.AfterMeal: "", plan.Bedtime: "bedtime"},
	"es": {plan.AfterBreakfast: "el desayuno", plan.AfterLunch: "el almuerzo", plan.AfterDinner: "la cena", plan.AfterMeal: "", plan.Bedtime: "la hora de dormir"},
}

// request fills in what the texts are asked with.
func (c *Composer) request(job plan.Job, id identity) (Request, error) {
	r := Request{
		Language: languageOf(job), ReplyTo: string(id.reply), Token: id.token,
		Guardian: job.To.Role == plan.RoleGuardian,
		Values:   map[string]string{}, Numbers: map[string]int{},
	}
	r.set("first_name", job.Patient.FirstName)
	r.set("clinic_name", c.Clinic.Name)
	r.set("clinic_phone", c.Clinic.Phone)
	r.set("emergency_number", c.Clinic.Emergency)
	switch job.Cause {
	case plan.CauseNudge:
		err := c.nudge(job, &r)
		return r, err
	case plan.CauseAnswer:
		switch job.Topic {
		case "":
			return r, errors.New("an answer without a topic")
		case topicStopped:
			r.Kind = "stopped"
		case topicEmergency:
			r.Kind, r.Variant = "emergency", "red"
		case topicYellow:
			r.Kind, r.Variant = "emergency", "yellow"
		default:
			r.Kind, r.Variant = "answer", job.Topic
		}
	case plan.CauseConsent, plan.CauseTest:
		r.Kind = string(job.Cause)
	default:
		return r, fmt.Errorf("no texts are made for cause %q", string(job.Cause))
	}
	return r, nil
}

// set gives a placeholder its value; an empty one stays absent, so that the
// texts can leave out what is not known.
func (r *Request) set(name, value string) {
	if value != "" {
		r.Values[name] = value
	}
}

func (r *Request) count(name string, n int) {
	if n > 0 {
		r.Numbers[name] = n
	}
}

func (c *Composer) nudge(job plan.Job, r *Request) error {
	n, p := job.Nudge, job.Plan
	about := aboutDay(n, p)
	wear := p.WearOn(about)
	r.Kind = string(n.Kind)
	r.set("when", dateWords(about, r.Language))
	r.set("wear_start_date", dateWords(p.Start(), r.Language))
	r.set("last_day", dateWords(p.BandsEnd, r.Language))
	r.set("hooks", c.hookUps(p.BandsOn(about), r.Language))
	r.count("hours_per_day", int(math.Round(wear.HoursPerDay)))
	r.count("changes_per_day", wear.ChangesPerDay)
	r.count("day_number", about.DaysSince(p.Start())+1)
	switch n.Kind {
	case plan.BandChange:
		return r.meal(n)
	case plan.WearStart:
		r.Variant, _, _ = strings.Cut(n.Slot, "/")
		r.set("stopped_hooks", c.hookUps(endedBefore(p, about), r.Language))
	case plan.Soreness:
		return r.soreness(n)
	default:
		return fmt.Errorf("no texts are made for nudges of kind %q", string(n.Kind))
	}
	return nil
}

// meal reads a band-change slot: 2026-06-01/PCM.
func (r *Request) meal(n plan.Nudge) error {
	_, code, _ := strings.Cut(n.Slot, "/")
	word, ok := mealWords[baseTag(r.Language)][plan.MealCode(code)]
	if !ok {
		return errors.New("the slot names no meal we know")
	}
	r.Variant = code
	if n.Whole {
		r.Variant = "day"
		return nil
	}
	r.set("meal", word)
	return nil
}

// soreness reads a soreness slot, s3 or 2026-06-20/s1 after a restart; the day
// number counts from the start it belongs to.
func (r *Request) soreness(n plan.Nudge) error {
	day, mark := n.Slot, ""
	if _, after, ok := strings.Cut(n.Slot, "/"); ok {
		day, mark = after, "r"
	}
	day = strings.TrimPrefix(day, "s")
	k, err := strconv.Atoi(day)
	if err != nil || k < 1 {
		return errors.New("the slot names no day of soreness we know")
	}
	r.Variant = mark + strconv.Itoa(k)
	r.count("day_number", k)
	return nil
}

// aboutDay is the day a nudge speaks of: the first day of wear in the notices
// ahead of it, else its own.
func aboutDay(n plan.Nudge, p plan.Plan) plan.Date {
	if n.Kind == plan.WearStart && n.Day.Before(p.Start()) {
		return p.Start()
	}
	return n.Day
}

// endedBefore lists the prescriptions whose last day was the day before.
func endedBefore(p plan.Plan, day plan.Date) []plan.Prescription {
	var out []plan.Prescription
	for _, b := range p.Bands {
		if !b.To.IsZero() && b.To.AddDays(1) == day {
			out = append(out, b)
		}
	}
	return out
}

// hookUps describes prescriptions in the order of the plan: in words, or by
// numbers alone where the words would be too long for a value of the texts.
func (c *Composer) hookUps(bands []plan.Prescription, lang string) string {
	notation := c.Clinic.Notation
	if notation == "" {
		notation = plan.ISO
	}
	t := tongueOf(lang)
	var long, short []string
	for _, b := range bands {
		long = append(long, t.hookUp(b, notation))
		short = append(short, t.numbers(b, notation))
	}
	for _, lines := range [][]string{long, short} {
		if s := strings.Join(lines, "; "); utf8.RuneCountInString(s) <= templates.MaxValue {
			return s
		}
	}
	return ""
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

// baseTag is the first part of a BCP 47 tag where we have words for it, else
// English.
func baseTag(tag string) string {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if _, ok := mealWords[base]; ok {
		return base
	}
	return "en"
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
