package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"bandbell/scheduler/plan"

	"github.com/spf13/cobra"
)

// correctionFlags are what the flags of `reply correct` say, as written.
type correctionFlags struct {
	changed, at, since, worn, day, sore, by string
	off, flags                              []string
	none                                    bool
}

func (a *app) replyCorrectVerb() *cobra.Command {
	var f correctionFlags
	c := &cobra.Command{
		Use:   "correct REPLY",
		Short: "Say what a misread reply means",
		Long: `Say what a misread reply means. The correction stands in place of all that was
read from it: give everything that the message says, not only what was wrong. What
was read is kept beside it, and correcting again takes the place of the former
correction. The days it touches are reckoned anew.

A TIME is RFC 3339, or the patient's wall time: 2026-06-01T15:00, or 15:00 for the
last time it was that before the reply came. FROM-TO is 15:00-17:00, or two longer
times with a / between. The kinds of flag are ` + flagKinds() + `.

A flag that is corrected away is closed. A hold stays until it is lifted (patient
resume --lift-hold); a missed alarm puts the patient on hold. A wish to stop is not
corrected here but with patient stop and patient resume.`,
		Example: `  bandbell reply correct 12 --changed no --since 13:00 --by Ana
  bandbell reply correct 12 --changed yes --off 15:00-17:00 --flag question --by Ana
  bandbell reply correct 12 --changed none --flag allergy:yellow --by Ana
  bandbell reply correct 12 --none --by Ana`,
		Args: exactly(1, "a REPLY"),
	}
	l := c.Flags()
	l.StringVar(&f.changed, "changed", "", "is a fresh set on: yes, no, or none where the message does not say")
	l.StringVar(&f.at, "at", "", "the `TIME` a yes or a no speaks of (default: when the reply was received)")
	l.StringVar(&f.since, "since", "", "of a no: off since this `TIME`")
	l.StringArrayVar(&f.off, "off", nil, "a stretch without bands, `FROM-TO`; may stand several times")
	l.StringVar(&f.worn, "worn-total", "", "`HOURS` worn in all on the day of --day")
	l.StringVar(&f.day, "day", "", "local `DATE` of --worn-total")
	l.StringVar(&f.sore, "soreness", "", "how sore, 0 to 10: `N`")
	l.StringArrayVar(&f.flags, "flag", nil, "something to look at, `KIND` or allergy:red, allergy:yellow; may stand several times")
	l.BoolVar(&f.none, "none", false, "nothing of the message counts, not even as an answer")
	l.StringVar(&f.by, "by", "", "`WHO` corrects it")
	c.RunE = func(c *cobra.Command, args []string) error {
		id, err := replyID(args[0])
		if err != nil {
			return err
		}
		now, err := a.now()
		if err != nil {
			return err
		}
		return a.correct(c.Context(), id, f, now)
	}
	return c
}

func (a *app) correct(ctx context.Context, id int64, f correctionFlags, now time.Time) error {
	db, cfg, err := a.open()
	if err != nil {
		return err
	}
	defer db.Close()
	was, err := wholeReply(ctx, db, id, cfg.Clinic.Zone)
	if err != nil {
		return fmt.Errorf("correct reply %d: %w", id, err)
	}
	c, by, fs := f.correction(was.Received.In(was.zone))
	if err := fs.Err(); err != nil {
		return wrongUse{err}
	}
	if err := db.Correct(ctx, id, c, by, now); err != nil {
		var fs plan.Faults
		if errors.As(err, &fs) {
			return wrongUse{fs.Err()}
		}
		return err
	}
	w, err := wholeReply(ctx, db, id, cfg.Clinic.Zone)
	if err != nil {
		return fmt.Errorf("show reply %d: %w", id, err)
	}
	if a.json {
		return a.print(w.json())
	}
	w.write(a.out)
	switch hold := w.patient.Hold; {
	case hold.Held() && !was.patient.Hold.Held():
		fmt.Fprintf(a.err, "patient %s is now on hold: %s\n", w.PatientRef, hold.Reason)
	case hold.Held():
		fmt.Fprintf(a.err, "patient %s is still on hold: %s. To lift it: bandbell patient resume %[1]s --lift-hold\n", w.PatientRef, hold.Reason)
	}
	return nil
}

func flagKinds() string {
	var out []string
	for _, k := range plan.AllFlags {
		out = append(out, string(k))
	}
	return strings.Join(out, ", ")
}

// correction reads the flags for a reply received at an instant, whose location
// is the patient's zone, and returns every fault at once.
func (f correctionFlags) correction(received time.Time) (c plan.Correction, by string, fs plan.Faults) {
	fault := func(flag, what, hint string) {
		fs = append(fs, plan.Fault{Path: "--" + flag, What: what, Hint: hint})
	}
	bad := map[string]bool{} // flags that could not be read: nothing more is said of them
	unread := func(flag, what, hint string) { bad[flag] = true; fault(flag, what, hint) }
	moment := func(flag, value string) (t time.Time) {
		if value == "" {
			return t
		}
		t, ok := momentOf(value, received)
		if !ok {
			unread(flag, fmt.Sprintf("%q is not a time", value), "write 15:00, 2026-06-01T15:00 or RFC 3339")
		}
		return t
	}
	by, what := desk(f.by)
	if what != "" {
		fault("by", what, "")
	}
	more := f.changed != "" || f.at != "" || f.since != "" || f.worn != "" || f.day != "" || f.sore != "" || len(f.off)+len(f.flags) > 0
	switch {
	case f.none && more:
		fault("none", "says that nothing counts, and something else is given", "leave one of them out")
	case f.changed == "" && !f.none:
		unread("changed", "is missing", "yes, no, or none where the message does not say; --none where nothing of it counts")
	}
	c.Changed = plan.Change(f.changed)
	c.At, c.Since = moment("at", f.at), moment("since", f.since)
	for _, s := range f.off {
		o, ok := stretchOf(s, received)
		if !ok {
			unread("off", fmt.Sprintf("%q is not a stretch of time", s), "write 15:00-17:00, or 2026-06-01T15:00/2026-06-01T17:00")
			continue
		}
		c.Off = append(c.Off, o)
	}
	switch {
	case f.worn != "":
		hours, err := strconv.ParseFloat(f.worn, 64)
		if err != nil {
			unread("worn-total", fmt.Sprintf("%q is not a number of hours", f.worn), "0 to 25, hours of that day")
		}
		c.Worn = &plan.Total{Hours: hours}
		if f.day != "" {
			if c.Worn.Day, err = plan.ParseDate(f.day); err != nil {
				unread("day", err.Error(), "")
			}
		}
	case f.day != "":
		fault("day", "goes with --worn-total", "give the hours, or leave it out")
	}
	if f.sore != "" {
		if n, err := strconv.Atoi(f.sore); err != nil {
			unread("soreness", fmt.Sprintf("%q is not a whole number", f.sore), "0 to 10")
		} else {
			c.Sore = &n
		}
	}
	for _, s := range f.flags {
		kind, level, _ := strings.Cut(s, ":")
		c.Flags = append(c.Flags, plan.Flag{What: plan.FlagKind(kind), Level: plan.Level(level)})
	}
	for _, e := range c.Check(received) {
		// Without the answer nobody can say what a time goes with.
		if bad[e.Path] || bad["changed"] && (e.Path == "at" || e.Path == "since") {
			continue
		}
		e.Path = "--" + e.Path
		fs = append(fs, e)
	}
	return c, by, fs
}

// momentOf reads a time as staff write it. A bare wall time is the last one
// before the reply was received.
func momentOf(s string, received time.Time) (time.Time, bool) {
	zone := received.Location()
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return t.In(zone), true
	}
	if c, err := plan.ParseClock(s); err == nil {
		today := plan.DateOf(received, zone)
		t := plan.Instant(today, c, zone)
		if t.After(received) {
			t = plan.Instant(today.AddDays(-1), c, zone)
		}
		return t, true
	}
	day, clock, ok := strings.Cut(s, "T")
	d, err := plan.ParseDate(day)
	c, cerr := plan.ParseClock(clock)
	if !ok || err != nil || cerr != nil {
		return time.Time{}, false
	}
	return plan.Instant(d, c, zone), true
}

// stretchOf reads FROM-TO. Of two bare wall times the first is the last one
// before the second.
func stretchOf(s string, received time.Time) (o plan.OffSpan, ok bool) {
	from, to, ok := strings.Cut(s, "/")
	if !ok {
		if from, to, ok = strings.Cut(s, "-"); !ok || strings.Contains(to, "-") {
			return o, false
		}
	}
	if o.To, ok = momentOf(to, received); !ok {
		return o, false
	}
	o.From, ok = momentOf(from, o.To)
	return o, ok
}
