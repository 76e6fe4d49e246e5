-- Two copies of a registry that were changed apart can be merged. What each wrote down stays, so
-- one reading may have been superseded in both, and a ring-out or a search may have gone on twice
-- from the same answer. Those tables are made anew without the constraints that forbade it.

CREATE TEMP TABLE kept_readings AS SELECT rowid AS place, * FROM readings;
CREATE TEMP TABLE kept_ringout_answers AS
SELECT *, lag(id) OVER (PARTITION BY ringout_id ORDER BY seq) AS follows
FROM (SELECT rowid AS place, * FROM ringout_answers);
CREATE TEMP TABLE kept_search_answers AS
SELECT *, lag(id) OVER (PARTITION BY fault_search_id ORDER BY seq) AS follows
FROM (SELECT rowid AS place, * FROM fault_search_answers);
DROP TABLE readings;
DROP TABLE ringout_answers;
DROP TABLE fault_search_answers;

CREATE TABLE readings (
    id TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('continuity', 'insulation', 'voltage', 'loop')),
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    value TEXT NOT NULL,                                     -- as typed
    number REAL,                                             -- in unit; a bound if over_range
    unit TEXT NOT NULL CHECK (unit IN ('ohm', 'V')),
    over_range INTEGER NOT NULL CHECK (over_range IN (0, 1)),
    at TEXT,
    instrument_id TEXT REFERENCES instruments (id),
    leads_ohm REAL CHECK (leads_ohm >= 0),
    temp_c REAL,
    against TEXT,                                            -- a tag, 'raceway' or 'PE'
    test_voltage_v REAL CHECK (test_voltage_v > 0),
    after_s REAL CHECK (after_s > 0),                        -- how long the test voltage was on
    by TEXT,
    note TEXT,
    supersedes TEXT REFERENCES readings (id),                -- twice: two copies did so apart
    CHECK (number IS NOT NULL OR over_range = 1)
) STRICT;
INSERT INTO readings (rowid, id, kind, conductor_id, value, number, unit, over_range, at,
    instrument_id, leads_ohm, temp_c, against, test_voltage_v, after_s, by, note, supersedes)
SELECT place, id, kind, conductor_id, value, number, unit, over_range, at, instrument_id,
    leads_ohm, temp_c, against, test_voltage_v, after_s, by, note, supersedes
FROM kept_readings ORDER BY place;
CREATE INDEX readings_conductor ON readings (conductor_id);
CREATE INDEX readings_supersedes ON readings (supersedes);

-- What was asked and answered. `follows` is the answer before; where two follow the same one, two
-- copies went on apart, and the longer way counts. A wrong answer is superseded by a later one.
CREATE TABLE ringout_answers (
    id TEXT PRIMARY KEY NOT NULL,
    ringout_id TEXT NOT NULL REFERENCES ringouts (id),
    seq INTEGER NOT NULL,                                    -- the place on its way, from 1
    step TEXT NOT NULL,
    answer TEXT NOT NULL,
    at TEXT NOT NULL,
    supersedes TEXT REFERENCES ringout_answers (id),
    follows TEXT REFERENCES ringout_answers (id)
) STRICT;
INSERT INTO ringout_answers (rowid, id, ringout_id, seq, step, answer, at, supersedes, follows)
SELECT place, id, ringout_id, seq, step, answer, at, supersedes, follows
FROM kept_ringout_answers ORDER BY place;
CREATE INDEX ringout_answers_of ON ringout_answers (ringout_id, seq);
CREATE INDEX ringout_answers_supersedes ON ringout_answers (supersedes);
CREATE INDEX ringout_answers_follows ON ringout_answers (follows);

CREATE TABLE fault_search_answers (
    id TEXT PRIMARY KEY NOT NULL,
    fault_search_id TEXT NOT NULL REFERENCES fault_searches (id),
    seq INTEGER NOT NULL,                                    -- the place on its way, from 1
    step TEXT NOT NULL,
    answer TEXT NOT NULL,
    at TEXT NOT NULL,
    supersedes TEXT REFERENCES fault_search_answers (id),
    follows TEXT REFERENCES fault_search_answers (id)
) STRICT;
INSERT INTO fault_search_answers
    (rowid, id, fault_search_id, seq, step, answer, at, supersedes, follows)
SELECT place, id, fault_search_id, seq, step, answer, at, supersedes, follows
FROM kept_search_answers ORDER BY place;
CREATE INDEX fault_search_answers_of ON fault_search_answers (fault_search_id, seq);
CREATE INDEX fault_search_answers_supersedes ON fault_search_answers (supersedes);
CREATE INDEX fault_search_answers_follows ON fault_search_answers (follows);

DROP TABLE kept_readings;
DROP TABLE kept_ringout_answers;
DROP TABLE kept_search_answers;
