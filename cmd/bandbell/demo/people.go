package demo

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bandbell/scheduler/plan"
)

// habit is how a person of the demo lives with the bands and with the mail.
type habit string

const (
	diligent  habit = "diligent"
	forgetful habit = "forgetful"
	sore      habit = "sore"
	holiday   habit = "on holiday"
	silent    habit = "silent"
	bilingual habit = "bilingual"
	sibling   habit = "siblings on one address"
	latex     habit = "latex alarm"
	bounces   habit = "address that bounces"
	responder habit = "auto-responder"
)

// order is which habit each enrolled person has, so that a small clinic shows
// the rare ones too.
var order = []habit{
	diligent, forgetful, latex, bilingual, sore, bounces, responder, sibling, sibling, holiday,
	silent, diligent, forgetful, diligent, bilingual, diligent, sore, forgetful, diligent, holiday,
	diligent, forgetful, silent, diligent, bilingual, diligent, forgetful, diligent, sibling, diligent,
}

// The people are invented.
var (
	firstNames = []string{"Ada", "Ben", "Cleo", "Diego", "Elif", "Finn", "Greta", "Hugo", "Iris", "Jonas", "Kira", "Leon", "Mila", "Noor",
		"Oscar", "Paula", "Quinn", "Rosa", "Sami", "Tessa", "Uma", "Viktor", "Wren", "Xenia", "Yusuf", "Zoe", "Anouk", "Basil", "Carmen", "Dario"}
	lastNames = []string{"Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Gorse", "Hazel", "Ivy", "Juniper"}
)

// person is one invented patient: who is enrolled, with which plan, and how
// they behave.
type person struct {
	plan.Patient
	habit   habit
	written plan.Plan
	luck    *rand.Rand // what they do next; their own, so that others change nothing
	asked   int        // nudges that reached them
	alarmed bool       // the latex alarm was given
	away    bool       // the auto-responder answered
}

// people enrols n invented patients. The same seed gives the same people.
func people(n int, seed uint64, start plan.Date, zone *time.Location) []*person {
	var out []*person
	for i := range n {
		h := order[i%len(order)]
		p := &person{habit: h, luck: rand.New(rand.NewPCG(seed, uint64(i)))}
		p.FirstName = firstNames[i%len(firstNames)]
		p.LastName = lastNames[i/len(firstNames)%len(lastNames)] + suffix(i/(len(firstNames)*len(lastNames)))
		p.Ref = fmt.Sprintf("DEMO%02d", i+1)
		p.Language, p.Zone, p.LatexAllergy = "en", zone.String(), plan.No
		p.Phone = fmt.Sprintf("+1 555 01%02d", i%100)
		if h == bilingual {
			p.Language = "es"
		}
		address := fmt.Sprintf("%s%d@patients.example.org", lower(p.FirstName), i+1)
		if h == sibling {
			address = "family@patients.example.org"
		}
		p.Recipients = []plan.Recipient{{Role: plan.RolePatient, Address: plan.Address(address),
			Consent: plan.Consent{At: plan.DayStart(start, zone), How: "paper", By: "front desk", Text: "clinic"}}}
		p.written = planFor(i, h, start)
		out = append(out, p)
	}
	return out
}

func suffix(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" %d", n+1)
}

func lower(s string) string {
	b := []byte(s)
	b[0] |= 0x20 // the names are ASCII and begin with a capital
	return string(b)
}

// planFor writes a plan as a clinic would. Starts are staggered, so that within
// the six weeks of the demo some begin their bands and others are well into them.
func planFor(i int, h habit, start plan.Date) plan.Plan {
	p := plan.Plan{
		Appliance: plan.Aligners, DaysPerTray: 10, Trays: 24, HoursPerDay: plan.DefaultHoursPerDay, ChangesPerDay: plan.DefaultChangesPerDay,
		AlignerStart: start.AddDays(-plan.WeekThree - 3 + (i*4)%17),
		NoticeAt:     plan.DefaultNoticeAt, EveningAt: plan.DefaultEveningAt, UsefulMin: plan.DefaultUsefulMin,
		Quiet: plan.Quiet{From: 22*60 + 30, To: 6*60 + 30},
		Meals: []plan.Meal{
			{Code: plan.AfterBreakfast, At: plan.Clock(7*60 + 15 + i%4*5), Minutes: 20, Days: plan.AllDays},
			{Code: plan.AfterLunch, At: plan.Clock(12*60 + i%6*5), Minutes: 30, Days: plan.AllDays},
			{Code: plan.AfterDinner, At: plan.Clock(18*60 + 30 + i%5*6), Minutes: 30, Days: plan.AllDays},
			{Code: plan.Bedtime, At: plan.Clock(21*60 + 30 + i%3*10), Days: plan.AllDays},
		},
	}
	from := p.Start()
	band := func(side plan.Side, upper, lower plan.Tooth, pattern plan.Pattern, latex bool) plan.Prescription {
		return plan.Prescription{From: from, Side: side, Pattern: pattern, Upper: []plan.Hook{{Tooth: upper}}, Lower: []plan.Hook{{Tooth: lower}},
			Lumen: 6.35, Force: 4.5, Latex: latex, Bag: "Otter"}
	}
	rubber := i%3 != 1
	switch i % 4 {
	case 0, 1: // Class II on both sides
		p.Bands = []plan.Prescription{band(plan.Right, 13, 46, plan.ClassII, rubber), band(plan.Left, 23, 36, plan.ClassII, rubber)}
	case 2: // Class III on both sides
		p.Bands = []plan.Prescription{band(plan.Right, 16, 43, plan.ClassIII, rubber), band(plan.Left, 26, 33, plan.ClassIII, rubber)}
	case 3: // a Class II against a triangle that holds the good side
		hold := band(plan.Left, 23, 33, plan.Triangle, rubber)
		hold.Lower = append(hold.Lower, plan.Hook{Tooth: 34})
		p.Bands = []plan.Prescription{band(plan.Right, 13, 46, plan.ClassII, rubber), hold}
	}
	p.Bags = []plan.Bag{{Date: from, Count: 400}}
	if h == holiday {
		away := from.AddDays(9)
		p.Pauses = []plan.Pause{{From: away, To: away.AddDays(6), Of: plan.PauseMail}}
	}
	return p
}
