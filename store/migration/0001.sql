-- The first schema of a bandbell database.
--
-- Instants are INTEGER milliseconds since 1970-01-01 UTC; local days are TEXT
-- YYYY-MM-DD. No column is declared TIMESTAMP, DATE or BOOLEAN: the driver
-- guesses at those. Tables are STRICT, so that a text never lands in a number.

-- What is true of the file as a whole.
CREATE TABLE meta (
  key   TEXT NOT NULL PRIMARY KEY, -- program: version of the program that last changed the schema
  value TEXT NOT NULL              -- set by migration
) STRICT, WITHOUT ROWID;

-- One person in treatment.
CREATE TABLE patient (
  id            INTEGER PRIMARY KEY,
  ref           TEXT NOT NULL COLLATE NOCASE UNIQUE, -- short random name in commands, pages, logs and keys; never changes
  first_name    TEXT NOT NULL,  -- the only name that stands in a message; set by staff
  last_name     TEXT NOT NULL,  -- for the desk's lists; empty: not given
  phone         TEXT NOT NULL,  -- to dial; empty: not given
  language      TEXT NOT NULL,  -- BCP 47 tag of the messages
  zone          TEXT NOT NULL,  -- IANA zone now; each plan version keeps its own
  latex_allergy TEXT NOT NULL CHECK (latex_allergy IN ('', 'yes', 'no', 'not-asked')), -- empty: counts as not asked
  born          TEXT,           -- local day; NULL: not recorded
  created       INTEGER NOT NULL, -- when the patient was put on file
  stopped       INTEGER,        -- when all mail was stopped, by STOP or staff; NULL: not
  hold_since    INTEGER,        -- when the safety hold began, set with the reply that caused it or by staff; NULL: none
  hold_reason   TEXT NOT NULL DEFAULT '', -- in words for staff, never the patient's own; empty: no hold
  version       INTEGER NOT NULL DEFAULT 0, -- number of the latest plan version; 0: no plan yet
  through       INTEGER NOT NULL, -- nudges due up to here are on file; set by Enqueue, begins with the first plan
  next_due      INTEGER,        -- when the tick must look again; reset by whatever changes the plan; NULL: never
  folded_to     TEXT,           -- last local day the nightly fold has covered; NULL: none yet
  fold_due      INTEGER,        -- when the next local day is over and can be folded; NULL: no plan, or bands ended
  CHECK ((hold_since IS NULL) = (hold_reason = ''))
) STRICT;
CREATE INDEX patient_next_due ON patient (next_due) WHERE next_due IS NOT NULL;
CREATE INDEX patient_fold_due ON patient (fold_due) WHERE fold_due IS NOT NULL;

-- One person who is written to about one patient.
CREATE TABLE recipient (
  id           INTEGER PRIMARY KEY,
  patient_id   INTEGER NOT NULL REFERENCES patient (id),
  role         TEXT NOT NULL CHECK (role IN ('patient', 'guardian')),
  name         TEXT NOT NULL,  -- first name of a guardian; empty for the patient
  address      TEXT NOT NULL,  -- bare addr-spec, domain in lower case; siblings may share one
  language     TEXT NOT NULL,  -- empty: the patient's
  consent_at   INTEGER,        -- when this person agreed to be e-mailed; NULL: nothing leaves
  consent_how  TEXT NOT NULL DEFAULT '', -- paper, email, phone
  consent_by   TEXT NOT NULL DEFAULT '', -- who recorded it
  consent_text TEXT NOT NULL DEFAULT '', -- version of the warning that was agreed to
  stopped      INTEGER,        -- when this person said STOP; NULL: not
  bounced      INTEGER,        -- when the address was found dead; NULL: not
  UNIQUE (patient_id, address)
) STRICT;

-- One version of a plan. Rows are only ever added.
CREATE TABLE plan_version (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patient (id),
  number     INTEGER NOT NULL, -- 1, 2, 3 ... within the patient
  first      TEXT NOT NULL,    -- first local day it is in force
  zone       TEXT NOT NULL,    -- IANA zone for the days it is in force
  created    INTEGER NOT NULL, -- when it was written; no nudge is owed from before the first
  by         TEXT NOT NULL,    -- who wrote it
  plan       TEXT NOT NULL CHECK (json_valid(plan)), -- the plan object of a patient's record
  UNIQUE (patient_id, number)
) STRICT;
CREATE TRIGGER plan_version_kept BEFORE UPDATE ON plan_version
BEGIN SELECT RAISE (ABORT, 'a plan version is never changed'); END;

-- One nudge that came due. Made when due, never ahead.
CREATE TABLE nudge (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patient (id),
  kind       TEXT NOT NULL CHECK (kind IN ('band-change', 'wear-start', 'soreness')),
  day        TEXT NOT NULL,    -- local day it was planned for, so that a moved start blocks nothing
  slot       TEXT NOT NULL,    -- which of its kind: 2026-06-01/PCM, d-3, s1
  due        INTEGER NOT NULL, -- when it was owed
  until      INTEGER NOT NULL, -- never sent at or after
  moved      TEXT NOT NULL,    -- why due was moved: quiet hours; empty: it was not
  whole      INTEGER NOT NULL CHECK (whole IN (0, 1)), -- 1: asks about the whole day
  version    INTEGER NOT NULL, -- number of the plan version it was reckoned from
  UNIQUE (patient_id, kind, day, slot)
) STRICT;
CREATE INDEX nudge_due ON nudge (patient_id, due);

-- One message owed to one person: the outbox.
CREATE TABLE outgoing (
  id           INTEGER PRIMARY KEY,
  cause        TEXT NOT NULL CHECK (cause IN ('nudge', 'answer', 'consent', 'digest', 'test')),
  key          TEXT NOT NULL,   -- names the cause for ever: nudge/REF/KIND/DAY/SLOT
  patient_id   INTEGER REFERENCES patient (id),   -- NULL: digest, test
  nudge_id     INTEGER REFERENCES nudge (id),     -- NULL unless cause is nudge
  reply_id     INTEGER REFERENCES reply (id),     -- the reply an answer answers; else NULL
  recipient_id INTEGER REFERENCES recipient (id), -- NULL: not a patient's recipient, address stands instead
  address      TEXT NOT NULL DEFAULT '', -- only where recipient_id is NULL
  name         TEXT NOT NULL DEFAULT '', -- as address; may be empty
  language     TEXT NOT NULL DEFAULT '', -- as address; may be empty
  topic        TEXT NOT NULL DEFAULT '', -- which answer: stopped, emergency; empty for other causes
  priority     INTEGER NOT NULL, -- lower is claimed first
  state        TEXT NOT NULL CHECK (state IN ('planned', 'claimed', 'dot_sent', 'accepted', 'retry',
                                              'uncertain', 'lapsed', 'failed', 'suppressed')),
  reason       TEXT NOT NULL DEFAULT '', -- why it stands so; empty while planned and when all went well
  due          INTEGER NOT NULL, -- not before
  until        INTEGER NOT NULL, -- not at or after
  attempt      INTEGER NOT NULL DEFAULT 0, -- times it was claimed; raised before anything is dialled
  next_try     INTEGER,         -- retry: not before; else NULL
  resent       INTEGER NOT NULL DEFAULT 0 CHECK (resent IN (0, 1)), -- 1: its one resend after an uncertain end is spent
  created      INTEGER NOT NULL, -- when the row was made
  claimed_at   INTEGER,         -- last claim; NULL: never
  dot_at       INTEGER,         -- when the final dot was last about to leave; NULL: never
  accepted_at  INTEGER,         -- when the server took it; NULL: it did not
  bounced_at   INTEGER,         -- when a delivery report came back for it: a later fact; NULL: none
  bounce       TEXT NOT NULL DEFAULT '', -- enhanced status code of that report; empty: none
  ended        INTEGER,         -- when the state became final; NULL: still open
  message_id   TEXT,            -- without angle brackets, the same for ever; NULL until composed
  selector     TEXT,            -- of the reply address's token; NULL until composed
  bytes        BLOB,            -- the message as it goes on the wire; NULL until composed and once ended
  hash         BLOB,            -- SHA-256 of bytes; NULL until composed
  text_version TEXT NOT NULL DEFAULT '', -- of the message text it was made from; empty until composed
  CHECK ((recipient_id IS NULL) = (address <> '')),
  CHECK (cause <> 'nudge' OR nudge_id IS NOT NULL),
  CHECK (ended IS NULL OR bytes IS NULL),
  CHECK (state NOT IN ('accepted', 'lapsed', 'failed', 'suppressed') OR ended IS NOT NULL),
  CHECK (state NOT IN ('planned', 'claimed', 'dot_sent', 'retry') OR ended IS NULL)
) STRICT;
CREATE UNIQUE INDEX outgoing_once ON outgoing (key, ifnull(recipient_id, 0), address);
CREATE INDEX outgoing_queue ON outgoing (priority, until, due, next_try, state, resent) WHERE ended IS NULL;
CREATE INDEX outgoing_until ON outgoing (until) WHERE ended IS NULL;
CREATE INDEX outgoing_open ON outgoing (patient_id) WHERE ended IS NULL;
CREATE INDEX outgoing_nudge ON outgoing (nudge_id) WHERE nudge_id IS NOT NULL;
CREATE INDEX outgoing_answer ON outgoing (patient_id, topic, created) WHERE cause = 'answer';
CREATE INDEX outgoing_selector ON outgoing (selector) WHERE selector IS NOT NULL;
CREATE INDEX outgoing_message_id ON outgoing (message_id) WHERE message_id IS NOT NULL;
CREATE INDEX outgoing_bounced ON outgoing (recipient_id) WHERE bounced_at IS NOT NULL;

-- One received message. It is received until it is read, then read.
CREATE TABLE reply (
  id           INTEGER PRIMARY KEY,
  digest       BLOB NOT NULL UNIQUE, -- SHA-256 over the raw message and its envelope recipients: received once
  message_id   TEXT NOT NULL,   -- its Message-ID without brackets; empty: none that can be read
  mail_from    TEXT NOT NULL,   -- envelope sender; empty: the null path
  rcpt_to      TEXT NOT NULL CHECK (json_valid(rcpt_to)), -- envelope recipients, a JSON list
  received     INTEGER NOT NULL, -- when it was taken in
  source       TEXT NOT NULL,   -- smtp, lmtp, imap, file
  state        TEXT NOT NULL CHECK (state IN ('received', 'read')),
  kind         TEXT NOT NULL DEFAULT '', -- reply, bounce, auto-reply, loop, unreadable, unmatched; empty until read
  how          TEXT NOT NULL DEFAULT '', -- token, message-id, none; empty until read
  patient_id   INTEGER REFERENCES patient (id),  -- whose it is; NULL: nobody was matched
  outgoing_id  INTEGER REFERENCES outgoing (id), -- the message it answers; NULL: none
  slot         TEXT NOT NULL DEFAULT '', -- of the nudge it answers; empty: none
  text         TEXT NOT NULL DEFAULT '', -- what the person wrote, without quotes and signature
  lang         TEXT NOT NULL DEFAULT '', -- of the text; empty: not known
  why          TEXT NOT NULL DEFAULT '', -- the reader's reason
  needs_person INTEGER NOT NULL DEFAULT 0 CHECK (needs_person IN (0, 1)), -- 1: staff must read it
  mismatch     INTEGER NOT NULL DEFAULT 0 CHECK (mismatch IN (0, 1)), -- 1: From differs from the address written to
  stop         INTEGER NOT NULL DEFAULT 0 CHECK (stop IN (0, 1)),  -- 1: asked to stop
  fewer        INTEGER NOT NULL DEFAULT 0 CHECK (fewer IN (0, 1)), -- 1: asked for fewer messages
  start        INTEGER NOT NULL DEFAULT 0 CHECK (start IN (0, 1)), -- 1: asked to be written to again
  reading      TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(reading)), -- the whole reading as JSON
  bounce       TEXT CHECK (bounce IS NULL OR json_valid(bounce)) -- what a delivery report says; NULL: it is none
) STRICT;
CREATE INDEX reply_unread ON reply (id) WHERE state = 'received';
CREATE INDEX reply_person ON reply (received) WHERE needs_person = 1;
CREATE INDEX reply_received ON reply (received);
CREATE INDEX reply_patient ON reply (patient_id, received) WHERE patient_id IS NOT NULL;
CREATE INDEX reply_message_id ON reply (message_id) WHERE message_id <> '';

-- The raw octets of a reply, apart so that lists do not drag them along.
CREATE TABLE reply_raw (
  reply_id INTEGER PRIMARY KEY REFERENCES reply (id),
  raw      BLOB NOT NULL -- as received, before anything was made of it
) STRICT;

-- One fact read from a reply.
CREATE TABLE report (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patient (id),
  reply_id   INTEGER NOT NULL REFERENCES reply (id), -- where it was read
  at         INTEGER NOT NULL, -- when received; for on and off the moment it speaks of
  slot       TEXT NOT NULL,    -- of the nudge it answers; empty: none named
  what       TEXT NOT NULL CHECK (what IN ('on', 'off', 'off-span', 'worn-total', 'soreness')),
  fresh      INTEGER NOT NULL CHECK (fresh IN (0, 1)), -- on: 1 for a fresh set
  since      INTEGER,          -- off: NULL when not stated
  span_from  INTEGER,          -- off-span
  span_to    INTEGER,          -- off-span
  day        TEXT,             -- worn-total
  hours      REAL,             -- worn-total: 0-25
  value      INTEGER,          -- soreness: 0-10
  text_from  INTEGER NOT NULL, -- octets [text_from, text_to) of reply.text it was read from
  text_to    INTEGER NOT NULL,
  certainty  REAL NOT NULL     -- 0-1, the reader's
) STRICT;
CREATE INDEX report_patient ON report (patient_id, at);
CREATE INDEX report_reply ON report (reply_id);

-- Something in a reply that a person should look at.
CREATE TABLE flag (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patient (id),
  reply_id   INTEGER NOT NULL REFERENCES reply (id), -- where it was read
  at         INTEGER NOT NULL, -- when it was raised
  slot       TEXT NOT NULL,    -- of the nudge it answers; empty: none named
  what       TEXT NOT NULL CHECK (what IN ('allergy', 'broken', 'out-of-bands', 'question', 'swelling',
                                           'ulcer', 'fever', 'jaw', 'running-low', 'other')),
  level      TEXT NOT NULL CHECK (level IN ('', 'red', 'yellow')), -- allergy only; else empty
  closed     INTEGER,          -- when staff closed it; NULL: open
  closed_by  TEXT NOT NULL DEFAULT '' -- who did; empty: open
) STRICT;
CREATE INDEX flag_patient ON flag (patient_id, at);
CREATE INDEX flag_open ON flag (patient_id) WHERE closed IS NULL;
CREATE INDEX flag_reply ON flag (reply_id);

-- One patient's compliance for one local day, a function of the reports.
CREATE TABLE day_record (
  patient_id  INTEGER NOT NULL REFERENCES patient (id),
  day         TEXT NOT NULL,    -- local day
  length_min  REAL NOT NULL,    -- real elapsed minutes of the day: 1440, or as clocks change
  on_min      REAL NOT NULL,    -- known to be worn, by the ledger
  off_min     REAL NOT NULL,    -- known not to be worn, by the ledger
  unknown_min REAL NOT NULL,    -- the rest
  stated_min  REAL,             -- total the patient stated for the day; NULL: none
  delivered   INTEGER NOT NULL, -- band-change nudges of the day that a mail server took
  answered    INTEGER NOT NULL, -- of those, answered by any report or flag
  confirmed   INTEGER NOT NULL, -- of those, a fresh set was put on
  denied      INTEGER NOT NULL, -- of those, the bands were off
  soreness    INTEGER,          -- greatest reported on the day, 0-10; NULL: none
  PRIMARY KEY (patient_id, day)
) STRICT, WITHOUT ROWID;

-- Who did what, when. Rows are only ever added; no message text, no address.
CREATE TABLE audit (
  id     INTEGER PRIMARY KEY,
  at     INTEGER NOT NULL, -- when
  by     TEXT NOT NULL,    -- desk:NAME, patient, daemon
  what   TEXT NOT NULL,    -- the act: patient add, plan set, stop
  ref    TEXT NOT NULL,    -- the patient's ref; empty: nobody's
  detail TEXT NOT NULL     -- what changed, in numbers and fixed words; may be empty
) STRICT;
CREATE INDEX audit_ref ON audit (ref, at);
CREATE TRIGGER audit_kept BEFORE UPDATE ON audit
BEGIN SELECT RAISE (ABORT, 'the audit trail is never changed'); END;
CREATE TRIGGER audit_kept_whole BEFORE DELETE ON audit
BEGIN SELECT RAISE (ABORT, 'the audit trail is never shortened'); END;
