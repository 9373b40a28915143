package plan

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// least are the keys every plan for aligners needs; tests add theirs.
const least = `"aligner_start":"2026-05-18","days_per_tray":10,"trays":24`

func TestDefaults(t *testing.T) {
	want := Plan{
		Appliance: Aligners, AlignerStart: Date{2026, 5, 18}, DaysPerTray: 10, Trays: 24,
		HoursPerDay: 22, ChangesPerDay: 4, NoticeAt: 8 * 60, EveningAt: 17*60 + 30, UsefulMin: 90,
	}
	for name, text := range map[string]string{
		"absent": `{` + least + `}`,
		"null": `{` + least + `,"appliance":null,"planned_end":null,"bands_start":null,"bands_end":null,"hours_per_day":null,"changes_per_day":null,
			"wear":null,"meals":null,"quiet":null,"notice_at":null,"evening_at":null,"useful_min":null,"restarts":null,"pauses":null,"cadence":null,"bands":null,"bags":null}`,
		"byte order mark": "\xef\xbb\xbf{" + least + "}",
	} {
		got, err := ReadPlan("plan.json", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

func TestEveryKey(t *testing.T) {
	text := `{"appliance":"aligners","aligner_start":"2026-05-18","days_per_tray":10,"trays":24,"planned_end":"2027-03-01",
 "bands_start":"2026-06-02","bands_end":"2027-01-31","hours_per_day":20.5,"changes_per_day":3,
 "wear":[{"from":"2026-09-01","hours_per_day":10,"changes_per_day":1,"nights":true},{"from":"2026-10-01","hours_per_day":24,"changes_per_day":4}],
 "meals":[{"code":"PCM","at":"07:30","minutes":20,"days":["mon","fri","sun"]},{"code":"HS","at":"22:00"},{"code":"PC","at":"16:00"}],
 "quiet":{"from":"21:45","to":"07:00"},"notice_at":"09:00","evening_at":"18:00","useful_min":60,
 "restarts":["2026-07-20","2026-06-20","2026-07-20"],
 "pauses":[{"from":"2026-07-01","to":"2026-07-05"},{"from":"2026-08-01","to":"2026-08-01","of":"bands"}],
 "cadence":[{"from":"2026-06-01","level":2}],
 "bands":[{"from":"2026-06-01","to":"2026-08-31","side":"right","pattern":"class-2","upper":[13],"lower":[46],"lumen_mm":6.4,"force_oz":4.5,"latex":true,"bag":"Fox"},
          {"from":"2026-09-01","side":"left","pattern":"cross-bite","upper":[{"tooth":26,"surface":"tongue","kind":"button"}],"lower":[{"tooth":36,"surface":"cheek"}],"lumen_mm":4.8,"force_oz":6,"latex":false}],
 "bags":[{"date":"2026-06-01","count":100}]}`
	want := Plan{
		Appliance: Aligners, AlignerStart: Date{2026, 5, 18}, DaysPerTray: 10, Trays: 24, PlannedEnd: Date{2027, 3, 1},
		BandsStart: Date{2026, 6, 2}, BandsEnd: Date{2027, 1, 31}, HoursPerDay: 20.5, ChangesPerDay: 3,
		Wear: []Wear{{Date{2026, 9, 1}, 10, 1, true}, {Date{2026, 10, 1}, 24, 4, false}},
		// Sunday is bit 0, Monday bit 1, Friday bit 5; bedtime has no length, another meal half an hour.
		Meals: []Meal{{AfterBreakfast, 450, 20, 1<<0 | 1<<1 | 1<<5}, {Bedtime, 1320, 0, AllDays}, {AfterMeal, 960, 30, AllDays}},
		Quiet: Quiet{21*60 + 45, 7 * 60}, NoticeAt: 540, EveningAt: 1080, UsefulMin: 60,
		Restarts: []Date{{2026, 6, 20}, {2026, 7, 20}}, // sorted, and a day named twice is one restart
		Pauses:   []Pause{{Date{2026, 7, 1}, Date{2026, 7, 5}, PauseMail}, {Date{2026, 8, 1}, Date{2026, 8, 1}, PauseBands}},
		Cadence:  []Cadence{{Date{2026, 6, 1}, 2}},
		Bands: []Prescription{
			{From: Date{2026, 6, 1}, To: Date{2026, 8, 31}, Side: Right, Pattern: ClassII, Upper: []Hook{{Tooth: 13}}, Lower: []Hook{{Tooth: 46}},
				Lumen: 6.35, Force: 4.5, Latex: true, Bag: "Fox"},
			{From: Date{2026, 9, 1}, Side: Left, Pattern: CrossBite, Upper: []Hook{{26, Tongue, Button}}, Lower: []Hook{{36, Cheek, ""}},
				Lumen: 4.7625, Force: 6},
		},
		Bags: []Bag{{Date{2026, 6, 1}, 100}},
	}
	got, err := ReadPlan("plan.json", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestUnknownKeys(t *testing.T) {
	wantFaults(t, `{`+least+`,
 →"wears":[], →"colour":1,
 "quiet":{"from":"21:45","to":"07:00",→"until":null},
 "meals":[{"code":"PCM","at":"07:30",→"minute":30}],
 "bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[{"tooth":13,→"surfaces":"cheek"}],"lower":[46],"lumen_mm":6.35,"force_oz":4.5,"latex":false,→"bags":"Fox"}]}`,
		`wears: no such key | did you mean "wear"?`,
		`colour: no such key | remove it`,
		`quiet.until: no such key | remove it`,
		`meals[0].minute: no such key | did you mean "minutes"?`,
		`bands[0].upper[0].surfaces: no such key | did you mean "surface"?`,
		`bands[0].bags: no such key | did you mean "bag"?`)
}

func TestDuplicateKeys(t *testing.T) {
	wantFaults(t, `{`+least+`,→"trays":25,
 "quiet":{"from":"21:45","to":"07:00",→"to":"08:00"},
 "bags":[{"date":"2026-06-01","count":1},{"date":"2026-06-01","count":1,→"count":2}]}`,
		"trays: stands twice | keep one",
		"quiet.to: stands twice | keep one",
		"bags[1].count: stands twice | keep one")
}

func TestMissingKeys(t *testing.T) {
	wantFaults(t, `→→→{
 "wear":[→→→{}], "meals":[→→{}], "pauses":[→→{}], "cadence":[→→{}], "bags":[→→{}], "quiet":→→{},
 "bands":[→→→→→→→→{}, {"from":"2026-06-01","side":"right","pattern":"class-2","upper":[→{"surface":"cheek"}],"lower":[46],"lumen_mm":6.35,"force_oz":4.5,"latex":false}]}`,
		"aligner_start: is missing", "days_per_tray: is missing", "trays: is missing",
		"wear[0].from: is missing", "wear[0].hours_per_day: is missing", "wear[0].changes_per_day: is missing",
		"meals[0].code: is missing", "meals[0].at: is missing",
		"pauses[0].from: is missing", "pauses[0].to: is missing",
		"cadence[0].from: is missing", "cadence[0].level: is missing",
		"bags[0].date: is missing", "bags[0].count: is missing",
		"quiet.from: is missing", "quiet.to: is missing",
		"bands[0].from: is missing", "bands[0].side: is missing", "bands[0].pattern: is missing", "bands[0].upper: is missing",
		"bands[0].lower: is missing", "bands[0].lumen_mm: is missing", "bands[0].force_oz: is missing", "bands[0].latex: is missing",
		"bands[1].upper[0].tooth: is missing")
}

func TestWrongKinds(t *testing.T) {
	wantFaults(t, `{"appliance":→1, "aligner_start":→20260518, "days_per_tray":→"10", "trays":→true,
 "planned_end":→{}, "hours_per_day":→[], "changes_per_day":→"4", "notice_at":→8, "evening_at":→false, "useful_min":→"90",
 "wear":→{}, "meals":[→"PCM", →null, →[]], "quiet":→"22:00-07:00", "restarts":[→1, →null, "2026-06-20"], "pauses":→true,
 "bands":[{"from":"2026-06-01","side":→1,"pattern":→2,"upper":→13,"lower":[→"46",→null,→true],"lumen_mm":→"1/4 in","force_oz":→"4.5 oz","latex":→"yes","bag":→7}]}`,
		"appliance: must be a string, not a number",
		"aligner_start: must be a string, not a number",
		"days_per_tray: must be a number, not a string",
		"trays: must be a number, not true or false",
		"planned_end: must be a string, not an object",
		"hours_per_day: must be a number, not a list",
		"changes_per_day: must be a number, not a string",
		"notice_at: must be a string, not a number",
		"evening_at: must be a string, not true or false",
		"useful_min: must be a number, not a string",
		"wear: must be a list, not an object",
		"meals[0]: must be an object, not a string", "meals[1]: must be an object, not null", "meals[2]: must be an object, not a list",
		"quiet: must be an object, not a string",
		"restarts[0]: must be a string, not a number", "restarts[1]: must be a string, not null",
		"pauses: must be a list, not true or false",
		"bands[0].side: must be a string, not a number",
		"bands[0].pattern: must be a string, not a number",
		"bands[0].upper: must be a list, not a number",
		"bands[0].lower[0]: must be a tooth, not a string | its number", "bands[0].lower[1]: must be a tooth, not null", "bands[0].lower[2]: must be a tooth, not true or false",
		"bands[0].lumen_mm: must be a number, not a string",
		"bands[0].force_oz: must be a number, not a string",
		"bands[0].latex: must be true or false, not a string",
		"bands[0].bag: must be a string, not a number")
}

func TestUnknownWords(t *testing.T) {
	wantFaults(t, `{"appliance":→"brace","planned_end":→"2026-02-30","notice_at":→"8:00","restarts":[→"soon"],
 "meals":[{"code":→"PCX","at":→"24:00","days":["mon",→"mo",→1]},{"code":"PCM","at":"07:30","days":→[]},{"code":"PCD","at":"12:00","days":→"mon"}],
 "pauses":[{"from":"2026-07-01","to":"2026-07-05","of":→"band"}],
 "bands":[{"from":"2026-06-01","side":→"up","pattern":→"class-1","upper":[→19,{"tooth":→13.5},→{"tooth":56},{"tooth":→99},→13.0,→1e3],"lower":[{"tooth":46,"surface":→"chek","kind":→"hook"}],"lumen_mm":6.35,"force_oz":4.5,"latex":false}]}`,
		`appliance: "brace" is not known here | did you mean "braces"?`,
		`planned_end: "2026-02-30" is not a date; write it as YYYY-MM-DD`,
		`notice_at: "8:00" is not a time of day; write it as HH:MM, 00:00 to 23:59`,
		`restarts[0]: "soon" is not a date; write it as YYYY-MM-DD`,
		`meals[0].code: "PCX" is not known here | did you mean "PCM"?`,
		`meals[0].at: "24:00" is not a time of day; write it as HH:MM, 00:00 to 23:59`,
		`meals[0].days[1]: is not a day of the week | one of mon, tue, wed, thu, fri, sat, sun`,
		`meals[0].days[2]: is not a day of the week`,
		`meals[1].days: names no day | leave the key out`,
		`meals[2].days: must be a list, not a string`,
		`pauses[0].of: "band" is not known here | did you mean "bands"?`,
		`bands[0].side: "up" is not known here | one of right, left, front`,
		`bands[0].pattern: "class-1" is not known here | did you mean "class-2"?`,
		`bands[0].upper[0]: 19 is not a tooth | ISO 3950`,
		`bands[0].upper[1].tooth: must be a whole number`,
		`bands[0].upper[2]: 56 is not a tooth`,
		`bands[0].upper[3].tooth: 99 is out of range | 11 to 85`,
		`bands[0].upper[4]: 13.0 is not a tooth`,
		`bands[0].upper[5]: 1e3 is not a tooth`,
		`bands[0].lower[0].surface: "chek" is not known here | did you mean "cheek"?`,
		`bands[0].lower[0].kind: "hook" is not known here | one of aligner-cut, button, bracket, wire, mini-screw`)
}

// Each number on both sides of its edges.
func TestNumbersAtTheirEdges(t *testing.T) {
	band := `,"bands":[{"from":"2026-06-01","side":"right","pattern":"class-2","upper":[13],"lower":[46],"latex":false,`
	for _, tt := range []struct{ before, path, after string }{
		{`{"aligner_start":"2026-05-18","trays":24,"days_per_tray":`, "days_per_tray", `} 1 366 ! 0 367 -1 1.5 1e99`},
		{`{"aligner_start":"2026-05-18","days_per_tray":10,"trays":`, "trays", `} 1 1000 ! 0 1001 0.5`},
		{`{` + least + `,"hours_per_day":`, "hours_per_day", `} 0.01 1e-300 24 ! 0 -0 -1 24.01 1e-999 1e999`},
		{`{` + least + `,"changes_per_day":`, "changes_per_day", `} 1 4 24 ! 0 25 3.5`},
		{`{` + least + `,"useful_min":`, "useful_min", `} 1 1440 ! 0 1441`},
		{`{` + least + `,"meals":[{"code":"PC","at":"10:00","minutes":`, "meals[0].minutes", `}]} 0 720 ! -1 721`},
		{`{` + least + `,"cadence":[{"from":"2026-06-01","level":`, "cadence[0].level", `}]} 1 2 3 ! 0 4`},
		{`{` + least + `,"wear":[{"from":"2026-06-01","changes_per_day":1,"hours_per_day":`, "wear[0].hours_per_day", `}]} 0.01 24 ! 0 24.01`},
		{`{` + least + `,"wear":[{"from":"2026-06-01","hours_per_day":10,"changes_per_day":`, "wear[0].changes_per_day", `}]} 1 24 ! 0 25`},
		{`{` + least + `,"bags":[{"date":"2026-06-01","count":`, "bags[0].count", `}]} 1 100000 ! 0 100001`},
		{`{` + least + band + `"force_oz":4.5,"lumen_mm":`, "bands[0].lumen_mm", `}]} 0.5 50 ! 0.49 50.1`},
		{`{` + least + band + `"lumen_mm":6.35,"force_oz":`, "bands[0].force_oz", `}]} 0.1 35 ! 0.09 35.1`},
	} {
		words := strings.Fields(tt.after)
		refused := false
		for _, number := range words[1:] {
			if number == "!" {
				refused = true
				continue
			}
			if !refused {
				wantFaults(t, tt.before+number+words[0])
				continue
			}
			_, err := ReadPlan("plan.json", []byte(tt.before+number+words[0]))
			faults, _ := err.(Faults)
			if len(faults) != 1 || faults[0].Path != tt.path || faults[0].Col != len(tt.before)+1 || len(faults[0].Hint) > 80 {
				t.Errorf("%s %s: %v", tt.path, number, err)
			}
		}
	}
	wantFaults(t, `{`+least+`,"hours_per_day":→0}`, "hours_per_day: 0 is out of range | over 0, at most 24")
}

func TestBraces(t *testing.T) {
	good := `{"appliance":"braces","bands_start":"2026-06-01","planned_end":"2027-06-01"}`
	p, err := ReadPlan("plan.json", []byte(good))
	if err != nil || p.Appliance != Braces || p.Trays != 0 || p.DaysPerTray != 0 || !p.AlignerStart.IsZero() || p.TreatmentEnd() != (Date{2027, 6, 1}) {
		t.Errorf("%+v, %v", p, err)
	}
	wantFaults(t, `{"appliance":"braces","bands_start":"2026-06-01","planned_end":"2027-06-01","aligner_start":null,"days_per_tray":null,"trays":null}`)
	wantFaults(t, `→→{"appliance":"braces","aligner_start":→"2026-05-18","days_per_tray":→10,"trays":→24}`,
		"bands_start: is missing", "planned_end: is missing",
		"aligner_start: has no place in a plan for braces | aligners", "days_per_tray: has no place in a plan for braces", "trays: has no place in a plan for braces")
	// Aligners may have a planned end of their own, and need no bands_start.
	wantFaults(t, `{`+least+`,"planned_end":"2026-12-01"}`)
}
