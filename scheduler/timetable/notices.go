package timetable

import (
	"bandbell/scheduler/plan"
)

// notices plans the wear-start notices of day d: three days and one day before
// the first day of wear, on that day, and on each later date on which a
// prescription begins or has just ended. Each is of use for the rest of the
// day.
func (t *table) notices(d plan.Date) {
	slot := t.noticeSlot(d)
	if slot == "" {
		return
	}
	t.add(plan.Nudge{
		Kind: plan.WearStart, Slot: slot, Day: d,
		Due: plan.Instant(d, t.p.NoticeAt, t.loc), Until: plan.DayEnd(d, t.loc),
	}, "")
}

func (t *table) noticeSlot(d plan.Date) string {
	switch d.DaysSince(t.start) {
	case -3:
		return "d-3"
	case -1:
		return "d-1"
	case 0:
		return "d0"
	}
	if d.After(t.start) && t.bandsChange(d) {
		return "b/" + d.String()
	}
	return ""
}

// bandsChange reports whether a prescription begins on day d or had its last
// day on the day before.
func (t *table) bandsChange(d plan.Date) bool {
	eve := d.AddDays(-1)
	for _, b := range t.p.Bands {
		if b.From == d || b.To == eve {
			return true
		}
	}
	return false
}
