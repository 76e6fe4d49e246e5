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

CREATE TRIGGER placed_labels_stay BEFORE UPDATE ON placed_labels
BEGIN SELECT RAISE(ABORT, 'what was said of a label is never changed; take it back'); END;
CREATE TRIGGER placed_labels_remain BEFORE DELETE ON placed_labels
BEGIN SELECT RAISE(ABORT, 'what was said of a label is never deleted; take it back'); END;
