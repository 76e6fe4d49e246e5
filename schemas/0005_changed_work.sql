-- Changes of the work. A conductor or circuit that is retired stays for good, with its readings
-- and its history, but is no longer part of the work; its ends stay as they were last.
ALTER TABLE conductors ADD COLUMN retired_at TEXT;           -- RFC 3339: a day, or a time
-- Why: cut in two; replaced and drawn out; drawn out; left in its raceway.
ALTER TABLE conductors ADD COLUMN retired_because TEXT
    CHECK (retired_because IN ('cut', 'replaced', 'removed', 'abandoned'))
    CHECK ((retired_at IS NULL) = (retired_because IS NULL));
-- The conductor that this one is a piece of, or is in the place of.
ALTER TABLE conductors ADD COLUMN follows_id TEXT
    REFERENCES conductors (id) DEFERRABLE INITIALLY DEFERRED
    CHECK (follows_id <> id);
CREATE INDEX conductors_follows ON conductors (follows_id);
CREATE INDEX conductors_retired ON conductors (retired_because) WHERE retired_because IS NOT NULL;
CREATE INDEX readings_instrument ON readings (instrument_id);
ALTER TABLE circuits ADD COLUMN retired_at TEXT;             -- RFC 3339: a day, or a time
-- When this end was found crossed with another: what was read by its landing before is owed again.
ALTER TABLE ends ADD COLUMN crossed_at TEXT;                 -- RFC 3339: a day, or a time
CREATE INDEX ends_crossed ON ends (crossed_at) WHERE crossed_at IS NOT NULL;

-- The words that a record is found under, now with whether it is retired and why.
DROP VIEW search_texts;
CREATE VIEW search_texts (record, what, code, text) AS
SELECT c.id, 'conductor', c.tag,
    coalesce(c.tag || ' ', '')
        || coalesce(substr(c.tag, 1, 3) || '-' || substr(c.tag, 4) || ' ', '')
        || coalesce(k.code || ' ', '') || coalesce(k.title || ' ', '')
        || coalesce(c.function || ' ', '') || coalesce(c.core || ' ', '')
        || coalesce(c.size || ' ', '') || coalesce(c.metal || ' ', '')
        || coalesce(c.insulation || ' ', '') || coalesce(c.colour || ' ', '')
        || coalesce(p.code || ' ', '') || coalesce(c.note || ' ', '')
        || coalesce(fe.code || ' ', '') || coalesce(fe.name || ' ', '')
        || coalesce(ft.code || ' ', '') || coalesce(f.mark || ' ', '')
        || coalesce(te.code || ' ', '') || coalesce(te.name || ' ', '')
        || coalesce(tt.code || ' ', '') || coalesce(t.mark || ' ', '')
        || coalesce('retired ' || c.retired_because || ' ', '')
FROM conductors AS c
JOIN circuits AS k ON k.id = c.circuit_id
LEFT JOIN pulls AS p ON p.id = c.pull_id
LEFT JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
LEFT JOIN enclosures AS fe ON fe.id = f.enclosure_id
LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
LEFT JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
LEFT JOIN enclosures AS te ON te.id = t.enclosure_id
LEFT JOIN terminals AS tt ON tt.id = t.terminal_id
UNION ALL
SELECT id, 'circuit', code, coalesce(code || ' ', '') || coalesce(title || ' ', '')
        || coalesce(system || ' ', '') || iif(retired_at IS NULL, '', 'retired ') FROM circuits
UNION ALL
SELECT id, 'enclosure', code, coalesce(code || ' ', '') || coalesce(kind || ' ', '')
        || coalesce(name || ' ', '') || coalesce("where" || ' ', '') FROM enclosures
UNION ALL
SELECT r.id, 'raceway', r.code, coalesce(r.code || ' ', '') || coalesce(r.type || ' ', '')
        || coalesce(r.trade_size || ' ', '') || coalesce(a.code || ' ', '')
        || coalesce(a.name || ' ', '') || coalesce(b.code || ' ', '')
        || coalesce(b.name || ' ', '')
FROM raceways AS r
JOIN enclosures AS a ON a.id = r.from_enclosure_id
JOIN enclosures AS b ON b.id = r.to_enclosure_id
UNION ALL
SELECT id, 'pull', code, coalesce(code || ' ', '') FROM pulls
UNION ALL
SELECT r.id, 'reading', c.tag, coalesce(r.kind || ' ', '') || coalesce(r.value || ' ', '')
        || coalesce(c.tag || ' ', '')
        || coalesce(k.code || ' ', '') || coalesce(i.code || ' ', '') || coalesce(r.by || ' ', '')
        || coalesce(r.note || ' ', '') || coalesce(r.at || ' ', '')
FROM readings AS r
JOIN conductors AS c ON c.id = r.conductor_id
JOIN circuits AS k ON k.id = c.circuit_id
LEFT JOIN instruments AS i ON i.id = r.instrument_id;
