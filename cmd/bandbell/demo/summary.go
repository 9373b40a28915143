package demo

import (
	"context"
	"fmt"
	"io"
	"time"

	"bandbell/scheduler/plan"
)

// Summary is what the lived days came to.
type Summary struct {
	Days       int                       `json:"days"`
	Patients   int                       `json:"patients"`
	Nudges     map[plan.Kind]NudgeCounts `json:"nudges"`
	Replies    ReplyCounts               `json:"replies"`
	DayRecords int                       `json:"day_records"`
	Late       int                       `json:"late"`       // messages that arrived after their moment
	Duplicates int                       `json:"duplicates"` // messages that arrived again
	Seconds    float64                   `json:"seconds"`
}

// NudgeCounts is what became of the nudges of one kind. Planned counts all that
// were put on file; the others are how they ended.
type NudgeCounts struct {
	Planned    int `json:"planned"`
	Accepted   int `json:"accepted"`
	Lapsed     int `json:"lapsed"`
	Failed     int `json:"failed"`
	Suppressed int `json:"suppressed"`
	Uncertain  int `json:"uncertain"`
}

// ReplyCounts is what was received and how it was read.
type ReplyCounts struct {
	Received    int `json:"received"`
	Read        int `json:"read"`
	NeedsPerson int `json:"needs_person"`
	AutoReply   int `json:"auto_reply"`
	Bounce      int `json:"bounce"`
	Unmatched   int `json:"unmatched"`
}

func (c *Clinic) summary(ctx context.Context, took time.Duration) (Summary, error) {
	counts, err := c.o.DB.Counts(ctx)
	if err != nil {
		return Summary{}, fmt.Errorf("count: %w", err)
	}
	s := Summary{Days: c.o.Days, Patients: len(c.people), Nudges: map[plan.Kind]NudgeCounts{}, DayRecords: counts.DayRecords,
		Late: c.late, Seconds: float64(took.Milliseconds()) / 1000}
	for _, kind := range []plan.Kind{plan.BandChange, plan.WearStart, plan.Soreness} {
		by := counts.Nudges[kind]
		n := NudgeCounts{Accepted: by[plan.Accepted], Lapsed: by[plan.Lapsed], Failed: by[plan.Failed],
			Suppressed: by[plan.Suppressed], Uncertain: by[plan.Uncertain]}
		for _, count := range by {
			n.Planned += count
		}
		s.Nudges[kind] = n
	}
	r := counts.Replies
	all := takenIn(counts)
	s.Replies = ReplyCounts{Received: all, Read: all - r[""], NeedsPerson: counts.ForPerson,
		AutoReply: r["auto-reply"], Bounce: r["bounce"], Unmatched: r["unmatched"]}
	for _, times := range c.seen {
		s.Duplicates += times - 1
	}
	return s, nil
}

// Print writes the summary for people.
func (s Summary) Print(w io.Writer) {
	fmt.Fprintf(w, "\nThe counts of %d days with %d patients, lived in %.1f s\n", s.Days, s.Patients, s.Seconds)
	for _, kind := range []plan.Kind{plan.BandChange, plan.WearStart, plan.Soreness} {
		n := s.Nudges[kind]
		fmt.Fprintf(w, "  %-12s put on file %d: accepted %d, lapsed %d, failed %d, suppressed %d, uncertain %d\n",
			kind, n.Planned, n.Accepted, n.Lapsed, n.Failed, n.Suppressed, n.Uncertain)
	}
	r := s.Replies
	fmt.Fprintf(w, "  replies      received %d, read %d, for a person %d; from machines %d, bounces %d, unmatched %d\n",
		r.Received, r.Read, r.NeedsPerson, r.AutoReply, r.Bounce, r.Unmatched)
	fmt.Fprintf(w, "  day records  %d\n  late %d, duplicates %d\n", s.DayRecords, s.Late, s.Duplicates)
}
