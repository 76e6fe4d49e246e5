-- Full-text search over all that a person would type. `search_texts` says what is found under
-- which words; `search_docs` keeps it, `search` indexes it. Triggers put what changed into
-- `search_due`, and every write transaction ends by bringing those documents up to date.

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
SELECT id, 'circuit', code, coalesce(code || ' ', '') || coalesce(title || ' ', '') || coalesce(system || ' ', '') FROM circuits
UNION ALL
SELECT id, 'enclosure', code, coalesce(code || ' ', '') || coalesce(kind || ' ', '') || coalesce(name || ' ', '')
        || coalesce("where" || ' ', '') FROM enclosures
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
SELECT r.id, 'reading', c.tag, coalesce(r.kind || ' ', '') || coalesce(r.value || ' ', '') || coalesce(c.tag || ' ', '')
        || coalesce(k.code || ' ', '') || coalesce(i.code || ' ', '') || coalesce(r.by || ' ', '')
        || coalesce(r.note || ' ', '') || coalesce(r.at || ' ', '')
FROM readings AS r
JOIN conductors AS c ON c.id = r.conductor_id
JOIN circuits AS k ON k.id = c.circuit_id
LEFT JOIN instruments AS i ON i.id = r.instrument_id;

CREATE TABLE search_docs (
    doc INTEGER PRIMARY KEY,
    record TEXT NOT NULL UNIQUE,
    what TEXT NOT NULL,
    code TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE VIRTUAL TABLE search USING fts5 (
    text, content = 'search_docs', content_rowid = 'doc', prefix = '2 3',
    tokenize = 'unicode61 remove_diacritics 2'
);
CREATE TRIGGER search_docs_added AFTER INSERT ON search_docs BEGIN
    INSERT INTO search (rowid, text) VALUES (new.doc, new.text);
END;
CREATE TRIGGER search_docs_removed AFTER DELETE ON search_docs BEGIN
    INSERT INTO search (search, rowid, text) VALUES ('delete', old.doc, old.text);
END;

CREATE TABLE search_due (record TEXT PRIMARY KEY NOT NULL) STRICT, WITHOUT ROWID;
