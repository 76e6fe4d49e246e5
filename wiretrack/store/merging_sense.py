# SPDX-License-Identifier: MIT
"""What is right in each copy and makes no sense in both together: to be decided, or looked at."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack.model.tags import format_tag
from wiretrack.store.merging_conflicts import MINE, THEIRS, Conflict, Side, Unit
from wiretrack.store.merging_names import NOUNS, code_of, key_of, name_of, value_of
from wiretrack.store.merging_state import LOGS
from wiretrack.store.schema import IN_SERVICE, columns_of

if TYPE_CHECKING:
    from wiretrack.store.merging_state import State

Row = dict[str, Any]
_LANDING = Unit("landing", ("enclosure_id", "terminal_id", "state"))


def settle_sense(state: State) -> None:
    """Let a person decide where both ends of a conductor came onto one terminal, and the like."""
    _settle_two_ends_on_one(state)
    _settle_retired_circuits(state)


def shared_terminals(state: State) -> list[Row]:
    """Return the terminals on which each copy landed an end of its own, with the tags there."""
    found = []
    after = _on_terminals(state, "temp.after_ends", "temp.after_conductors")
    mine = _on_terminals(state, "main.ends", "main.conductors")
    theirs = _on_terminals(state, "theirs.ends", "theirs.conductors")
    for terminal, tags in after.items():
        if len(tags) > 1 and not tags <= mine[terminal] and not tags <= theirs[terminal]:
            row = state.row("temp.after_terminals", terminal)
            if row:
                name = f"{code_of(state, 'enclosure_id', row['enclosure_id'])} {row['code']}"
                found.append({"terminal": name, "tags": sorted(map(format_tag, tags))})
    return found


def followed_twice(state: State) -> list[Row]:
    """Return the conductors that each copy cut or replaced apart, with all that follow them."""
    rows = state.rows(
        "SELECT o.tag AS old, c.tag,"
        " EXISTS (SELECT 1 FROM main.conductors WHERE id = c.id) AS mine,"
        " EXISTS (SELECT 1 FROM theirs.conductors WHERE id = c.id) AS theirs"
        " FROM temp.after_conductors AS c JOIN temp.after_conductors AS o ON o.id = c.follows_id"
        " WHERE o.id IN (SELECT follows_id FROM temp.final_conductors) ORDER BY c.tag"
    )
    pieces = defaultdict(list)
    for row in rows:
        pieces[row["old"]].append(row)
    return [
        {"tag": format_tag(old), "followed_by": [format_tag(piece["tag"]) for piece in found]}
        for old, found in pieces.items()
        if not all(p["mine"] for p in found) and not all(p["theirs"] for p in found)
    ]


def worked_on_though_retired(state: State) -> list[Row]:
    """Return the conductors that one copy retired while the other went on working on them."""
    rows = state.rows(
        "SELECT c.tag, m.retired_at IS NOT NULL AS mine FROM temp.after_conductors AS c"
        " JOIN main.conductors AS m ON m.id = c.id JOIN theirs.conductors AS t ON t.id = c.id"
        " WHERE c.retired_at IS NOT NULL AND (m.retired_at IS NULL) <> (t.retired_at IS NULL)"
        " AND iif(m.retired_at IS NULL,"
        "  EXISTS (SELECT 1 FROM temp.new_mine AS n JOIN main.ends AS e ON e.id = n.record"
        "   WHERE e.conductor_id = c.id)"
        "  OR EXISTS (SELECT 1 FROM main.readings AS r WHERE r.conductor_id = c.id"
        "   AND NOT EXISTS (SELECT 1 FROM theirs.readings AS o WHERE o.id = r.id)),"
        "  EXISTS (SELECT 1 FROM temp.new_theirs AS n JOIN theirs.ends AS e ON e.id = n.record"
        "   WHERE e.conductor_id = c.id)"
        "  OR EXISTS (SELECT 1 FROM theirs.readings AS r WHERE r.conductor_id = c.id"
        "   AND NOT EXISTS (SELECT 1 FROM main.readings AS o WHERE o.id = r.id)))"
        " ORDER BY c.tag"
    )
    return [{"tag": format_tag(r["tag"]), "retired": MINE if r["mine"] else THEIRS} for r in rows]


def corrected_twice(state: State) -> list[Row]:
    """Return the readings that each copy superseded by another one."""
    rows = state.rows(
        "SELECT coalesce(substr(c.tag, 1, 3) || '-' || substr(c.tag, 4), k.code,"
        " b2.code || '/' || d.code) AS tag, r.kind, r.id, r.value,"
        " a.value AS mine, b.value AS theirs,"
        " a.id AS mine_id, b.id AS theirs_id"
        " FROM theirs.readings AS b JOIN main.readings AS a ON a.supersedes = b.supersedes"
        " JOIN main.readings AS r ON r.id = b.supersedes"
        " LEFT JOIN main.conductors AS c ON c.id = r.conductor_id"
        " LEFT JOIN main.circuits AS k ON k.id = r.circuit_id"
        " LEFT JOIN main.devices AS d ON d.id = r.device_id"
        " LEFT JOIN main.enclosures AS b2 ON b2.id = d.enclosure_id"
        " WHERE NOT EXISTS (SELECT 1 FROM main.readings AS x WHERE x.id = b.id)"
        " AND NOT EXISTS (SELECT 1 FROM theirs.readings AS x WHERE x.id = a.id) ORDER BY r.rowid"
    )
    return list(rows)


def told_otherwise(state: State) -> list[Row]:
    """Return the log entries that both copies have and that don't say the same; mine stay."""
    found = []
    for log in LOGS:
        columns = columns_of(state.db, log)
        differs = " OR ".join(f'm."{c}" IS NOT t."{c}"' for c in columns)
        found += [
            {"log": log, "id": row["id"]}
            for row in state.rows(
                f"SELECT m.id FROM main.{log} AS m JOIN theirs.{log} AS t ON t.id = m.id"
                f" WHERE {differs} ORDER BY m.id"
            )
        ]
    return found


def gone_on_apart(state: State) -> list[Row]:
    """Return the ring-outs and searches that each copy went on with, and by how many answers."""
    own = (
        "(SELECT count(*) FROM {0}.procedure_answers AS a WHERE a.procedure_id = g.id AND NOT"
        " EXISTS (SELECT 1 FROM {1}.procedure_answers AS o WHERE o.id = a.id))"
    )
    rows = state.rows(
        f"SELECT g.*, {own.format('main', 'theirs')} AS mine,"
        f" {own.format('theirs', 'main')} AS theirs FROM main.procedures AS g"
        " WHERE g.id IN (SELECT a.procedure_id FROM theirs.procedure_answers AS a WHERE NOT EXISTS"
        " (SELECT 1 FROM main.procedure_answers AS o WHERE o.id = a.id)) ORDER BY g.kind DESC"
    )
    return [
        {
            "what": NOUNS[row["kind"]],
            "name": name_of(state, "procedures", row).rpartition("/")[0],
            "mine": row["mine"],
            "theirs": row["theirs"],
        }
        for row in rows
        if row["mine"] and row["theirs"]
    ]


def _on_terminals(state: State, ends: str, conductors: str) -> defaultdict[str, set[str]]:
    """Return the tags in service on each terminal that the merge lands an end on."""
    found: defaultdict[str, set[str]] = defaultdict(set)
    for row in state.rows(
        f"SELECT e.terminal_id, c.tag FROM {ends} AS e JOIN {conductors} AS c"
        f" ON c.id = e.conductor_id WHERE {IN_SERVICE} AND e.terminal_id IN"
        " (SELECT terminal_id FROM temp.final_ends)"
    ):
        found[row["terminal_id"]].add(row["tag"])
    return found


def _settle_two_ends_on_one(state: State) -> None:
    """Find conductors whose ends, each moved in another copy, would meet on one terminal."""
    rows = state.rows(
        "SELECT a.id AS one, b.id AS other FROM temp.after_ends AS a JOIN temp.after_ends AS b"
        " ON b.conductor_id = a.conductor_id AND b.side > a.side AND b.terminal_id = a.terminal_id"
        " WHERE (a.id IN (SELECT id FROM temp.final_ends) OR b.id IN (SELECT id FROM"
        " temp.final_ends)) AND NOT EXISTS (SELECT 1 FROM main.ends AS p JOIN main.ends AS q"
        " ON p.terminal_id = q.terminal_id WHERE p.id = a.id AND q.id = b.id)"
        " AND NOT EXISTS (SELECT 1 FROM theirs.ends AS p JOIN theirs.ends AS q"
        " ON p.terminal_id = q.terminal_id WHERE p.id = a.id AND q.id = b.id)"
    )
    for pair in list(rows):
        _settle_ends(state, pair["one"], pair["other"])


def _settle_ends(state: State, one: str, other: str) -> None:
    """Let one copy's landing stand: the end that the other copy moved goes back."""
    moved = {}  # the end that each copy moved, and its two rows: as it is, and as it would go back
    for record in (one, other):
        after, mine, theirs = (
            state.row(source, record) for source in ("temp.after_ends", "main.ends", "theirs.ends")
        )
        if after and mine and theirs:
            side = MINE if _LANDING.of(after) == _LANDING.of(mine) else THEIRS
            moved[side] = (after, theirs if side == MINE else mine)
    if len(moved) < 2:
        return
    conductor = state.row("temp.after_conductors", moved[MINE][0]["conductor_id"])
    key = key_of(state, "conductors", conductor or {}, "both-ends")
    decision = state.decisions.of(key)
    sides = {
        side: Side(f"{rows[0]['side']} end: {value_of(state, 'ends', _LANDING, rows[0])}")
        for side, rows in moved.items()
    }
    takes = decision.side if decision else None
    state.conflicts.append(Conflict(key, sides[MINE], sides[THEIRS], takes))
    if takes is not None:
        now, back = moved[THEIRS if takes == MINE else MINE]
        wins, loses = ({c: row[c] for c in _LANDING.columns} for row in (back, now))
        state.decide("ends", now, wins, loses)


def _settle_retired_circuits(state: State) -> None:
    """Find conductors put in service by one copy in a circuit that the other copy retired."""
    found: defaultdict[str, list[str]] = defaultdict(list)
    for row in state.rows(
        "SELECT k.id AS circuit, c.id FROM temp.after_conductors AS c"
        " JOIN temp.after_conductor_circuits AS s ON s.conductor_id = c.id"
        " JOIN temp.after_circuits AS k ON k.id = s.circuit_id"
        f" WHERE {IN_SERVICE} AND k.retired_at IS NOT NULL"
        " ORDER BY c.tag"
    ):
        found[row["circuit"]].append(row["id"])
    for circuit, conductors in found.items():
        _settle_circuit(state, circuit, conductors)


def _settle_circuit(state: State, record: str, conductors: list[str]) -> None:
    """Retire the new conductors too, or take the circuit back into service."""
    circuit, here = state.row("temp.after_circuits", record), state.row("main.circuits", record)
    if circuit is None:
        return
    retired_by = MINE if here and here["retired_at"] else THEIRS
    rows = [row for c in conductors if (row := state.row("temp.after_conductors", c))]
    tags = ", ".join(format_tag(row["tag"]) for row in rows)
    reason = _reason(state, record)
    retired = Side(f"retired; {tags} too, {reason}", circuit["retired_at"])
    working = Side(f"in service, with {tags}")
    sides = (retired, working) if retired_by == MINE else (working, retired)
    key = key_of(state, "circuits", circuit, "in-service")
    decision = state.decisions.of(key)
    state.conflicts.append(Conflict(key, *sides, takes=decision.side if decision else None))
    if decision is None:
        return
    outcomes = (  # of the circuit and of its conductors; either way all of them are decided on
        ({"retired_at": circuit["retired_at"]}, {"retired_at": None}),
        ({"retired_at": circuit["retired_at"], "retired_because": reason},
         {"retired_at": None, "retired_because": None}),
    )  # fmt: skip
    for table, found, (as_retired, as_working) in zip(
        ("circuits", "conductors"), ([circuit], rows), outcomes, strict=True
    ):
        wins, loses = (
            (as_retired, as_working) if decision.side == retired_by else (as_working, as_retired)
        )
        for row in found:
            state.decide(table, row, wins, dict(loses))


def _reason(state: State, circuit: str) -> str:
    """Return why most of a circuit's conductors were retired; else that they are left in place."""
    sql = (
        "SELECT retired_because FROM temp.after_conductors"
        " WHERE id IN (SELECT conductor_id FROM temp.after_conductor_circuits WHERE circuit_id = ?)"
        " AND retired_because IN ('removed', 'abandoned') ORDER BY id"
    )
    reasons = Counter(row["retired_because"] for row in state.rows(sql, [circuit]))
    return str(max(sorted(reasons), key=reasons.__getitem__, default="abandoned"))
