package store

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"bandbell/scheduler/plan"
	"bandbell/store/compliance"

	"github.com/google/go-cmp/cmp"
)

func yes(at time.Time) plan.Stated {
	return stated(plan.Report{At: at, Slot: "2026-06-01/PCD", What: plan.ReportOn, Fresh: true})
}

// open flags of a patient's record, in words.
func flagsOf(t *testing.T, s scene, at time.Time) string {
	t.Helper()
	var out []string
	for _, f := range must[recordOf](t)(recordAt(s.db, s.p.Ref, at)).Flags {
		w := string(f.What)
		if f.Level != "" {
			w += ":" + string(f.Level)
		}
		if !f.Closed.IsZero() {
			w += " closed"
		}
		out = append(out, w)
	}
	return strings.Join(out, ", ")
}

func TestACorrectionStandsBesideTheReading(t *testing.T) {
	s := newScene(t)
	id := hear(t, s.db, s.heard(plan.Heard{NeedsPerson: true, Reports: []plan.Stated{yes(noon)}}))
	received := noon.Add(30 * time.Second)
	since := noon.Add(-3 * time.Hour) // 09:00 in New York
	ok(t, s.db.Correct(ctx, id, plan.Correction{Changed: plan.ChangeNo, Since: since}, "desk:ines", noon.Add(time.Hour)))

	r := must[recordOf](t)(recordAt(s.db, s.p.Ref, noon.Add(time.Hour)))
	want := []plan.Report{{At: received, Slot: "2026-06-01/PCD", What: plan.ReportOff, Since: since}}
	if d := cmp.Diff(want, r.Reports); d != "" {
		t.Errorf("in force (-want +got):\n%s", d)
	}
	day := everyDay(t, s.db, s.p.Ref)
	// Off for three hours and half a minute; nothing was confirmed.
	if len(day) != 1 || day[0].Off != 180.5 || day[0].Confirmed != 0 || day[0].Denied != 1 || day[0].Answered != 1 {
		t.Errorf("the day: %+v", day)
	}
	got := must[Reply](t)(s.db.Reply(ctx, id))
	if !got.NeedsPerson || !got.Seen.Equal(noon.Add(time.Hour)) || got.SeenBy != "desk:ines" || !got.Corrected.Equal(noon.Add(time.Hour)) {
		t.Errorf("the reply: %+v", got)
	}

	// Once more: the second stands in place of the first, and all three are kept.
	ok(t, s.db.Correct(ctx, id, plan.Correction{Changed: plan.ChangeYes, At: noon.Add(-time.Minute)}, "desk:bo", noon.Add(2*time.Hour)))
	f := must[Facts](t)(s.db.ReplyFacts(ctx, id))
	if len(f.Reports) != 3 || len(f.Corrections) != 2 {
		t.Fatalf("kept: %+v", f)
	}
	first, second := f.Corrections[0].ID, f.Corrections[1].ID
	for i, want := range []struct {
		what                   plan.ReportKind
		correction, superseded int64
	}{{plan.ReportOn, 0, first}, {plan.ReportOff, first, second}, {plan.ReportOn, second, 0}} {
		if g := f.Reports[i]; g.What != want.what || g.Correction != want.correction || g.Superseded != want.superseded {
			t.Errorf("report %d: %+v, want %+v", i, g, want)
		}
	}
	if f.Corrections[1].By != "desk:bo" || f.Corrections[1].Changed != plan.ChangeYes || f.Nudge.Slot != "2026-06-01/PCD" || f.Nudge.Kind != plan.BandChange {
		t.Errorf("kept: %+v, nudge %+v", f.Corrections, f.Nudge)
	}
	if acts := must[[]Act](t)(s.db.Audit(ctx, s.p.Ref, 2)); acts[0].What != "reply correct" || acts[0].By != "desk:bo" || acts[1].By != "desk:ines" {
		t.Errorf("audit trail: %+v", acts)
	}
}

func TestACorrectionAndTheHold(t *testing.T) {
	red := plan.Flag{What: plan.FlagAllergy, Level: plan.Red}
	yellow := plan.Flag{What: plan.FlagAllergy, Level: plan.Yellow}
	hook := plan.Flag{What: plan.FlagBroken}
	eight, seven := 8, 7
	for name, c := range map[string]struct {
		read   []plan.Flag
		lifted bool // staff lifted the hold in between
		said   plan.Correction
		flags  string
		held   string // the reason the patient is on hold for; empty: is not
	}{
		"corrected away, the hold stays":           {[]plan.Flag{yellow}, false, plan.Correction{Changed: plan.ChangeYes}, "", "signs of an allergy"},
		"corrected away after the hold was lifted": {[]plan.Flag{yellow}, true, plan.Correction{Changed: plan.ChangeYes}, "", ""},
		"missed, now found":                        {nil, false, plan.Correction{Flags: []plan.Flag{red}}, "allergy:red", "signs of a severe allergy"},
		"kept and still open":                      {[]plan.Flag{hook}, false, plan.Correction{Flags: []plan.Flag{hook}}, "broken", "a broken hook or a lost aligner"},
		"kept, and closed when the hold was":       {[]plan.Flag{hook}, true, plan.Correction{Flags: []plan.Flag{hook}}, "broken closed", ""},
		"graver than it was read":                  {[]plan.Flag{yellow}, true, plan.Correction{Flags: []plan.Flag{red}}, "allergy:red", "signs of a severe allergy"},
		"less grave, and dealt with":               {[]plan.Flag{red}, true, plan.Correction{Flags: []plan.Flag{yellow}}, "allergy:yellow closed", ""},
		"a question holds nothing":                 {nil, false, plan.Correction{Flags: []plan.Flag{{What: plan.FlagQuestion}}}, "question", ""},
		"soreness of 8":                            {nil, false, plan.Correction{Sore: &eight}, "", "soreness of 8 or more"},
		"soreness of 7":                            {nil, false, plan.Correction{Sore: &seven}, "", ""},
		"somebody wrote, and said nothing":         {[]plan.Flag{{What: plan.FlagQuestion}}, false, plan.Correction{Changed: plan.ChangeNone}, "other closed", ""},
		"nothing of it counts":                     {[]plan.Flag{{What: plan.FlagQuestion}}, false, plan.Correction{}, "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			h := s.heard(plan.Heard{NeedsPerson: true})
			for _, f := range c.read {
				f.At, f.Slot = h.At, h.Slot
				h.Flags = append(h.Flags, f)
			}
			id := hear(t, s.db, h)
			if c.lifted {
				ok(t, s.db.LiftHold(ctx, s.p.Ref, "desk:ines", noon.Add(time.Hour)))
			}
			ok(t, s.db.Correct(ctx, id, c.said, "desk:ines", noon.Add(2*time.Hour)))
			if got := flagsOf(t, s, noon.Add(3*time.Hour)); got != c.flags {
				t.Errorf("flags %q, want %q", got, c.flags)
			}
			if p := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)); p.Hold.Reason != c.held {
				t.Errorf("hold %q, want %q", p.Hold.Reason, c.held)
			}
			// What was corrected away is closed, so that lifting a hold later
			// does not claim to have closed it.
			if n := number(t, s.db, "SELECT count(*) FROM flag WHERE superseded IS NOT NULL AND closed IS NULL"); n != 0 {
				t.Errorf("%d superseded flags are open", n)
			}
			open := number(t, s.db, "SELECT count(*) FROM flag WHERE superseded IS NULL AND closed IS NULL AND what IN ('question', 'other', 'ulcer', 'running-low')")
			if seen := !must[Reply](t)(s.db.Reply(ctx, id)).Seen.IsZero(); seen == (open > 0) {
				t.Errorf("seen: %v, though %d flags are open", seen, open)
			}
		})
	}
}

func TestACorrectionIsRefusedWhole(t *testing.T) {
	s := newScene(t)
	id := hear(t, s.db, s.heard(plan.Heard{Reports: []plan.Stated{yes(noon)}}))
	eleven := 11
	bad := plan.Correction{Changed: "maybe", At: noon.Add(time.Hour), Since: noon, Sore: &eleven, Worn: &plan.Total{Hours: 26},
		Off:   []plan.OffSpan{{From: noon, To: noon}},
		Flags: []plan.Flag{{What: "brokn"}, {What: plan.FlagAllergy}, {What: plan.FlagUlcer, Level: plan.Red}, {What: plan.FlagUlcer}}}
	var fs plan.Faults
	if err := s.db.Correct(ctx, id, bad, "desk:ines", noon); !errors.As(err, &fs) {
		t.Fatalf("got %v", err)
	}
	var paths []string
	for _, f := range fs {
		paths = append(paths, f.Path)
	}
	if got := strings.Join(paths, " "); got != "changed at at since off worn-total day soreness flag flag flag flag" {
		t.Errorf("faults at %s:\n%v", got, fs)
	}
	if n := number(t, s.db, "SELECT (SELECT count(*) FROM correction) + (SELECT count(*) FROM report WHERE superseded IS NOT NULL)"); n != 0 {
		t.Error("half of it is on file")
	}
	if err := s.db.Correct(ctx, 4711, plan.Correction{}, "desk:ines", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("a reply that is not there: %v", err)
	}
	unread := arrive(t, s.db, "\r\nnot read yet", noon)
	if err := s.db.Correct(ctx, unread, plan.Correction{}, "desk:ines", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("a reply that is not read: %v", err)
	}
	ok(t, s.db.Record(ctx, unread, plan.Heard{At: noon, Kind: "unmatched", How: "none"}))
	if err := s.db.Correct(ctx, unread, plan.Correction{}, "desk:ines", noon); !errors.As(err, &fs) || fs[0].Path != "reply" {
		t.Errorf("a reply of nobody: %v", err)
	}
}

// A yes to the question about a whole day is a fresh set at each meal of it
// that has been.
func TestAYesToTheWholeDay(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	evening := at(1, 19, 0)
	n := change(today, "PCV", evening)
	n.Whole = true
	j := sent(t, db, p, n)
	id := hear(t, db, plan.Heard{At: at(1, 19, 20), Kind: "reply", How: "token", PatientID: p.ID, OutgoingID: j.ID, Slot: n.Slot,
		Flags: []plan.Flag{{At: at(1, 19, 20), Slot: n.Slot, What: plan.FlagOther}}})
	ok(t, db.Correct(ctx, id, plan.Correction{Changed: plan.ChangeYes}, "desk:ines", at(2, 9, 0)))
	var got []time.Time
	for _, r := range must[recordOf](t)(recordAt(db, p.Ref, at(2, 9, 0))).Reports {
		if !r.Fresh || r.Slot != n.Slot {
			t.Errorf("got %+v", r)
		}
		got = append(got, r.At)
	}
	// The plan's meals are at 7:30, 12:00, 18:30 and, not yet, 21:30.
	if d := cmp.Diff([]time.Time{at(1, 7, 30), at(1, 12, 0), at(1, 18, 30)}, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A report that reached out to a day alone takes that day's record with it.
func TestACorrectionTakesAwayTheDaysItReachedTo(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	hear(t, db, plan.Heard{At: at(1, 9, 0), Kind: "reply", How: "token", PatientID: p.ID, Reports: []plan.Stated{stated(plan.Report{At: at(1, 9, 0), What: plan.ReportOn})}})
	id := hear(t, db, plan.Heard{At: at(4, 9, 0), Kind: "reply", How: "token", PatientID: p.ID, Reports: []plan.Stated{stated(plan.Report{At: at(4, 9, 0), What: plan.ReportOn})}})
	for _, c := range []struct {
		said plan.Correction
		days int
	}{{plan.Correction{}, 1}, {plan.Correction{Changed: plan.ChangeYes, At: at(3, 9, 0)}, 3}, {plan.Correction{Changed: plan.ChangeNone}, 1}, {plan.Correction{Changed: plan.ChangeYes}, 4}} {
		ok(t, db.Correct(ctx, id, c.said, "desk:ines", at(5, 9, 0)))
		folded := everyDay(t, db, p.Ref)
		ok(t, db.Rebuild(ctx, p.Ref))
		if d := cmp.Diff(everyDay(t, db, p.Ref), folded); d != "" || len(folded) != c.days {
			t.Errorf("%d days, want %d (-rebuilt +folded):\n%s", len(folded), c.days, d)
		}
	}
}

func TestSeenClosesWhatHoldsNobody(t *testing.T) {
	s := newScene(t)
	h := s.heard(plan.Heard{NeedsPerson: true})
	for _, what := range plan.AllFlags {
		f := plan.Flag{At: h.At, Slot: h.Slot, What: what}
		if what == plan.FlagAllergy {
			f.Level = plan.Yellow
		}
		h.Flags = append(h.Flags, f)
	}
	id := hear(t, s.db, h)
	c := must[Counts](t)(s.db.Counts(ctx))
	if c.ForPerson != 1 || c.Unseen != 1 {
		t.Errorf("for a person %d, unseen %d", c.ForPerson, c.Unseen)
	}
	if l := must[[]Reply](t)(s.db.PatientReplies(ctx, s.p.Ref, true, 5)); len(l) != 1 {
		t.Errorf("%d of the patient wait", len(l))
	}
	ok(t, s.db.Seen(ctx, id, "desk:ines", noon.Add(time.Hour)))
	ok(t, s.db.Seen(ctx, id, "desk:bo", noon.Add(2*time.Hour)))
	if got := flagsOf(t, s, noon.Add(3*time.Hour)); got != "allergy:yellow, broken, out-of-bands, question closed, swelling, ulcer closed, fever, jaw, running-low closed, other closed" {
		t.Errorf("flags %s", got)
	}
	if n := number(t, s.db, "SELECT count(*) FROM flag WHERE closed IS NOT NULL AND closed_by <> 'desk:ines'"); n != 0 {
		t.Errorf("%d flags closed by somebody else", n)
	}
	r := must[Reply](t)(s.db.Reply(ctx, id))
	if !r.NeedsPerson || !r.Seen.Equal(noon.Add(time.Hour)) || r.SeenBy != "desk:ines" {
		t.Errorf("got %+v", r)
	}
	if p := must[plan.Patient](t)(s.db.Patient(ctx, s.p.Ref)); !p.Hold.Held() {
		t.Error("the hold was lifted by reading")
	}
	c = must[Counts](t)(s.db.Counts(ctx))
	if c.ForPerson != 1 || c.Unseen != 0 || len(must[[]Reply](t)(s.db.Replies(ctx, true, 5))) != 0 || len(must[[]Reply](t)(s.db.PatientReplies(ctx, s.p.Ref, true, 5))) != 0 {
		t.Errorf("for a person %d, unseen %d", c.ForPerson, c.Unseen)
	}
	if acts := must[[]Act](t)(s.db.Audit(ctx, s.p.Ref, 1)); acts[0].What != "reply seen" || acts[0].By != "desk:bo" {
		t.Errorf("audit trail: %+v", acts)
	}
	if err := s.db.Seen(ctx, 4711, "desk:ines", noon); !errors.Is(err, ErrNotFound) {
		t.Errorf("got %v", err)
	}
}

// What was seen under the first schema lost its mark; the audit trail gives it
// back.
func TestTheSecondSchemaKnowsWhatWasSeen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clinic.db")
	first := must[[]byte](t)(migrations.ReadFile("migration/0001.sql"))
	old := must[*DB](t)(openWith(path, Options{Program: "1"}, fstest.MapFS{"migration/0001.sql": {Data: first}}))
	_, err := old.writer.Exec(`INSERT INTO reply (id, digest, message_id, mail_from, rcpt_to, received, source, state, needs_person) VALUES
		(1, x'01', '', '', '[]', 1, 'smtp', 'read', 0), (12, x'02', '', '', '[]', 1, 'smtp', 'read', 1), (2, x'03', '', '', '[]', 1, 'smtp', 'read', 0);
		INSERT INTO audit (at, by, what, ref, detail) VALUES (5000, 'desk:ines', 'reply seen', '', 'reply 1'), (6000, 'desk:bo', 'reply seen', '', 'reply 1')`)
	ok(t, err)
	ok(t, old.Close())
	db := must[*DB](t)(Open(path, Options{Program: "2"}))
	defer db.Close()
	for id, want := range map[int64][3]any{1: {true, int64(5000), "desk:ines"}, 2: {false, nil, ""}, 12: {true, nil, ""}} {
		var needs bool
		var seen any
		var by string
		ok(t, db.readers.QueryRow("SELECT needs_person, seen, seen_by FROM reply WHERE id = ?", id).Scan(&needs, &seen, &by))
		if d := cmp.Diff(want, [3]any{needs, seen, by}); d != "" {
			t.Errorf("reply %d (-want +got):\n%s", id, d)
		}
	}
}

// Of two totals for one day the one received later stands, whichever was
// corrected last.
func TestACorrectionKeepsItsReplysPlaceInTime(t *testing.T) {
	db := open(t)
	p := enrol(t, db, somebody(1), "")
	var ids []int64
	for i, hours := range []float64{10, 20} {
		received := at(1, 23, i)
		ids = append(ids, hear(t, db, plan.Heard{At: received, Kind: "reply", How: "token", PatientID: p.ID,
			Reports: []plan.Stated{stated(plan.Report{At: received, What: plan.ReportWornTotal, Day: today, Hours: hours})}}))
	}
	for _, c := range []struct {
		reply int64
		hours float64
		want  compliance.Minutes
	}{{ids[0], 12, 1200}, {ids[1], 21, 1260}} {
		ok(t, db.Correct(ctx, c.reply, plan.Correction{Changed: plan.ChangeNone, Worn: &plan.Total{Day: today, Hours: c.hours}}, "desk:ines", at(1, 23, 0)))
		if d := everyDay(t, db, p.Ref)[0]; d.Stated == nil || *d.Stated != c.want {
			t.Errorf("after correcting reply %d: %+v, want %v stated", c.reply, d, c.want)
		}
	}
}

// A flag alone answers a nudge; corrected away, it does so no more.
func TestAFlagCorrectedAwayAnswersNothing(t *testing.T) {
	s := newScene(t)
	hear(t, s.db, plan.Heard{At: noon, Kind: "reply", How: "token", PatientID: s.p.ID, Reports: []plan.Stated{stated(plan.Report{At: noon, What: plan.ReportSoreness, Value: 1})}})
	h := s.heard(plan.Heard{})
	h.Flags = []plan.Flag{{At: h.At, Slot: h.Slot, What: plan.FlagQuestion}}
	id := hear(t, s.db, h)
	if d := everyDay(t, s.db, s.p.Ref)[0]; d.Answered != 1 {
		t.Fatalf("as read: %+v", d)
	}
	for _, c := range []struct {
		said     plan.Correction
		answered int
	}{{plan.Correction{}, 0}, {plan.Correction{Changed: plan.ChangeNone}, 1}, {plan.Correction{}, 0}} {
		ok(t, s.db.Correct(ctx, id, c.said, "desk:ines", noon.Add(time.Hour)))
		if d := everyDay(t, s.db, s.p.Ref)[0]; d.Answered != c.answered {
			t.Errorf("changed %q: %d answered, want %d", c.said.Changed, d.Answered, c.answered)
		}
	}
}
