-- The registry: one SQLite file, one site. Quantities are in the unit that the column's name ends
-- with; NULL is "unknown". Every id is a UUID, so that records of two registries never clash.
-- Times are RFC 3339 text, or a day alone where no more is known. `nr` counts what came in this
-- registry, and is no part of the record: the search finds a row by it.
-- The triggers that are alike for every table (history, search) are made by store/schema.py.

-- Who writes and since when; whether the triggers note each row that changes in the history (2: no,
-- a load is noted as one), gather it for the log, and say what the search must read again. One row,
-- set at the start of each transaction.
CREATE TABLE writing (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    who TEXT,
    at TEXT,
    change TEXT,                                             -- the id of the change under way
    more TEXT,                                               -- JSON: what else is said of it
    noted INTEGER NOT NULL DEFAULT 1 CHECK (noted IN (0, 1, 2)),
    gathered INTEGER NOT NULL DEFAULT 1 CHECK (gathered IN (0, 1)),
    searched INTEGER NOT NULL DEFAULT 1 CHECK (searched IN (0, 1))
) STRICT;
INSERT INTO writing (one) VALUES (1);

-- The site ----------------------------------------------------------------------------------------

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
    record_low_c REAL,
    time_zone TEXT CHECK (length(time_zone) BETWEEN 1 AND 64),  -- IANA
    earthing TEXT CHECK (earthing IN ('TN', 'TT', 'IT')),    -- of its supply, IEC 60364-1, 312.2
    walk_time_s REAL,                                        -- what ringing out takes here
    twist_time_s REAL,
    touch_time_s REAL
) STRICT;

CREATE TABLE enclosures (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    kind TEXT CHECK (kind IN ('junction-box', 'conduit-body', 'wireway', 'panelboard', 'combiner',
        'disconnect', 'inverter', 'roof-array', 'array', 'equipment')),
    name TEXT,
    "where" TEXT,
    wet INTEGER CHECK (wet IN (0, 1)),
    sunlight INTEGER CHECK (sunlight IN (0, 1)),
    indoors INTEGER CHECK (indoors IN (0, 1)),
    marked INTEGER CHECK (marked IN (0, 1))  -- whether the markings that the code demands are on
) STRICT;
CREATE INDEX enclosures_kind ON enclosures (kind);

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
    termination_rating_c REAL,
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
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
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
    walls_m TEXT NOT NULL DEFAULT '[]',                      -- JSON list: walls, metres from "from"
    width_mm REAL CHECK (width_mm > 0),                      -- inside, of a wireway
    height_mm REAL CHECK (height_mm > 0),
    above_roof_m REAL CHECK (above_roof_m >= 0),
    marked INTEGER CHECK (marked IN (0, 1))
) STRICT;
CREATE INDEX raceways_from ON raceways (from_enclosure_id);
CREATE INDEX raceways_to ON raceways (to_enclosure_id);

CREATE TABLE circuits (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
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
    strings_in_parallel INTEGER CHECK (strings_in_parallel > 0),
    retired_at TEXT,                                         -- kept, but no longer part of the work
    earthing TEXT CHECK (earthing IN ('TN', 'TT', 'IT')),    -- its own word goes before the site's
    supply TEXT CHECK (supply IN ('120', '120/240', '208Y/120', '480Y/277', '240/120 high leg',
        '230', '400Y/230')),
    continuous INTEGER CHECK (continuous IN (0, 1)),
    motor INTEGER CHECK (motor IN (0, 1)),
    module_vmp_v REAL CHECK (module_vmp_v > 0),
    module_imp_a REAL CHECK (module_imp_a > 0)
) STRICT;

CREATE TABLE pulls (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
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
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    tag TEXT NOT NULL UNIQUE CHECK (length(tag) = 7),
    function TEXT NOT NULL CHECK (function IN ('L1', 'L2', 'L3', 'N', 'L+', 'L-', 'M', 'PE', 'FE',
        'PEN', 'signal')),
    cable TEXT CHECK (length(cable) BETWEEN 1 AND 40),       -- that it is a core of
    core TEXT,
    size TEXT NOT NULL,
    metal TEXT,                                              -- of wiretrack/electrical/metals.py
    insulation TEXT,
    strands INTEGER CHECK (strands > 0),
    colour TEXT,
    pull_id TEXT REFERENCES pulls (id),
    length_m REAL CHECK (length_m > 0),
    outer_diameter_mm REAL CHECK (outer_diameter_mm > 0),
    note TEXT,
    retired_at TEXT,  -- kept with its readings, but no longer part of the work
    retired_because TEXT CHECK (retired_because IN ('cut', 'replaced', 'removed', 'abandoned')),
    -- The conductor that this one is a piece of, or is in the place of.
    follows_id TEXT REFERENCES conductors (id) DEFERRABLE INITIALLY DEFERRED
        CHECK (follows_id <> id),
    parallel_set INTEGER CHECK (parallel_set > 0),
    came INTEGER REFERENCES changes (seq),  -- of one that came with a load: that line; not dumped
    CHECK ((retired_at IS NULL) = (retired_because IS NULL))
) STRICT;
CREATE INDEX conductors_cable ON conductors (cable) WHERE cable IS NOT NULL;
CREATE INDEX conductors_pull ON conductors (pull_id);
CREATE INDEX conductors_follows ON conductors (follows_id);
CREATE INDEX conductors_retired ON conductors (retired_because) WHERE retired_because IS NOT NULL;

-- Which circuits it serves, the first one first: none is a spare, several share it.
CREATE TABLE conductor_circuits (
    id TEXT PRIMARY KEY NOT NULL,
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    circuit_id TEXT NOT NULL REFERENCES circuits (id),
    position INTEGER NOT NULL CHECK (position > 0),
    UNIQUE (conductor_id, position)
) STRICT;
CREATE INDEX conductor_circuits_circuit ON conductor_circuits (circuit_id);

-- The same as people write it.
CREATE VIEW served AS
SELECT c.id AS conductor_id, coalesce((SELECT group_concat(listed.code, '/') FROM (
    SELECT k.code FROM conductor_circuits AS s JOIN circuits AS k ON k.id = s.circuit_id
    WHERE s.conductor_id = c.id ORDER BY s.position) AS listed), 'SPARE') AS code
FROM conductors AS c;

CREATE TABLE ends (
    id TEXT PRIMARY KEY NOT NULL,
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    side TEXT NOT NULL CHECK (side IN ('from', 'to')),
    enclosure_id TEXT NOT NULL REFERENCES enclosures (id),
    terminal_id TEXT REFERENCES terminals (id),
    state TEXT CHECK (state IN ('landed', 'capped', 'loose')),
    mark TEXT,                                               -- end mark found by a ring-out
    -- When it was found crossed with another: what was read by its landing before is owed again.
    crossed_at TEXT,
    reidentified TEXT,  -- the colour of the tape or paint on it
    CHECK (state IS NOT 'landed' OR terminal_id IS NOT NULL),
    UNIQUE (conductor_id, side)
) STRICT;
CREATE INDEX ends_enclosure ON ends (enclosure_id);
CREATE INDEX ends_terminal ON ends (terminal_id);
CREATE INDEX ends_crossed ON ends (crossed_at) WHERE crossed_at IS NOT NULL;

CREATE TABLE instruments (
    id TEXT PRIMARY KEY NOT NULL,
    code TEXT NOT NULL UNIQUE CHECK (length(code) BETWEEN 1 AND 40),
    kind TEXT CHECK (kind IN ('ohmmeter', 'multimeter', 'insulation-tester', 'loop-tester',
        'voltmeter')),
    name TEXT,
    accuracy TEXT,                                           -- as its manual says it
    resolution TEXT,
    serial TEXT,
    calibrated_on TEXT,
    range TEXT                                               -- its top, as typed
) STRICT;

-- Codes are also looked up without regard to case.
CREATE INDEX enclosures_any_case ON enclosures (code COLLATE NOCASE);
CREATE INDEX raceways_any_case ON raceways (code COLLATE NOCASE);
CREATE INDEX circuits_any_case ON circuits (code COLLATE NOCASE);
CREATE INDEX pulls_any_case ON pulls (code COLLATE NOCASE);
CREATE INDEX instruments_any_case ON instruments (code COLLATE NOCASE);

-- What was measured, asked and printed: logs, never changed ---------------------------------------

CREATE TABLE readings (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,                                      -- a word of wiretrack/readings
    conductor_id TEXT REFERENCES conductors (id),            -- what was measured: one of these three
    device_id TEXT REFERENCES devices (id),
    circuit_id TEXT REFERENCES circuits (id),
    value TEXT NOT NULL,                                     -- as typed
    number REAL,                                             -- in unit; a bound if over_range
    unit TEXT NOT NULL,                                      -- of that kind
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
    cell_temp_c REAL,                                        -- of PV cells, then
    entered_at TEXT,                                         -- when and by whom it came in here
    entered_by TEXT,
    CHECK (number IS NOT NULL OR over_range = 1),
    CHECK ((conductor_id IS NOT NULL) + (device_id IS NOT NULL) + (circuit_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX readings_conductor ON readings (conductor_id);
CREATE INDEX readings_device ON readings (device_id) WHERE device_id IS NOT NULL;
CREATE INDEX readings_circuit ON readings (circuit_id) WHERE circuit_id IS NOT NULL;
CREATE INDEX readings_supersedes ON readings (supersedes);
CREATE INDEX readings_instrument ON readings (instrument_id);

-- Remarks on any record, and pictures and documents with it. `record` is its id, of the site `site`.
-- A note can take an earlier note, or an attachment, back.
CREATE TABLE notes (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    what TEXT NOT NULL CHECK (what IN ('conductor', 'circuit', 'enclosure', 'raceway', 'pull',
        'device', 'terminal', 'instrument', 'site')),
    record TEXT NOT NULL,
    text TEXT CHECK (length(text) BETWEEN 1 AND 2000),
    takes_back TEXT,
    at TEXT NOT NULL,
    by TEXT,
    CHECK (coalesce(text, takes_back) IS NOT NULL)
) STRICT;
CREATE INDEX notes_record ON notes (record);
CREATE INDEX notes_takes_back ON notes (takes_back) WHERE takes_back IS NOT NULL;

CREATE TABLE attachments (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    what TEXT NOT NULL CHECK (what IN ('conductor', 'circuit', 'enclosure', 'raceway', 'pull',
        'device', 'terminal', 'instrument', 'site')),
    record TEXT NOT NULL,
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    type TEXT NOT NULL CHECK (type IN ('image/jpeg', 'image/png', 'application/pdf')),
    sha256 TEXT NOT NULL REFERENCES files (sha256) DEFERRABLE INITIALLY DEFERRED,
    at TEXT NOT NULL,
    by TEXT
) STRICT;
CREATE INDEX attachments_record ON attachments (record);
CREATE INDEX attachments_sha256 ON attachments (sha256);

-- Every record that a note can be of, as people call it. All columns are text: see the search.
CREATE VIEW named (id, what, code) AS
SELECT id, 'conductor', tag FROM conductors
UNION ALL SELECT id, 'circuit', code FROM circuits
UNION ALL SELECT id, 'enclosure', code FROM enclosures
UNION ALL SELECT id, 'raceway', code FROM raceways
UNION ALL SELECT id, 'pull', code FROM pulls
UNION ALL SELECT id, 'instrument', code FROM instruments
UNION ALL SELECT d.id, 'device', CAST(b.code || '/' || d.code AS TEXT)
    FROM devices AS d JOIN enclosures AS b ON b.id = d.enclosure_id
UNION ALL SELECT t.id, 'terminal', CAST(b.code || '/' || t.code AS TEXT)
    FROM terminals AS t JOIN enclosures AS b ON b.id = t.enclosure_id
UNION ALL SELECT CAST('site' AS TEXT), 'site', CAST('site' AS TEXT);

-- What stands, with what it is of.
CREATE VIEW note_list AS
SELECT n.at, n.what, (SELECT m.code FROM named AS m WHERE m.id = n.record) AS of, n.text, n.by, n.id
FROM notes AS n WHERE n.text IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM notes AS b WHERE b.takes_back = n.id);
CREATE VIEW attachment_list AS
SELECT a.at, a.what, (SELECT m.code FROM named AS m WHERE m.id = a.record) AS of, a.name, a.type,
    a.by, a.sha256, a.id
FROM attachments AS a WHERE NOT EXISTS (SELECT 1 FROM notes AS b WHERE b.takes_back = a.id);

-- Records of one thing that came in apart, under two ids: the smaller one stands for both. It is
-- taken back by a later row. `tag`: under which each was known when that was said.
CREATE TABLE same_records (
    nr INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    what TEXT NOT NULL CHECK (what IN ('conductor', 'circuit', 'enclosure', 'raceway', 'pull',
        'device', 'terminal', 'instrument', 'site', 'reading')),
    record TEXT,
    other TEXT CHECK (other <> record),
    tag TEXT,
    other_tag TEXT,
    takes_back TEXT,
    at TEXT NOT NULL,
    by TEXT,
    CHECK ((record IS NULL) = (other IS NULL)),
    CHECK (coalesce(record, takes_back) IS NOT NULL)
) STRICT;
CREATE INDEX same_records_record ON same_records (record);
CREATE INDEX same_records_other ON same_records (other);
CREATE INDEX same_records_takes_back ON same_records (takes_back);

-- Guided work. Each kind is a table of the site file.
CREATE TABLE procedures (
    id TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('ringouts', 'fault_searches')),
    pull_id TEXT REFERENCES pulls (id),                      -- of a ring-out, between two boxes
    near_id TEXT REFERENCES enclosures (id),
    far_id TEXT REFERENCES enclosures (id),
    circuit_id TEXT REFERENCES circuits (id),                -- of a search for a fault
    symptom TEXT CHECK (symptom IN ('dead-circuit', 'tripping-breaker', 'low-voltage',
        'reversed-polarity', 'insulation-alarm', 'wrong-string-voltage')),
    settings TEXT NOT NULL,  -- JSON: ends, colours, references, gear; suspects, readings to choose
    at TEXT NOT NULL,
    result TEXT,                                             -- JSON, once finished
    CHECK ((pull_id IS NULL) + (near_id IS NULL) + (far_id IS NULL)
        = iif(kind = 'ringouts', 0, 3)),
    CHECK ((circuit_id IS NULL) + (symptom IS NULL) = iif(kind = 'fault_searches', 0, 2))
) STRICT;
CREATE INDEX procedures_pull ON procedures (pull_id);
CREATE INDEX procedures_circuit ON procedures (circuit_id);

-- What was asked and answered. `follows` is the answer before; where two follow the same one, two
-- copies went on apart, and the longer way counts. A wrong answer is superseded by a later one.
CREATE TABLE procedure_answers (
    id TEXT PRIMARY KEY NOT NULL,
    procedure_id TEXT NOT NULL REFERENCES procedures (id),
    seq INTEGER NOT NULL,                                    -- the place on its way, from 1
    step TEXT NOT NULL,
    answer TEXT NOT NULL,
    at TEXT NOT NULL,
    supersedes TEXT REFERENCES procedure_answers (id),
    follows TEXT REFERENCES procedure_answers (id)
) STRICT;
CREATE INDEX procedure_answers_of ON procedure_answers (procedure_id, seq);
CREATE INDEX procedure_answers_supersedes ON procedure_answers (supersedes);
CREATE INDEX procedure_answers_follows ON procedure_answers (follows);

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

-- Which labels are on their wires. A file drawn is no label on a wire, so somebody says that it is
-- on: the one printed last for that end, or one written by hand, with what it says. A saying that
-- was wrong, or is so no longer, is taken back by a later row; nothing here is ever changed.
CREATE TABLE placed_labels (
    id TEXT PRIMARY KEY NOT NULL,
    conductor_id TEXT NOT NULL REFERENCES conductors (id),
    side TEXT NOT NULL CHECK (side IN ('from', 'to')),
    print_id TEXT REFERENCES label_prints (id),              -- the printed label that is on
    legend TEXT,                                             -- JSON: what one written by hand says
    takes_back TEXT REFERENCES placed_labels (id),           -- the saying that holds no longer
    at TEXT NOT NULL,
    by TEXT,
    CHECK ((print_id IS NOT NULL) + (legend IS NOT NULL) + (takes_back IS NOT NULL) = 1)
) STRICT;
CREATE INDEX placed_labels_conductor ON placed_labels (conductor_id);
CREATE INDEX placed_labels_takes_back ON placed_labels (takes_back);

-- The log -----------------------------------------------------------------------------------------

-- Everything acknowledged, in the order in which this copy learned it: each writer's entries are
-- numbered and chained. What is hashed and signed: schemas/log.md. The records are what follows.
CREATE TABLE log (
    nr INTEGER PRIMARY KEY,
    writer BLOB NOT NULL CHECK (length(writer) = 16),
    number INTEGER NOT NULL CHECK (number > 0),
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    previous BLOB NOT NULL CHECK (length(previous) = 32),
    content BLOB NOT NULL CHECK (length(content) = 32),
    salt BLOB CHECK (length(salt) = 16),
    body BLOB CHECK (length(body) <= 1048576),               -- NULL: its words were erased
    signature BLOB CHECK (length(signature) = 64),           -- of a commit's last entry
    have INTEGER,  -- no part of it: the number of its writer's last entry of kind `have`
    UNIQUE (writer, number),
    CHECK ((salt IS NULL) = (body IS NULL))
) STRICT;
-- Where in the log each file's parts begin: its content lies there, and nowhere else.
CREATE TABLE files (
    sha256 TEXT PRIMARY KEY NOT NULL CHECK (length(sha256) = 64),
    writer BLOB NOT NULL,
    number INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TRIGGER log_holds_files AFTER INSERT ON log WHEN instr(new.body, x'0a') > 0
BEGIN
    INSERT OR IGNORE INTO files (sha256, writer, number)
    SELECT said ->> 'file', new.writer, new.number
    FROM (SELECT CAST(substr(new.body, 1, instr(new.body, x'0a') - 1) AS TEXT) AS said)
    WHERE json_valid(said) AND said ->> 'kind' = 'part' AND said ->> 'part' = 1;
END;

-- What the entries say of each record, so that it can be made of them again (store/fold.py). What a
-- load added is here once somebody works on it; `entry` NULL: what the load said.
CREATE TABLE operations (
    nr INTEGER PRIMARY KEY,
    entry INTEGER REFERENCES log (nr),
    what TEXT NOT NULL,                                      -- a table
    record TEXT NOT NULL,                                    -- of a list's rows what it is of
    said TEXT NOT NULL                                       -- JSON: the row, as the entry has it
) STRICT;
CREATE INDEX operations_record ON operations (record, what);
-- Where an entry removes or retires a record; which those are that it removes.
CREATE INDEX operations_marked ON operations (record, what)
WHERE instr(said, '"removed":') OR instr(said, '"retired_at":');
CREATE INDEX operations_removing ON operations (entry) WHERE instr(said, '"removed":');
-- What copies said apart, and nobody decided since. `said` is JSON: the values, the one that the
-- record shows first; of a name that two records bear, that name and the other record.
CREATE TABLE undecided (
    what TEXT NOT NULL,                                      -- a table
    record TEXT NOT NULL,
    field TEXT NOT NULL,                                     -- or fields that are decided as one
    said TEXT NOT NULL,
    PRIMARY KEY (what, record, field)
) STRICT, WITHOUT ROWID;
-- Which rows the write under way touched, for the log's next entry.
CREATE TABLE gathered (
    nr INTEGER PRIMARY KEY,
    at TEXT,                                                 -- NULL: another program wrote it
    what TEXT NOT NULL,
    record TEXT NOT NULL,
    action TEXT NOT NULL,
    old TEXT,
    new TEXT,
    change TEXT                                              -- its line of the history
) STRICT;
CREATE TRIGGER write_ends AFTER UPDATE OF at ON writing WHEN new.at IS NULL
BEGIN DELETE FROM gathered; END;

-- The history -------------------------------------------------------------------------------------

-- The history. Triggers note each change of a record, with the row before and after it. A load is
-- one line: what 'file', its SHA-256 for the record, and in `new` its name and how many rows of each
-- table it added. What has no line of its own came with the loads, in their order.
CREATE TABLE changes (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    change TEXT,                                             -- the change that the line is part of
    more TEXT,                                               -- JSON: why, and what that undoes
    at TEXT NOT NULL,
    by TEXT,
    what TEXT NOT NULL,                                      -- the table; 'file' of a load
    record TEXT NOT NULL,                                    -- its id; of a file its SHA-256
    action TEXT NOT NULL CHECK (action IN ('added', 'changed', 'removed', 'loaded')),
    old TEXT,
    new TEXT
) STRICT;
CREATE INDEX changes_record ON changes (record);
CREATE INDEX changes_change ON changes (change);

-- What refuses to be changed ----------------------------------------------------------------------

CREATE TRIGGER log_stays BEFORE UPDATE ON log
BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END;
CREATE TRIGGER log_remains BEFORE DELETE ON log
BEGIN SELECT RAISE(ABORT, 'the log is never deleted'); END;
CREATE TRIGGER log_is_not_replaced BEFORE INSERT ON log
WHEN EXISTS (SELECT 1 FROM log AS l WHERE l.nr = new.nr OR l.hash = new.hash
    OR (l.writer = new.writer AND l.number = new.number))
BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END;

CREATE TRIGGER readings_stay BEFORE UPDATE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never changed; supersede it by a new one'); END;
CREATE TRIGGER readings_remain BEFORE DELETE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never deleted; supersede it by a new one'); END;
CREATE TRIGGER procedure_answers_stay BEFORE UPDATE ON procedure_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never changed; supersede it by a new one'); END;
CREATE TRIGGER procedure_answers_remain BEFORE DELETE ON procedure_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never deleted; supersede it by a new one'); END;
CREATE TRIGGER label_prints_stay BEFORE UPDATE ON label_prints
BEGIN SELECT RAISE(ABORT, 'the print log is never changed'); END;
CREATE TRIGGER label_prints_remain BEFORE DELETE ON label_prints
BEGIN SELECT RAISE(ABORT, 'the print log is never deleted'); END;
CREATE TRIGGER changes_stay BEFORE UPDATE ON changes
BEGIN SELECT RAISE(ABORT, 'the history is never changed'); END;
CREATE TRIGGER changes_remain BEFORE DELETE ON changes
BEGIN SELECT RAISE(ABORT, 'the history is never deleted'); END;
CREATE TRIGGER placed_labels_stay BEFORE UPDATE ON placed_labels
BEGIN SELECT RAISE(ABORT, 'what was said of a label is never changed; take it back'); END;
CREATE TRIGGER placed_labels_remain BEFORE DELETE ON placed_labels
BEGIN SELECT RAISE(ABORT, 'what was said of a label is never deleted; take it back'); END;
CREATE TRIGGER notes_stay BEFORE UPDATE ON notes
BEGIN SELECT RAISE(ABORT, 'a note is never changed; take it back'); END;
CREATE TRIGGER notes_remain BEFORE DELETE ON notes
BEGIN SELECT RAISE(ABORT, 'a note is never deleted; take it back'); END;
CREATE TRIGGER attachments_stay BEFORE UPDATE ON attachments
BEGIN SELECT RAISE(ABORT, 'what was attached is never changed; take it back'); END;
CREATE TRIGGER attachments_remain BEFORE DELETE ON attachments
BEGIN SELECT RAISE(ABORT, 'what was attached is never deleted; take it back'); END;
CREATE TRIGGER same_records_stay BEFORE UPDATE ON same_records
BEGIN SELECT RAISE(ABORT, 'what is said to be the same is never changed; take it back'); END;
CREATE TRIGGER same_records_remain BEFORE DELETE ON same_records
BEGIN SELECT RAISE(ABORT, 'what is said to be the same is never deleted; take it back'); END;

-- Without these, INSERT OR REPLACE would get past the triggers above.
CREATE TRIGGER readings_are_not_replaced BEFORE INSERT ON readings
WHEN EXISTS (SELECT 1 FROM readings AS r WHERE r.id = new.id OR r.nr = new.nr)
BEGIN SELECT RAISE(ABORT, 'a reading is never changed; supersede it by a new one'); END;
CREATE TRIGGER procedure_answers_are_not_replaced BEFORE INSERT ON procedure_answers
WHEN EXISTS (SELECT 1 FROM procedure_answers AS a WHERE a.id = new.id OR a.rowid = new.rowid)
BEGIN SELECT RAISE(ABORT, 'an answer is never changed; supersede it by a new one'); END;
CREATE TRIGGER label_prints_are_not_replaced BEFORE INSERT ON label_prints
WHEN EXISTS (SELECT 1 FROM label_prints AS l WHERE l.id = new.id OR l.rowid = new.rowid)
BEGIN SELECT RAISE(ABORT, 'the print log is never changed'); END;
CREATE TRIGGER placed_labels_are_not_replaced BEFORE INSERT ON placed_labels
WHEN EXISTS (SELECT 1 FROM placed_labels AS l WHERE l.id = new.id OR l.rowid = new.rowid)
BEGIN SELECT RAISE(ABORT, 'what was said of a label is never changed; take it back'); END;
CREATE TRIGGER notes_are_not_replaced BEFORE INSERT ON notes
WHEN EXISTS (SELECT 1 FROM notes AS n WHERE n.id = new.id OR n.nr = new.nr)
BEGIN SELECT RAISE(ABORT, 'a note is never changed; take it back'); END;
CREATE TRIGGER attachments_are_not_replaced BEFORE INSERT ON attachments
WHEN EXISTS (SELECT 1 FROM attachments AS a WHERE a.id = new.id OR a.nr = new.nr)
BEGIN SELECT RAISE(ABORT, 'what was attached is never changed; take it back'); END;
CREATE TRIGGER same_records_are_not_replaced BEFORE INSERT ON same_records
WHEN EXISTS (SELECT 1 FROM same_records AS s WHERE s.id = new.id OR s.nr = new.nr)
BEGIN SELECT RAISE(ABORT, 'what is said to be the same is never changed; take it back'); END;
CREATE TRIGGER changes_are_not_replaced BEFORE INSERT ON changes
WHEN EXISTS (SELECT 1 FROM changes AS c WHERE c.id = new.id OR c.seq = new.seq)
BEGIN SELECT RAISE(ABORT, 'the history is never changed'); END;

-- Search and pages --------------------------------------------------------------------------------

-- `search_texts` says under which words a record is found; `search` indexes them and keeps no text.
-- A record's place in the index follows from its row: eight times its number, and its kind.
-- Triggers put what changed into `search_due`, and every write ends by indexing that anew (`writing_ends`). Words
-- that a record no longer has still lead to it in the index; whoever looks reads its words as they
-- are now.
CREATE VIEW search_texts (kind, nr, record, what, code, text) AS
SELECT 0, c.nr, c.id, 'conductor', c.tag,
    coalesce(c.tag || ' ', '')
        || coalesce(substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) || ' ', '')
        || coalesce((SELECT group_concat(listed.words, '') FROM (
            SELECT k.code || ' ' || coalesce(k.title || ' ', '') AS words
            FROM conductor_circuits AS s JOIN circuits AS k ON k.id = s.circuit_id
            WHERE s.conductor_id = c.id ORDER BY s.position) AS listed), 'spare ')
        || coalesce(c.function || ' ', '') || coalesce(c.cable || ' ', '')
        || coalesce(c.core || ' ', '')
        || coalesce(c.size || ' ', '') || coalesce(c.metal || ' ', '')
        || coalesce(c.insulation || ' ', '') || coalesce(c.colour || ' ', '')
        || coalesce(p.code || ' ', '') || coalesce(c.note || ' ', '')
        || coalesce(fe.code || ' ', '') || coalesce(fe.name || ' ', '')
        || coalesce(ft.code || ' ', '') || coalesce(f.mark || ' ', '')
        || coalesce(te.code || ' ', '') || coalesce(te.name || ' ', '')
        || coalesce(tt.code || ' ', '') || coalesce(t.mark || ' ', '')
        || coalesce('retired ' || c.retired_because || ' ', '')
FROM conductors AS c
LEFT JOIN pulls AS p ON p.id = c.pull_id
LEFT JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
LEFT JOIN enclosures AS fe ON fe.id = f.enclosure_id
LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
LEFT JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
LEFT JOIN enclosures AS te ON te.id = t.enclosure_id
LEFT JOIN terminals AS tt ON tt.id = t.terminal_id
UNION ALL
SELECT 1, nr, id, 'circuit', code, coalesce(code || ' ', '') || coalesce(title || ' ', '')
        || coalesce(system || ' ', '') || iif(retired_at IS NULL, '', 'retired ') FROM circuits
UNION ALL
SELECT 2, nr, id, 'enclosure', code, coalesce(code || ' ', '') || coalesce(kind || ' ', '')
        || coalesce(name || ' ', '') || coalesce("where" || ' ', '') FROM enclosures
UNION ALL
SELECT 3, r.nr, r.id, 'raceway', r.code,
        coalesce(r.code || ' ', '') || coalesce(r.type || ' ', '')
        || coalesce(r.trade_size || ' ', '') || coalesce(a.code || ' ', '')
        || coalesce(a.name || ' ', '') || coalesce(b.code || ' ', '')
        || coalesce(b.name || ' ', '')
FROM raceways AS r
JOIN enclosures AS a ON a.id = r.from_enclosure_id
JOIN enclosures AS b ON b.id = r.to_enclosure_id
UNION ALL
SELECT 4, nr, id, 'pull', code, coalesce(code || ' ', '') FROM pulls
UNION ALL
-- Text as the codes above are: else sqlite reads the whole view for each search.
SELECT 5, r.nr, r.id, 'reading', CAST(coalesce(c.tag, b.code || '/' || d.code, own.code) AS TEXT),
        coalesce(r.kind || ' ', '') || coalesce(r.value || ' ', '')
        || coalesce(c.tag || ' ', '') || coalesce(b.code || ' ', '')
        || coalesce(d.code || ' ', '') || coalesce(own.code || ' ', '')
        || coalesce(k.code || ' ', '') || coalesce(i.code || ' ', '') || coalesce(r.by || ' ', '')
        || coalesce(r.note || ' ', '') || coalesce(r.at || ' ', '')
FROM readings AS r
LEFT JOIN conductors AS c ON c.id = r.conductor_id
LEFT JOIN served AS k ON k.conductor_id = c.id
LEFT JOIN devices AS d ON d.id = r.device_id
LEFT JOIN enclosures AS b ON b.id = d.enclosure_id
LEFT JOIN circuits AS own ON own.id = r.circuit_id
LEFT JOIN instruments AS i ON i.id = r.instrument_id
UNION ALL
SELECT 6, n.nr, n.id, '' || n.what, CAST((SELECT m.code FROM named AS m WHERE m.id = n.record) AS TEXT),
        n.text || ' ' || coalesce((SELECT m.code FROM named AS m WHERE m.id = n.record), '')
FROM notes AS n WHERE n.text IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM notes AS b WHERE b.takes_back = n.id)
UNION ALL
SELECT 7, a.nr, a.id, '' || a.what, CAST((SELECT m.code FROM named AS m WHERE m.id = a.record) AS TEXT),
        a.name || ' ' || coalesce((SELECT m.code FROM named AS m WHERE m.id = a.record), '')
FROM attachments AS a WHERE NOT EXISTS (SELECT 1 FROM notes AS b WHERE b.takes_back = a.id);

CREATE VIRTUAL TABLE search USING fts5 (
    text, content = '', prefix = '2 3', tokenize = 'unicode61 remove_diacritics 2'
);
CREATE TABLE search_due (record TEXT PRIMARY KEY NOT NULL) STRICT, WITHOUT ROWID;
CREATE TRIGGER writing_ends AFTER UPDATE OF searched ON writing WHEN new.searched = 1
BEGIN
    INSERT INTO search (rowid, text) SELECT 8 * nr + kind, text FROM search_texts
        WHERE record IN (SELECT record FROM search_due);
    DELETE FROM search_due;
END;

-- The key that signs the sessions of this registry's pages; no dump holds it.
CREATE TABLE signing_key (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    key TEXT NOT NULL CHECK (length(key) = 64)
) STRICT;

-- Sessions that were signed out before their time, by the SHA-256 of their id; no dump holds them.
CREATE TABLE ended_sessions (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 64),
    at TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- For people with sqlite-utils, Datasette and the like --------------------------------------------

-- In words: tags as they are written, places as `BOX TERMINAL`. What follows from rules (verdicts,
-- tests owed, labels no longer true) is in no table; ask wiretrack.
CREATE VIEW conductor_list AS
SELECT substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) AS tag, k.code AS circuit, c.function, c.cable,
    c.core, c.size, c.metal, c.insulation, c.strands, c.colour, p.code AS pull, c.length_m,
    fe.code || coalesce(' ' || ft.code, '') AS from_place,
    te.code || coalesce(' ' || tt.code, '') AS to_place,
    iif(c.retired_at IS NULL, 'in use', c.retired_because) AS state, c.retired_at,
    substr(o.tag, 1, 3) || '-' || substr(o.tag, 4) AS follows, c.note, c.id
FROM conductors AS c
JOIN served AS k ON k.conductor_id = c.id
LEFT JOIN pulls AS p ON p.id = c.pull_id
LEFT JOIN conductors AS o ON o.id = c.follows_id
JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
JOIN enclosures AS fe ON fe.id = f.enclosure_id
LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
JOIN enclosures AS te ON te.id = t.enclosure_id
LEFT JOIN terminals AS tt ON tt.id = t.terminal_id;

-- `identified`: whether it is known which end in the box it is. The near end of a pull carries its
-- tag from the start. `labelled`: whether somebody said that a label is on it.
CREATE VIEW end_list AS
SELECT substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) AS tag, k.code AS circuit, c.function,
    e.side AS "end", b.code AS enclosure, t.code AS terminal,
    b.code || coalesce(' ' || t.code, '') AS place, e.state, e.mark AS end_mark,
    e.reidentified AS tape, e.crossed_at AS found_crossed_at,
    e.side = 'from' OR c.pull_id IS NULL OR e.terminal_id IS NOT NULL OR e.mark IS NOT NULL
        OR e.state IS 'capped' AS identified,
    EXISTS (SELECT 1 FROM placed_labels AS l
        WHERE l.conductor_id = c.id AND l.side = e.side AND l.takes_back IS NULL
        AND NOT EXISTS (SELECT 1 FROM placed_labels AS x WHERE x.takes_back = l.id)) AS labelled,
    c.retired_at IS NULL AS in_use, e.id
FROM ends AS e
JOIN conductors AS c ON c.id = e.conductor_id
JOIN served AS k ON k.conductor_id = c.id
JOIN enclosures AS b ON b.id = e.enclosure_id
LEFT JOIN terminals AS t ON t.id = e.terminal_id;

-- Each reading beside what its verdict follows from.
CREATE VIEW reading_list AS
SELECT r.at, substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) AS tag,
    b.code || '/' || d.code AS device, r.kind, r.value, r.number, r.unit, r.over_range,
    coalesce(substr(a.tag, 1, 3) || '-' || substr(a.tag, 4), r.against) AS against,
    r.test_voltage_v, r.after_s, r.leads_ohm, r.temp_c, r.cell_temp_c,
    i.code AS instrument, i.accuracy, i.resolution, i.range,
    c.size, c.metal, c.strands, c.length_m, coalesce(served.code, k.code) AS circuit, k.system, k.max_voltage_v, k.supply,
    r.by, r.note, r.entered_at, r.entered_by,
    (SELECT later.id FROM readings AS later WHERE later.supersedes = r.id LIMIT 1) AS superseded_by,
    r.id
FROM readings AS r
LEFT JOIN conductors AS c ON c.id = r.conductor_id
LEFT JOIN devices AS d ON d.id = r.device_id
LEFT JOIN enclosures AS b ON b.id = d.enclosure_id
LEFT JOIN served ON served.conductor_id = c.id
LEFT JOIN conductor_circuits AS s ON s.conductor_id = c.id AND NOT EXISTS (
    SELECT 1 FROM conductor_circuits AS o WHERE o.conductor_id = c.id AND o.id <> s.id)
LEFT JOIN circuits AS k ON k.id = coalesce(r.circuit_id, s.circuit_id)
LEFT JOIN conductors AS a ON a.tag = r.against
LEFT JOIN instruments AS i ON i.id = r.instrument_id;

-- What was printed and what somebody said is on, one after the other.
CREATE VIEW label_list AS
SELECT l.at, substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) AS tag, l.side AS "end",
    'printed' AS what, l.form, l.stock, l.file, l.legend, NULL AS by, l.id
FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id
UNION ALL
SELECT l.at, substr(c.tag, 1, 3) || '-' || substr(c.tag, 4), l.side,
    CASE WHEN l.takes_back IS NOT NULL THEN 'taken back'
        WHEN l.print_id IS NULL THEN 'on the wire, written by hand' ELSE 'on the wire' END,
    p.form, p.stock, p.file, coalesce(l.legend, p.legend, o.legend, op.legend), l.by, l.id
FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id
LEFT JOIN label_prints AS p ON p.id = l.print_id
LEFT JOIN placed_labels AS o ON o.id = l.takes_back
LEFT JOIN label_prints AS op ON op.id = o.print_id;

-- What is open and follows from no rule: ends and guided work.
CREATE VIEW open_list AS
SELECT iif(identified, 'end not landed', 'end not identified') AS what, tag AS subject, place,
    NULL AS since
FROM end_list WHERE in_use AND (NOT identified OR coalesce(state, 'loose') = 'loose')
UNION ALL
SELECT 'end not labelled', tag, place, NULL FROM end_list WHERE in_use AND NOT labelled
UNION ALL
SELECT iif(g.kind = 'ringouts', 'ring-out', 'fault search') || ' not finished',
    coalesce(p.code, k.code), coalesce(n.code || ' to ' || f.code, g.symptom), g.at
FROM procedures AS g LEFT JOIN pulls AS p ON p.id = g.pull_id
LEFT JOIN enclosures AS n ON n.id = g.near_id LEFT JOIN enclosures AS f ON f.id = g.far_id
LEFT JOIN circuits AS k ON k.id = g.circuit_id
WHERE g.result IS NULL AND NOT EXISTS (SELECT 1 FROM procedures AS later
    WHERE later.kind = g.kind AND later.pull_id IS g.pull_id AND later.near_id IS g.near_id
    AND later.far_id IS g.far_id AND later.circuit_id IS g.circuit_id
    AND julianday(later.at) > julianday(g.at));
