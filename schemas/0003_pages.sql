-- The key that signs the sessions of this registry's pages; no dump holds it.
CREATE TABLE signing_key (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    key TEXT NOT NULL CHECK (length(key) = 64)
) STRICT;

-- Codes are also looked up without regard to case.
CREATE INDEX enclosures_any_case ON enclosures (code COLLATE NOCASE);
CREATE INDEX raceways_any_case ON raceways (code COLLATE NOCASE);
CREATE INDEX circuits_any_case ON circuits (code COLLATE NOCASE);
CREATE INDEX pulls_any_case ON pulls (code COLLATE NOCASE);
CREATE INDEX instruments_any_case ON instruments (code COLLATE NOCASE);
