-- The registry. Quantities are in the unit that the column's name ends with; NULL is "unknown".
-- Every id is a UUID, so that records of two registries never clash. Times are RFC 3339 text.

-- Who writes, and whether the triggers note it; one row, set at the start of each transaction.
CREATE TABLE writing (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    who TEXT,
    noted INTEGER NOT NULL DEFAULT 1 CHECK (noted IN (0, 1))
) STRICT;
INSERT INTO writing (one) VALUES (1);

CREATE TABLE site (
    one INTEGER NOT NULL UNIQUE DEFAULT 1 CHECK (one = 1),   -- a registry describes one site
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT,
    name TEXT,
    units TEXT CHECK (units IN ('m', 'ft')),
    rules TEXT CHECK (rules IN ('NEC', 'IEC')),
    edition INTEGER,
    base_address TEXT,                                       -- HOST[:PORT] that labels lead to
    ambient_max_c REAL,
    record_low_c REAL
) STRICT;

CREATE TABLE enclosures (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    kind TEXT CHECK (kind IN ('junction-box', 'conduit-body', 'wireway', 'panelboard', 'combiner',
        'disconnect', 'inverter', 'roof-array', 'array', 'equipment')),
    name TEXT,
    "where" TEXT,
    wet INTEGER CHECK (wet IN (0, 1)),
    sunlight INTEGER CHECK (sunlight IN (0, 1)),
    indoors INTEGER CHECK (indoors IN (0, 1))
) STRICT;

CREATE TABLE terminals (
    id TEXT PRIMARY KEY NOT NULL,
    enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    UNIQUE (enclosure_id, code)
) STRICT;

CREATE TABLE devices (
    id TEXT PRIMARY KEY NOT NULL,
    enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    kind TEXT CHECK (kind IN ('breaker', 'fuse', 'disconnect', 'contactor', 'splice', 'bus',
        'load', 'source')),
    closed INTEGER CHECK (closed IN (0, 1)),
    rating_a REAL CHECK (rating_a > 0),
    UNIQUE (enclosure_id, code)
) STRICT;

-- A pole joins two terminals while its device is closed.
CREATE TABLE poles (
    id TEXT PRIMARY KEY NOT NULL,
    device_id TEXT NOT NULL REFERENCES devices (id),
    position INTEGER NOT NULL,
    one_terminal_id TEXT NOT NULL REFERENCES terminals (id),
    other_terminal_id TEXT NOT NULL REFERENCES terminals (id),
    UNIQUE (device_id, position)
) STRICT;
CREATE INDEX poles_one ON poles (one_terminal_id);
CREATE INDEX poles_other ON poles (other_terminal_id);

CREATE TABLE raceways (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    from_enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    to_enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    type TEXT,
    trade_size TEXT,
    length_m REAL CHECK (length_m > 0),
    bends_deg REAL CHECK (bends_deg >= 0),
    metal INTEGER CHECK (metal IN (0, 1)),
    wet INTEGER CHECK (wet IN (0, 1)),
    sunlight INTEGER CHECK (sunlight IN (0, 1)),
    indoors INTEGER CHECK (indoors IN (0, 1)),
    ambient_c REAL,
    walls_m TEXT NOT NULL DEFAULT '[]'                       -- JSON list: walls, metres from "from"
) STRICT;
CREATE INDEX raceways_from ON raceways (from_enclosure_id);
CREATE INDEX raceways_to ON raceways (to_enclosure_id);

CREATE TABLE circuits (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    title TEXT,
    system TEXT CHECK (system IN ('dc-pv', 'dc-battery', 'dc', 'ac-1ph', 'ac-3ph', 'signal',
        'earthing')),
    max_voltage_v REAL CHECK (max_voltage_v > 0),
    max_current_a REAL CHECK (max_current_a > 0),
    overcurrent_a REAL CHECK (overcurrent_a > 0),            -- rating of the overcurrent device
    solidly_earthed INTEGER CHECK (solidly_earthed IN (0, 1)),
    module_voc_v REAL CHECK (module_voc_v > 0),
    module_isc_a REAL CHECK (module_isc_a > 0),
    module_voc_pct_per_k REAL,
    modules_in_series INTEGER CHECK (modules_in_series > 0),
    strings_in_parallel INTEGER CHECK (strings_in_parallel > 0)
) STRICT;

CREATE TABLE pulls (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40)
) STRICT;

CREATE TABLE pull_raceways (
    id TEXT PRIMARY KEY NOT NULL,
    pull_id TEXT NOT NULL REFERENCES pulls (id),
    position INTEGER NOT NULL,
    raceway_id TEXT NOT NULL REFERENCES raceways (id),
    UNIQUE (pull_id, position)
) STRICT;
CREATE INDEX pull_raceways_raceway ON pull_raceways (raceway_id);

-- Ends seen at a box before they are identified: the number on the tape, the colour.
CREATE TABLE far_ends (
    id TEXT PRIMARY KEY NOT NULL,
    pull_id TEXT NOT NULL REFERENCES pulls (id),
    enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    position INTEGER NOT NULL,
    mark TEXT NOT NULL,
    colour TEXT,
    UNIQUE (pull_id, enclosure_id, mark)
) STRICT;

CREATE TABLE conductors (
    id TEXT PRIMARY KEY NOT NULL,
    tag TEXT NOT NULL UNIQUE CHECK (length(tag) = 7),
    circuit_id TEXT NOT NULL REFERENCES circuits (id),
    function TEXT NOT NULL CHECK (function IN ('L1', 'L2', 'L3', 'N', 'L+', 'L-', 'M', 'PE', 'FE',
        'PEN', 'signal')),
    core TEXT,
    size TEXT NOT NULL,
    metal TEXT CHECK (metal IN ('Cu', 'Al')),
    insulation TEXT,
    strands INTEGER CHECK (strands > 0),
    colour TEXT,
    pull_id TEXT REFERENCES pulls (id),
    length_m REAL CHECK (length_m > 0),
    outer_diameter_mm REAL CHECK (outer_diameter_mm > 0),
    note TEXT
) STRICT;
CREATE INDEX conductors_circuit ON conductors (circuit_id);
CREATE INDEX conductors_pull ON conductors (pull_id);

CREATE TABLE ends (
    id TEXT PRIMARY KEY NOT NULL,
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    side TEXT NOT NULL CHECK (side IN ('from', 'to')),
    enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    terminal_id TEXT REFERENCES terminals (id),
    state TEXT CHECK (state IN ('landed', 'capped', 'loose')),
    mark TEXT,                                               -- end mark found by a ring-out
    CHECK (state IS NOT 'landed' OR terminal_id IS NOT NULL),
    UNIQUE (conductor_id, side)
) STRICT;
CREATE INDEX ends_enclosure ON ends (enclosure_id);
CREATE INDEX ends_terminal ON ends (terminal_id);

CREATE TABLE instruments (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    kind TEXT CHECK (kind IN ('ohmmeter', 'multimeter', 'insulation-tester', 'loop-tester',
        'voltmeter')),
    name TEXT,
    accuracy TEXT,                                           -- as its manual says it
    resolution TEXT,
    serial TEXT,
    calibrated_on TEXT
) STRICT;

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
    supersedes TEXT UNIQUE REFERENCES readings (id),
    CHECK (number IS NOT NULL OR over_range = 1)
) STRICT;
CREATE INDEX readings_conductor ON readings (conductor_id);

CREATE TABLE ringouts (
    id TEXT PRIMARY KEY NOT NULL,
    pull_id TEXT NOT NULL REFERENCES pulls (id),
    near_id TEXT NOT NULL REFERENCES enclosures (id),
    far_id TEXT NOT NULL REFERENCES enclosures (id),
    settings TEXT NOT NULL,                                  -- JSON: ends, colours, references, gear
    at TEXT NOT NULL,
    result TEXT                                              -- JSON, once finished
) STRICT;
CREATE INDEX ringouts_pull ON ringouts (pull_id);

-- What was asked and answered, in order; a wrong answer is superseded by a later one.
CREATE TABLE ringout_answers (
    id TEXT PRIMARY KEY NOT NULL,
    ringout_id TEXT NOT NULL REFERENCES ringouts (id),
    seq INTEGER NOT NULL,
    step TEXT NOT NULL,
    answer TEXT NOT NULL,
    at TEXT NOT NULL,
    supersedes TEXT UNIQUE REFERENCES ringout_answers (id),
    UNIQUE (ringout_id, seq)
) STRICT;

CREATE TABLE label_prints (
    id TEXT PRIMARY KEY NOT NULL,
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    side TEXT NOT NULL CHECK (side IN ('from', 'to')),
    form TEXT NOT NULL,
    stock TEXT NOT NULL,
    legend TEXT NOT NULL,                                    -- JSON: what the label says
    file TEXT,
    at TEXT NOT NULL
) STRICT;
CREATE INDEX label_prints_conductor ON label_prints (conductor_id);

-- The change history, filled by triggers only.
CREATE TABLE changes (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    by TEXT,
    what TEXT NOT NULL,                                      -- the table
    record TEXT NOT NULL,                                    -- the record's id
    action TEXT NOT NULL CHECK (action IN ('added', 'changed', 'removed')),
    old TEXT,
    new TEXT
) STRICT;
CREATE INDEX changes_record ON changes (record);

-- Readings, answers, label prints and history stay as they were written.
CREATE TRIGGER readings_stay BEFORE UPDATE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never changed; supersede it by a new one'); END;
CREATE TRIGGER readings_remain BEFORE DELETE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never deleted; supersede it by a new one'); END;
CREATE TRIGGER ringout_answers_stay BEFORE UPDATE ON ringout_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never changed; supersede it by a new one'); END;
CREATE TRIGGER ringout_answers_remain BEFORE DELETE ON ringout_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never deleted; supersede it by a new one'); END;
CREATE TRIGGER label_prints_stay BEFORE UPDATE ON label_prints
BEGIN SELECT RAISE(ABORT, 'the print log is never changed'); END;
CREATE TRIGGER label_prints_remain BEFORE DELETE ON label_prints
BEGIN SELECT RAISE(ABORT, 'the print log is never deleted'); END;
CREATE TRIGGER changes_stay BEFORE UPDATE ON changes
BEGIN SELECT RAISE(ABORT, 'the history is never changed'); END;
CREATE TRIGGER changes_remain BEFORE DELETE ON changes
BEGIN SELECT RAISE(ABORT, 'the history is never deleted'); END;
