package store

import (
	"database/sql"
	"strings"
	"testing"
)

// Every query that runs on each tick, claim or reply finds its rows by an index
// and sorts nothing: it costs what it returns, not what is on file.
func TestHotQueriesUseTheirIndex(t *testing.T) {
	db := open(t)
	for _, c := range []struct {
		query string
		want  string // the first step of SQLite's plan
		sorts bool   // a sort of the few rows found is all right
	}{
		{queryDue, "SEARCH patient USING INDEX patient_next_due (next_due<?)", false},
		{queryFoldDue, "SEARCH patient USING COVERING INDEX patient_fold_due (fold_due<?)", false},
		{queryRecipients, "SEARCH recipient USING INDEX sqlite_autoindex_recipient_1 (patient_id=?)", true},
		{queryVersions, "SEARCH plan_version USING INDEX sqlite_autoindex_plan_version_1 (patient_id=?)", false},
		{queryPatient, "SEARCH patient USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryByRef, "SEARCH patient USING COVERING INDEX sqlite_autoindex_patient_1 (ref=?)", false},
		{queryClaimable, "SCAN o USING INDEX outgoing_queue", false},
		{queryStale, "SEARCH outgoing USING INDEX outgoing_until (until<?)", false},
		{queryInFlight, "SCAN outgoing USING INDEX outgoing_queue", false},
		{queryWaiting, "SEARCH outgoing USING INDEX outgoing_open (patient_id=?)", false},
		{queryStep, "SEARCH outgoing USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryOutgoing, "SEARCH o USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryNudge, "SEARCH nudge USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryBySelector, "SEARCH o USING INDEX outgoing_selector (selector=?)", false},
		{queryByMessageID, "SEARCH o USING INDEX outgoing_message_id (message_id=?)", false},
		{queryAnswered, "SEARCH outgoing USING COVERING INDEX outgoing_answer (patient_id=? AND topic=? AND created>?)", false},
		{queryBounced, "SEARCH outgoing USING INDEX outgoing_bounced (recipient_id=?)", false},
		{queryUnread, "SCAN r USING INDEX reply_unread", false},
		{queryReplies, "SCAN r USING INDEX reply_received", false},
		{queryNeedsPerson, "SCAN r USING INDEX reply_person", false},
		{queryOfPatient, "SEARCH p USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryOpenOfPatient, "SEARCH p USING INTEGER PRIMARY KEY (rowid=?)", false},
		{queryReplyReports, "SEARCH report USING INDEX report_reply (reply_id=?)", false},
		{queryReplyFlags, "SEARCH flag USING INDEX flag_reply (reply_id=?)", false},
		{queryCorrections, "SEARCH correction USING INDEX correction_reply (reply_id=?)", false},
		{queryReports, "SEARCH report USING INDEX report_patient (patient_id=? AND at<?)", false},
		{queryEvidence, "SEARCH report USING INDEX report_patient (patient_id=?)", false},
		{queryFlags, "SEARCH flag USING INDEX flag_patient (patient_id=? AND at<?)", false},
		{queryAnswering, "SEARCH flag USING INDEX flag_patient (patient_id=?)", false},
		{queryOwn, "SEARCH n USING INDEX sqlite_autoindex_nudge_1 (patient_id=? AND kind=? AND day>? AND day<?)", true},
		{queryNudges, "SEARCH n USING INDEX nudge_due (patient_id=? AND due<?)", true},
		{queryDayRecords, "SEARCH day_record USING PRIMARY KEY (patient_id=? AND day>? AND day<?)", false},
		{queryVisits, "SEARCH visit USING INDEX visit_patient (patient_id=?)", false},
		{queryLastWords, "SEARCH r USING INDEX reply_patient (patient_id=? AND received<?)", false},
		{queryOpenWords, "SEARCH f USING INDEX flag_patient (patient_id=? AND at<?)", false},
		{queryAudit, "SEARCH audit USING INDEX audit_ref (ref=?)", false},
	} {
		args := make([]any, strings.Count(c.query, "?"))
		for i := range args {
			args[i] = 1
		}
		rows := must[*sql.Rows](t)(db.readers.Query("EXPLAIN QUERY PLAN "+c.query, args...))
		lines := must[[]string](t)(texts(rows, 4))
		var said []string
		for _, l := range lines {
			// Three numbers, then the step.
			said = append(said, l[strings.IndexFunc(l, func(r rune) bool { return r >= 'A' && r <= 'Z' }):])
		}
		all := strings.Join(said, "\n")
		if said[0] != c.want {
			t.Errorf("%s\ngot  %s\nwant %s", c.query, said[0], c.want)
		}
		for _, l := range said[1:] {
			if strings.HasPrefix(l, "SCAN") {
				t.Errorf("%s\nlooks at every row: %s", c.query, l)
			}
		}
		if strings.Contains(all, "TEMP B-TREE FOR ORDER BY") && !c.sorts {
			t.Errorf("%s\nsorts:\n%s", c.query, all)
		}
	}
}
