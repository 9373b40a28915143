package demo

import (
	"fmt"
	"io"
	"strings"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store"
)

// show prints what a person watching would want to see. A nil writer shows
// nothing.
type show struct {
	w       io.Writer
	zone    *time.Location
	shown   map[plan.Kind]int
	replies int
	before  store.Counts
	sent    int
}

// Of each kind of message one is shown whole, and a handful of replies.
const (
	showMessages = 1
	showReplies  = 6
)

func newShow(w io.Writer, zone *time.Location) *show {
	return &show{w: w, zone: zone, shown: map[plan.Kind]int{}}
}

func (s *show) printf(format string, args ...any) {
	if s.w != nil {
		fmt.Fprintf(s.w, format, args...)
	}
}

// message shows the first message of each kind as its reader sees it.
func (s *show) message(asked plan.Asked, m received) {
	kind := asked.Nudge.Kind
	if asked.Outgoing.Cause != plan.CauseNudge || s.shown[kind] >= showMessages {
		return
	}
	s.shown[kind]++
	s.printf("\n  a %s message to %s, due %s\n", kind, asked.Patient.FirstName, asked.Nudge.Due.In(s.zone).Format("Mon 2 Jan 15:04"))
	s.printf("  | Subject: %s\n  |\n%s\n", m.subject, indent(m.text))
}

// letter shows what a person wrote.
func (s *show) letter(l letter) {
	if l.text == "" || l.text == "YES" || s.replies >= showReplies || strings.Contains(string(l.raw[:200]), "Automatic reply") {
		return
	}
	s.replies++
	s.printf("\n  a reply, %s\n%s\n", l.at.In(s.zone).Format("Mon 2 Jan 15:04"), indent(l.text))
}

func indent(text string) string {
	return "  | " + strings.ReplaceAll(strings.TrimRight(text, "\n"), "\n", "\n  | ")
}

// day prints the line of one lived day.
func (s *show) day(day plan.Date, c store.Counts, sent int) {
	s.printf("%s %s  sent %3d  replies %3d  for a person %2d  bounced %d  machine %d  lapsed %d\n",
		day.Weekday().String()[:3], day, sent-s.sent,
		takenIn(c)-takenIn(s.before), c.ForPerson-s.before.ForPerson,
		c.Replies["bounce"]-s.before.Replies["bounce"], c.Replies["auto-reply"]-s.before.Replies["auto-reply"],
		lapsed(c)-lapsed(s.before))
	s.before, s.sent = c, sent
}

// takenIn is how many messages were taken in.
func takenIn(c store.Counts) int {
	n := 0
	for _, k := range c.Replies {
		n += k
	}
	return n
}

// lapsed is how many nudges ended unsent because their moment passed or the
// patient is on hold.
func lapsed(c store.Counts) int {
	n := 0
	for _, by := range c.Nudges {
		n += by[plan.Lapsed]
	}
	return n
}
