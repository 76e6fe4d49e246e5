-- Guided searches for a fault: what was suspected and asked, in order, and what came of it.
CREATE TABLE fault_searches (
    id TEXT PRIMARY KEY NOT NULL,
    circuit_id TEXT NOT NULL REFERENCES circuits (id),
    symptom TEXT NOT NULL CHECK (symptom IN ('dead-circuit', 'tripping-breaker', 'low-voltage',
        'reversed-polarity', 'insulation-alarm', 'wrong-string-voltage')),
    settings TEXT NOT NULL,                                  -- JSON: suspects, readings to choose of
    at TEXT NOT NULL,
    result TEXT                                              -- JSON, once finished
) STRICT;
CREATE INDEX fault_searches_circuit ON fault_searches (circuit_id);

-- A wrong answer is superseded by a later one, as in a ring-out.
CREATE TABLE fault_search_answers (
    id TEXT PRIMARY KEY NOT NULL,
    fault_search_id TEXT NOT NULL REFERENCES fault_searches (id),
    seq INTEGER NOT NULL,
    step TEXT NOT NULL,
    answer TEXT NOT NULL,
    at TEXT NOT NULL,
    supersedes TEXT UNIQUE REFERENCES fault_search_answers (id),
    UNIQUE (fault_search_id, seq)
) STRICT;

CREATE TRIGGER fault_search_answers_stay BEFORE UPDATE ON fault_search_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never changed; supersede it by a new one'); END;
CREATE TRIGGER fault_search_answers_remain BEFORE DELETE ON fault_search_answers
BEGIN SELECT RAISE(ABORT, 'an answer is never deleted; supersede it by a new one'); END;
