-- What was measured at the chair.
--
-- Rows are only ever added. The latest row of a patient and day stands; one
-- that measured nothing takes the day's readings back.
CREATE TABLE visit (
  id               INTEGER PRIMARY KEY,
  patient_id       INTEGER NOT NULL REFERENCES patient (id),
  day              TEXT NOT NULL, -- local day of the visit
  overjet_mm       REAL,          -- still to correct, the target subtracted; NULL: not read
  left_mm          REAL,          -- as overjet_mm
  right_mm         REAL,          -- as overjet_mm
  sd_mm            REAL,          -- standard deviation of each reading; NULL: the setting's
  overjet_measured REAL,          -- as taken, in overjet_unit; NULL: not read
  overjet_unit     TEXT NOT NULL DEFAULT '' CHECK (overjet_unit IN ('', 'mm')), -- empty: not read
  overjet_target   REAL,          -- the doctor's, in mm; NULL: not read
  left_measured    REAL,          -- off the full correction, in left_unit; NULL: not read
  left_unit        TEXT NOT NULL DEFAULT '' CHECK (left_unit IN ('', 'mm', 'quarter-cusps', 'half-cusps')), -- empty: not read
  left_target      REAL,          -- in mm; NULL: not read
  right_measured   REAL,          -- as left_measured
  right_unit       TEXT NOT NULL DEFAULT '' CHECK (right_unit IN ('', 'mm', 'quarter-cusps', 'half-cusps')), -- empty: not read
  right_target     REAL,          -- as left_target
  by               TEXT NOT NULL, -- who measured or wrote it down
  at               INTEGER NOT NULL, -- when it was put on file
  CHECK ((overjet_mm IS NULL) = (overjet_measured IS NULL) AND (overjet_mm IS NULL) = (overjet_target IS NULL) AND (overjet_mm IS NULL) = (overjet_unit = '')),
  CHECK ((left_mm IS NULL) = (left_measured IS NULL) AND (left_mm IS NULL) = (left_target IS NULL) AND (left_mm IS NULL) = (left_unit = '')),
  CHECK ((right_mm IS NULL) = (right_measured IS NULL) AND (right_mm IS NULL) = (right_target IS NULL) AND (right_mm IS NULL) = (right_unit = '')),
  CHECK (sd_mm IS NULL OR sd_mm > 0)
) STRICT;
CREATE INDEX visit_patient ON visit (patient_id, day, id);
CREATE TRIGGER visit_kept BEFORE UPDATE ON visit
BEGIN SELECT RAISE (ABORT, 'a visit is never changed: add a correction'); END;
