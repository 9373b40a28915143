package reply

import (
	"time"
)

// dayTotal turns hours into a day's total where they are one: by the words, or
// because the nudge asked about the whole day.
func (a *analysis) dayTotal(r *Reading, t *times, v verdict) {
	whole := a.asked.Meal == WholeDay
	for _, s := range t.spans {
		if s.open {
			whole = false
		}
	}
	day := r.At
	if whole && !a.asked.Sent.IsZero() {
		day = a.asked.Sent
		if a.asked.Zone != nil {
			day = day.In(a.asked.Zone)
		}
	}
	if t.yesterday && !day.IsZero() {
		day = day.AddDate(0, 0, -1)
	}
	label := ""
	if !day.IsZero() {
		label = day.Format(time.DateOnly)
	}
	switch {
	case t.worn != nil && (whole || t.total):
		r.Reports = append(r.Reports, Report{What: WornTotal, Hours: *t.worn, Day: label, Span: a.span(t.wornHit.from, t.wornHit.to), Certainty: .85, At: r.At})
	case t.off != nil && whole && len(t.spans) == 0:
		worn := round2(24 - *t.off)
		r.HoursWorn = &worn
		r.Reports = append(r.Reports, Report{What: WornTotal, Hours: worn, Day: label, Span: a.span(t.offHit.from, t.offHit.to), Certainty: .8, At: r.At})
	}
}

// wear turns the answer into reports of wear.
func (a *analysis) wear(r *Reading, v verdict, t times) {
	at := r.At
	kind := a.asked.kind()
	open := false
	for _, s := range t.spans {
		rep := Report{What: OffSpan, From: s.from, To: s.to, Span: a.span(s.w.from, s.w.to), Certainty: .85, At: at}
		if s.open {
			open = true
			rep.What, rep.Since, rep.From, rep.To = Off, s.from, time.Time{}, time.Time{}
		}
		r.Reports = append(r.Reports, rep)
	}
	span := a.span(v.w.from, v.w.to)
	switch {
	case v.is == Yes && a.asked.Meal == WholeDay && v.plain && kind == BandChange && len(a.asked.Meals) > 0 && !a.asked.Sent.IsZero():
		day := a.asked.Sent
		if a.asked.Zone != nil {
			day = day.In(a.asked.Zone)
		}
		for _, m := range a.asked.Meals {
			r.Reports = append(r.Reports, Report{What: On, Fresh: true, At: wall(day, 0, m.Hour*60+m.Minute), Meal: m.Code, Span: span, Certainty: .8})
		}
	case v.is == Yes:
		if !t.freshAt.IsZero() {
			at = t.freshAt
		}
		r.Reports = append(r.Reports, Report{What: On, Fresh: true, At: at, Span: span, Certainty: v.certainty})
	case v.wears && !open:
		r.Reports = append(r.Reports, Report{What: On, At: at, Span: span, Certainty: .8})
	case v.is == No && !open && !(kind == Soreness):
		r.Reports = append(r.Reports, Report{What: Off, At: at, Span: span, Certainty: v.certainty})
	}
}
