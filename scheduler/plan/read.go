package plan

import (
	"encoding/json"
	"slices"
	"strings"
	"time"
)

// ReadPlan reads a plan from JSON, the object that stands under "plan" in a
// patient's record. Every fault is returned at once, as Faults with line and
// column: unknown keys, wrong kinds of value, and whatever Plan.Check finds.
func ReadPlan(name string, text []byte) (Plan, error) {
	d, err := ReadDocument(name, text)
	if err != nil {
		return Plan{}, err
	}
	p := DecodePlan(d.Object(d.Root, ""))
	return p, d.Err()
}

// DecodePlan reads a plan from an object of a larger document and notes its
// faults there.
func DecodePlan(o *Object) Plan {
	before := len(o.doc.faults)
	appliance := Appliance(o.Word("appliance", string(Aligners), string(Aligners), string(Braces)))
	unsure := len(o.doc.faults) > before // a word that was neither: nothing is missing for it
	p := Plan{
		Appliance:     appliance,
		PlannedEnd:    o.Date("planned_end"),
		BandsStart:    o.Date("bands_start"),
		BandsEnd:      o.Date("bands_end"),
		HoursPerDay:   o.Number("hours_per_day", DefaultHoursPerDay, smallest, 24),
		ChangesPerDay: o.Int("changes_per_day", DefaultChangesPerDay, 1, maxChanges),
		NoticeAt:      o.Clock("notice_at", DefaultNoticeAt),
		EveningAt:     o.Clock("evening_at", DefaultEveningAt),
		UsefulMin:     o.Int("useful_min", DefaultUsefulMin, 1, 1440),
		Restarts:      o.Dates("restarts"),
	}
	if p.Appliance == Braces {
		o.Forbid("has no place in a plan for braces", `remove it, or write "appliance": "aligners"`, "aligner_start", "days_per_tray", "trays")
		o.Need("bands_start", "planned_end")
	} else {
		if !unsure {
			o.Need("aligner_start", "days_per_tray", "trays")
		}
		p.AlignerStart = o.Date("aligner_start")
		p.DaysPerTray = o.Int("days_per_tray", 0, 1, 366)
		p.Trays = o.Int("trays", 0, 1, 1000)
	}
	if q := o.Child("quiet"); q != nil {
		q.Need("from", "to")
		p.Quiet = Quiet{q.Clock("from", 0), q.Clock("to", 0)}
		q.Done()
	}
	o.Each("wear", func(e *Object) {
		e.Need("from", "hours_per_day", "changes_per_day")
		p.Wear = append(p.Wear, Wear{e.Date("from"), e.Number("hours_per_day", 1, smallest, 24),
			e.Int("changes_per_day", 1, 1, maxChanges), e.Bool("nights")})
	})
	o.Each("meals", func(e *Object) { p.Meals = append(p.Meals, decodeMeal(e)) })
	o.Each("pauses", func(e *Object) {
		e.Need("from", "to")
		p.Pauses = append(p.Pauses, Pause{e.Date("from"), e.Date("to"),
			PauseOf(e.Word("of", string(PauseMail), string(PauseMail), string(PauseBands)))})
	})
	o.Each("cadence", func(e *Object) {
		e.Need("from", "level")
		p.Cadence = append(p.Cadence, Cadence{e.Date("from"), e.Int("level", 3, 1, 3)})
	})
	o.Each("bands", func(e *Object) { p.Bands = append(p.Bands, decodeBand(e)) })
	o.Each("bags", func(e *Object) {
		e.Need("date", "count")
		p.Bags = append(p.Bags, Bag{e.Date("date"), e.Int("count", 1, 1, 100000)})
	})
	o.Done()
	slices.SortFunc(p.Restarts, Date.Compare) // a day named twice is one restart
	p.Restarts = slices.Compact(p.Restarts)
	prefix := ""
	if o.path != "" {
		prefix = o.path + "."
	}
	o.doc.FaultAt(prefix, sound(p.Check(), prefix, o.doc.faults[before:]))
	return p
}

const maxChanges = 24 // a day: one an hour

func decodeMeal(e *Object) Meal {
	e.Need("code", "at")
	m := Meal{
		Code: MealCode(e.Word("code", "", string(AfterBreakfast), string(AfterLunch), string(AfterDinner), string(AfterMeal), string(Bedtime))),
		At:   e.Clock("at", 0),
		Days: AllDays,
	}
	length := DefaultMealMin
	if m.Code == Bedtime {
		length = 0
	}
	m.Minutes = e.Int("minutes", length, 0, 720)
	if e.Get("days") == nil {
		return m
	}
	m.Days = 0
	items := e.List("days")
	for i, n := range items {
		s, _ := n.value.(string)
		day := slices.Index(weekdayNames[:], s)
		if day < 0 {
			e.doc.Fault(n, e.at("days", i), "is not a day of the week", "one of "+strings.Join(weekdayNames[1:], ", ")+", "+weekdayNames[0])
			continue
		}
		m.Days |= 1 << day
	}
	if items != nil && len(items) == 0 {
		e.doc.Fault(e.Get("days"), e.Path("days"), "names no day", "leave the key out for every day")
	}
	return m
}

// weekdayNames are the names of the days in a plan, by time.Weekday.
var weekdayNames = [7]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

func decodeBand(e *Object) Prescription {
	e.Need("from", "side", "pattern", "upper", "lower", "lumen_mm", "force_oz", "latex")
	b := Prescription{
		From: e.Date("from"),
		To:   e.Date("to"),
		Side: Side(e.Word("side", "", string(Right), string(Left), string(Front))),
		Pattern: Pattern(e.Word("pattern", "", string(ClassII), string(ClassIII), string(VerticalBox), string(Triangle),
			string(AnteriorBox), string(AnteriorTrapezoid), string(AnteriorDiagonal), string(Settling), string(CrossBite))),
		Upper: decodeHooks(e, "upper"),
		Lower: decodeHooks(e, "lower"),
		Lumen: exactLumen(e.Number("lumen_mm", 6.35, minLumen, maxLumen)),
		Force: Force(e.Number("force_oz", 4.5, minForce, maxForce)),
		Latex: e.Bool("latex"),
		Bag:   e.String("bag"),
	}
	return b
}

func decodeHooks(e *Object, key string) []Hook {
	var out []Hook
	for i, n := range e.List(key) {
		switch v := n.value.(type) {
		case json.Number:
			t, err := v.Int64()
			if err != nil || !Tooth(t).Valid() {
				e.doc.Fault(n, e.at(key, i), v.String()+" is not a tooth", toothHint)
				t = 0 // keeps its place, so that those behind it keep theirs
			}
			out = append(out, Hook{Tooth: Tooth(t)})
		case []member:
			h := e.doc.Object(n, e.at(key, i))
			h.Need("tooth")
			hook := Hook{
				Tooth:   Tooth(h.Int("tooth", 0, 11, 85)),
				Surface: Surface(h.Word("surface", "", string(Cheek), string(Tongue))),
				Kind:    HookKind(h.Word("kind", "", string(AlignerCut), string(Button), string(Bracket), string(Wire), string(MiniScrew))),
			}
			h.Done()
			if hook.Tooth != 0 && !hook.Tooth.Valid() { // 0: missing, and noted as such
				e.doc.Fault(n, e.at(key, i), hook.Tooth.String()+" is not a tooth", toothHint)
			}
			out = append(out, hook)
		default:
			e.doc.Fault(n, e.at(key, i), "must be a tooth, not "+n.kind(), `write its number, or {"tooth":13,"surface":"cheek","kind":"button"}`)
			out = append(out, Hook{})
		}
	}
	return out
}

const toothHint = "use the two digits of ISO 3950: 13 is the upper right canine, 46 the lower right first molar"

// names lists the days of the set, Monday first.
func (w Weekdays) names() []string {
	var out []string
	for i := range 7 {
		day := time.Weekday((i + 1) % 7) // Monday first
		if w.Has(day) {
			out = append(out, weekdayNames[day])
		}
	}
	return out
}
