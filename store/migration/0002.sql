-- What staff do with a reply: they read it, and correct what was misread.

-- When staff had dealt with it, and who.
ALTER TABLE reply ADD COLUMN seen INTEGER; -- set by staff; NULL: not yet
ALTER TABLE reply ADD COLUMN seen_by TEXT NOT NULL DEFAULT ''; -- desk:NAME; empty: not yet
DROP INDEX reply_person;
CREATE INDEX reply_person ON reply (received) WHERE needs_person = 1 AND seen IS NULL;

-- Until now a reply that staff had seen lost its mark; the audit trail kept it.
UPDATE reply SET needs_person = 1,
  seen = (SELECT a.at FROM audit a WHERE a.what = 'reply seen' AND a.detail = 'reply ' || reply.id ORDER BY a.id LIMIT 1),
  seen_by = (SELECT a.by FROM audit a WHERE a.what = 'reply seen' AND a.detail = 'reply ' || reply.id ORDER BY a.id LIMIT 1)
WHERE id IN (SELECT CAST(substr(detail, 7) AS INTEGER) FROM audit WHERE what = 'reply seen');

-- What staff say a reply means, beside what was read. Rows are only ever added;
-- of several for one reply the last is in force.
CREATE TABLE correction (
  id       INTEGER PRIMARY KEY,
  reply_id INTEGER NOT NULL REFERENCES reply (id), -- the reply that was misread
  at       INTEGER NOT NULL, -- when it was corrected
  by       TEXT NOT NULL,    -- who did: desk:NAME
  changed  TEXT NOT NULL CHECK (changed IN ('', 'yes', 'no', 'none')) -- the answer to the nudge's question; empty: nothing of the message counts
) STRICT;
CREATE INDEX correction_reply ON correction (reply_id);
CREATE TRIGGER correction_kept BEFORE UPDATE ON correction
BEGIN SELECT RAISE (ABORT, 'a correction is never changed'); END;

-- A report or a flag is in force until a correction of its reply takes its
-- place; it is never deleted.
ALTER TABLE report ADD COLUMN correction_id INTEGER REFERENCES correction (id); -- that states it; NULL: it was read
ALTER TABLE report ADD COLUMN superseded INTEGER REFERENCES correction (id); -- that took its place; NULL: in force
ALTER TABLE flag ADD COLUMN correction_id INTEGER REFERENCES correction (id); -- as of a report
ALTER TABLE flag ADD COLUMN superseded INTEGER REFERENCES correction (id); -- as of a report; it is closed as well
DROP INDEX report_patient;
CREATE INDEX report_patient ON report (patient_id, at, reply_id) WHERE superseded IS NULL;
DROP INDEX flag_patient;
CREATE INDEX flag_patient ON flag (patient_id, at, reply_id) WHERE superseded IS NULL;
