-- Version 2 of the logbook's tables, as it landed. Never change this file: later versions migrate from it.
BEGIN;
CREATE TABLE jig (number INTEGER PRIMARY KEY, identity TEXT NOT NULL UNIQUE, name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''), added_at TEXT NOT NULL) STRICT;
CREATE TABLE jig_version (jig TEXT NOT NULL REFERENCES jig (identity), recorded_at TEXT NOT NULL, text TEXT NOT NULL, squared_by TEXT REFERENCES jig (identity) CHECK (squared_by <> jig), digest TEXT NOT NULL, PRIMARY KEY (jig, recorded_at)) STRICT;
CREATE TABLE jig_use (jig TEXT NOT NULL REFERENCES jig (identity), recorded_at TEXT NOT NULL, retired INTEGER NOT NULL CHECK (retired IN (0, 1)), PRIMARY KEY (jig, recorded_at)) STRICT;
CREATE TABLE run (
 number INTEGER PRIMARY KEY,
 identity TEXT NOT NULL UNIQUE,
 jig TEXT NOT NULL REFERENCES jig (identity),
 recorded_at TEXT NOT NULL,
 day TEXT NOT NULL,
 humidity TEXT NOT NULL,
 blade TEXT NOT NULL,
 stock TEXT NOT NULL,
 note TEXT NOT NULL,
 fence TEXT CHECK (fence IN ('clamped', 'tacked', 'fastened')),
 check_of TEXT REFERENCES run (identity) CHECK (check_of <> identity),
 program TEXT NOT NULL,
 digest TEXT NOT NULL,
 error_deg ANY AS (coalesce(json_extract(result, '$.correction.angle_error.value'),
  json_extract(result, '$.angle_error.value'))) STORED,
 bound_deg ANY AS (coalesce(json_extract(result, '$.correction.angle_error.expanded_uncertainty'),
  json_extract(result, '$.angle_error.expanded_uncertainty'))) STORED,
 move_mm ANY AS (coalesce(json_extract(result, '$.correction.fence_move.value'),
  json_extract(result, '$.fence_move.value'))) STORED,
 turn ANY AS (coalesce(json_extract(result, '$.correction.turn'),
  json_extract(result, '$.turn'))) STORED,
 decision ANY AS (coalesce(json_extract(result, '$.correction.decision.value'),
  json_extract(result, '$.decision.value'))) STORED,
 tolerance_deg ANY AS (coalesce(json_extract(result, '$.correction.decision.tolerance'),
  json_extract(result, '$.decision.tolerance'))) STORED,
 refused ANY AS (json_extract(result, '$.refusals[0].reason')) STORED,
 inputs TEXT NOT NULL CHECK (json_valid(inputs)),
 result TEXT NOT NULL CHECK (json_valid(result))
) STRICT;
CREATE INDEX run_of_jig ON run (jig, number);
CREATE INDEX run_fastened ON run (jig, number) WHERE fence = 'fastened' AND check_of IS NULL;
CREATE INDEX run_checks ON run (check_of) WHERE check_of IS NOT NULL;
CREATE TABLE stored_file (sha256 TEXT PRIMARY KEY, size INTEGER NOT NULL, place TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE run_file (run TEXT NOT NULL REFERENCES run (identity), position INTEGER NOT NULL, sha256 TEXT NOT NULL, name TEXT NOT NULL, kind TEXT NOT NULL CHECK (kind IN ('photo', 'annotated', 'drawing', 'camera')), size INTEGER NOT NULL, stored TEXT REFERENCES stored_file (sha256), left_at TEXT, PRIMARY KEY (run, position)) STRICT;
CREATE TABLE move_set (run TEXT NOT NULL REFERENCES run (identity), recorded_at TEXT NOT NULL, distance_mm REAL NOT NULL CHECK (distance_mm >= 0), turn TEXT CHECK (turn IN ('clockwise', 'counterclockwise')), fence TEXT CHECK (fence IN ('clamped', 'tacked', 'fastened')), note TEXT NOT NULL, day TEXT, digest TEXT NOT NULL, PRIMARY KEY (run, recorded_at)) STRICT;
CREATE TABLE struck (run TEXT NOT NULL REFERENCES run (identity), recorded_at TEXT NOT NULL, why TEXT NOT NULL CHECK (why <> ''), digest TEXT NOT NULL, PRIMARY KEY (run, recorded_at)) STRICT;
CREATE TRIGGER jig_stays BEFORE UPDATE ON jig BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER jig_is_kept BEFORE DELETE ON jig BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER jig_version_stays BEFORE UPDATE ON jig_version BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER jig_version_is_kept BEFORE DELETE ON jig_version BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER jig_use_stays BEFORE UPDATE ON jig_use BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER jig_use_is_kept BEFORE DELETE ON jig_use BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER run_stays BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER run_is_kept BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER stored_file_stays BEFORE UPDATE ON stored_file BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER stored_file_is_kept BEFORE DELETE ON stored_file BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER run_file_stays BEFORE UPDATE ON run_file BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER run_file_is_kept BEFORE DELETE ON run_file BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER move_set_stays BEFORE UPDATE ON move_set BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER move_set_is_kept BEFORE DELETE ON move_set BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER struck_stays BEFORE UPDATE ON struck BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER struck_is_kept BEFORE DELETE ON struck BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
CREATE TRIGGER run_is_new BEFORE INSERT ON run WHEN EXISTS (SELECT 1 FROM run WHERE identity = NEW.identity OR number = NEW.number) BEGIN SELECT RAISE(ABORT, 'nothing in the logbook is overwritten'); END;
ALTER TABLE run ADD COLUMN action ANY AS (coalesce(json_extract(result, '$.correction.decision.action'),
 json_extract(result, '$.decision.action'), json_extract(result, '$.correction.decision.value'),
 json_extract(result, '$.decision.value'))) VIRTUAL;
PRAGMA application_id = 1129731138;
PRAGMA user_version = 2;
COMMIT;
