package plan

import "testing"

func TestEveryFaultAtOnce(t *testing.T) {
	wantFaults(t, `{`+least+`,→"wier":[],
 "bands_end":→"2026-05-31", "notice_at":→"noon",
 "meals":[{"code":"PCM","at":"07:30"},{"code":→"PCM","at":→"7:45"},{"code":→"PCY","at":"12:00"}],
 "pauses":[{"from":"2026-07-05","to":→"2026-07-04"},{"from":→"5 July","to":"2026-07-05"},{"from":"2026-07-05","to":→"6 July"}],
 "cadence":[{"from":"2026-06-01","level":3},{"from":→"2026-06-01","level":→9}],
 "bands":[{"from":"2026-06-01","to":→"2026-05-01","side":"right","pattern":"class-2","upper":[→43],"lower":[→16],"lumen_mm":→0,"force_oz":4.5,"latex":true},
          {"from":"2026-06-01","side":"left","pattern":"vertical-box","upper":[→29,→13,23],"lower":[33,34],"lumen_mm":6.35,"force_oz":4.5,"latex":true},
          {"from":"2026-06-01","side":"left","pattern":→"class-2","upper":[26],"lower":[33],"lumen_mm":6.35,"force_oz":→0,"latex":true}]}`,
		`wier: no such key | did you mean "wear"?`,
		`bands_end: 2026-05-31 lies before the bands start on 2026-06-01`,
		`notice_at: "noon" is not a time of day; write it as HH:MM, 00:00 to 23:59`,
		`meals[1].code: PCM stands twice on mon | once on each day`,
		`meals[1].at: "7:45" is not a time of day; write it as HH:MM, 00:00 to 23:59`,
		`meals[2].code: "PCY" is not known here`,
		`pauses[0].to: 2026-07-04 lies before its from, 2026-07-05 | both ends`,
		`pauses[1].from: "5 July" is not a date; write it as YYYY-MM-DD`,
		`pauses[2].to: "6 July" is not a date; write it as YYYY-MM-DD`,
		`cadence[1].from: 2026-06-01 stands in two entries`,
		`cadence[1].level: 9 is out of range | 1 to 3`,
		`bands[0].to: 2026-05-01 lies before its from, 2026-06-01 | last day`,
		`bands[0].upper[0]: tooth 43 stands in the other arch | quadrants 1 and 2`,
		`bands[0].lower[0]: tooth 16 stands in the other arch`,
		`bands[0].lumen_mm: 0 is out of range | 0.5 to 50`,
		`bands[1].upper[0]: 29 is not a tooth`,
		`bands[1].upper[1]: tooth 13 stands on the right, the band on the left`,
		`bands[2].pattern: a Class II band runs from an upper tooth back to a lower one | as 13 to 46`,
		`bands[2].force_oz: 0 is out of range`)
}

// A key that is not known or stands twice leaves the values that were read as
// good as they were: what is wrong with them is told beside it.
func TestUnknownAndDuplicateKeysHideNothing(t *testing.T) {
	wantFaults(t, `{`+least+`,"bands":[{"from":"2026-06-01","side":"right","pattern":→"class-2","upper":[{"tooth":16,→"colour":1}],"lower":[43],"lumen_mm":6.35,"force_oz":4.5,"latex":false,→"lower":[46]}]}`,
		"bands[0].pattern: a Class II band runs from an upper tooth back to a lower one", "bands[0].upper[0].colour: no such key", "bands[0].lower: stands twice")
	wantFaults(t, `{`+least+`,"pauses":[{"from":"2026-07-05","to":→"2026-07-04",→"why":"holiday"}]}`,
		"pauses[0].to: 2026-07-04 lies before its from, 2026-07-05", "pauses[0].why: no such key")
}

func TestWithin(t *testing.T) {
	for _, tt := range []struct {
		inner, outer string
		want         bool
	}{
		{"bands[1]", "bands[1]", true}, {"bands[1].upper", "bands[1]", true}, {"bands[1].upper[0]", "bands[1].upper", true}, {"bands", "bands[1]", false},
		{"bands_end", "bands", false}, {"bands[1].upper_left", "bands[1].upper", false}, {"wear[10]", "wear[1]", false}, {"trays", "days_per_tray", false},
	} {
		if got := within(tt.inner, tt.outer); got != tt.want {
			t.Errorf("%s within %s: %v", tt.inner, tt.outer, got)
		}
	}
}

// What merely follows from a value that could not be read is not told as well.
func TestNoFaultThatFollowsFromAnother(t *testing.T) {
	// One lower tooth of the box is no tooth: its pattern is not doubted.
	wantFaults(t, `{`+least+`,"bands":[{"from":"2026-06-01","side":"right","pattern":"vertical-box","upper":[13,14],"lower":[43,→49],"lumen_mm":6.35,"force_oz":4.5,"latex":false}]}`,
		"bands[0].lower[1]: 49 is not a tooth")
	wantFaults(t, `{`+least+`,"bands":[{"from":"2026-06-01","side":→"middle","pattern":"anterior-box","upper":[12,22],"lower":[42,32],"lumen_mm":6.35,"force_oz":4.5,"latex":false}]}`,
		`bands[0].side: "middle" is not known here`)
	// A surface that was misspelt is not said to be missing as well.
	wantFaults(t, `{`+least+`,"bands":[{"from":"2026-06-01","side":"right","pattern":"cross-bite","upper":[{"tooth":16,"surface":→"tounge"}],"lower":[{"tooth":46,"surface":"cheek"}],"lumen_mm":6.35,"force_oz":4.5,"latex":false}]}`,
		`bands[0].upper[0].surface: "tounge" is not known here | did you mean "tongue"?`)
	// The start is not known, so the end is not held against day 15.
	wantFaults(t, `{`+least+`,"bands_start":→"1 May","bands_end":"2026-05-20"}`, `bands_start: "1 May" is not a date; write it as YYYY-MM-DD`)
	wantFaults(t, `{`+least+`,"pauses":[→→{"of":"mail"}],"wear":[→→→{},→→→{}]}`, "pauses[0].from: is missing", "pauses[0].to: is missing",
		"wear[0].from: is missing", "wear[0].hours_per_day: is missing", "wear[0].changes_per_day: is missing",
		"wear[1].from: is missing", "wear[1].hours_per_day: is missing", "wear[1].changes_per_day: is missing")
}
