# SPDX-License-Identifier: MIT
"""What people call a record and a value of it, for conflicts shown side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.circuits import written
from wiretrack.model.fields import Kind
from wiretrack.model.source import fact_of
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.store.merging_conflicts import Unit
    from wiretrack.store.merging_state import State

Row = dict[str, Any]

NOUNS = {
    "site": "site",
    "enclosures": "enclosure",
    "terminals": "terminal",
    "devices": "device",
    "poles": "pole",
    "raceways": "raceway",
    "circuits": "circuit",
    "pulls": "pull",
    "pull_raceways": "route",
    "far_ends": "end-mark",
    "conductors": "conductor",
    "conductor_circuits": "circuit-served",
    "ends": "end",
    "instruments": "instrument",
    "ringouts": "ringout",
    "fault_searches": "fault-search",
}
_POINTS_TO = {
    "enclosure_id": "enclosures",
    "from_enclosure_id": "enclosures",
    "to_enclosure_id": "enclosures",
    "near_id": "enclosures",
    "far_id": "enclosures",
    "terminal_id": "terminals",
    "one_terminal_id": "terminals",
    "other_terminal_id": "terminals",
    "device_id": "devices",
    "raceway_id": "raceways",
    "circuit_id": "circuits",
    "pull_id": "pulls",
    "conductor_id": "conductors",
    "follows_id": "conductors",
}


def name_of(state: State, table: str, row: Row) -> str:
    """Return what people call the record that `row` is of."""
    if table in _COMPOSED:
        return _COMPOSED[table](state, row)
    return str(row["code"])


def key_of(state: State, table: str, row: Row, field: str) -> str:
    """Return the key of a conflict: what, its name, and the field."""
    noun = NOUNS[row["kind"] if table == "procedures" else table]
    return f"{noun}/{name_of(state, table, row)}/{field}"


def value_of(state: State, table: str, unit: Unit, row: Row) -> str | None:
    """Return what a row says in a unit, in words; `None` is unknown."""
    special = _JOINT.get((table, unit.name))
    if special:
        return special(state, row)
    column = unit.columns[0]
    value = row[column]
    if value is None:
        return None
    if column in _POINTS_TO:
        return code_of(state, column, value)
    fact = fact_of(table, column)
    return (fact.kind if fact else Kind("")).told(value)


def told(state: State, table: str, row: Row) -> str:
    """Return a record in a few words, so that two of the same name can be told apart."""
    columns = _TOLD_BY.get(table, ())
    units = (u for u in state.units[table] if u.columns[0] in columns)
    words = [value_of(state, table, unit, row) for unit in units]
    if table == "conductors":
        words.insert(0, _circuits(state, row["id"]))
    return " ".join(word for word in words if word) or name_of(state, table, row)


def _circuits(state: State, conductor: str) -> str:
    """Return the circuits that a conductor serves, in whichever copy has it."""
    rows = [
        row
        for copy in ("main", "theirs")
        for row in state.rows(
            f"SELECT k.code FROM {copy}.conductor_circuits AS s JOIN {copy}.circuits AS k"
            " ON k.id = s.circuit_id WHERE s.conductor_id = ? ORDER BY s.position",
            [conductor],
        )
    ]
    return written(list(dict.fromkeys(row["code"] for row in rows)))


_TOLD_BY = {
    "enclosures": ("kind", "name", "where"),
    "devices": ("kind", "rating_a"),
    "raceways": ("type", "trade_size", "from_enclosure_id"),
    "circuits": ("title", "system"),
    "conductors": ("function", "size", "colour"),
    "instruments": ("kind", "name", "serial"),
    "far_ends": ("mark", "colour"),
}


def code_of(state: State, column: str, record: str | None) -> str:
    """Return the name of what a column points to, in whichever copy has it."""
    if record is None:
        return "–"
    table = _POINTS_TO[column]
    name = "tag" if table == "conductors" else "code"
    for copy in ("main", "theirs"):
        sql = f"SELECT {name} FROM {copy}.{table} WHERE id = ?"
        found = state.db.execute(sql, [record]).fetchone()
        if found:
            return format_tag(found[0]) if name == "tag" else str(found[0])
    return str(record)


def _site(_: State, row: Row) -> str:
    return str(row["code"] or row["name"] or "site")


def _in_box(state: State, row: Row) -> str:
    return f"{code_of(state, 'enclosure_id', row['enclosure_id'])}/{row['code']}"


def _pole(state: State, row: Row) -> str:
    device = state.row("main.devices", row["device_id"]) or state.row(
        "theirs.devices", row["device_id"]
    )
    return f"{_in_box(state, device)}/{row['position']}" if device else str(row["id"])


def _of_pull(state: State, row: Row) -> str:
    return f"{code_of(state, 'pull_id', row['pull_id'])}/{row['position']}"


def _of_conductor(state: State, row: Row) -> str:
    return f"{code_of(state, 'conductor_id', row['conductor_id'])}/{row['position']}"


def _end_mark(state: State, row: Row) -> str:
    box = code_of(state, "enclosure_id", row["enclosure_id"])
    return f"{code_of(state, 'pull_id', row['pull_id'])}/{box}/{row['mark']}"


def _end(state: State, row: Row) -> str:
    return f"{code_of(state, 'conductor_id', row['conductor_id'])}/{row['side']}"


def _procedure(state: State, row: Row) -> str:
    column = "pull_id" if row["pull_id"] else "circuit_id"
    return f"{code_of(state, column, row[column])}/{row['at']}"


_COMPOSED: dict[str, Callable[[State, Row], str]] = {
    "site": _site,
    "terminals": _in_box,
    "devices": _in_box,
    "poles": _pole,
    "pull_raceways": _of_pull,
    "far_ends": _end_mark,
    "conductor_circuits": _of_conductor,
    "conductors": lambda _, row: format_tag(row["tag"]),
    "ends": _end,
    "procedures": _procedure,
}


def _landing(state: State, row: Row) -> str:
    box = code_of(state, "enclosure_id", row["enclosure_id"])
    if row["terminal_id"]:
        box = f"{box} {code_of(state, 'terminal_id', row['terminal_id'])}"
    return f"{row['state'] or 'unknown'}, {box}"


def _between(state: State, row: Row) -> str:
    one, other = (code_of(state, c, row[c]) for c in ("from_enclosure_id", "to_enclosure_id"))
    return f"{one} – {other}"


def _joins(state: State, row: Row) -> str:
    one, other = (code_of(state, c, row[c]) for c in ("one_terminal_id", "other_terminal_id"))
    return f"{one} – {other}"


def _rules(_: State, row: Row) -> str | None:
    return f"{row['rules'] or ''} {row['edition'] or ''}".strip() or None


def _retired(_: State, row: Row) -> str:
    return f"{row['retired_because']}, {row['retired_at']}" if row["retired_at"] else "in service"


def _circuit_retired(_: State, row: Row) -> str:
    return f"retired, {row['retired_at']}" if row["retired_at"] else "in service"


_JOINT: dict[tuple[str, str], Callable[[State, Row], str | None]] = {
    ("ends", "landing"): _landing,
    ("raceways", "between"): _between,
    ("poles", "joins"): _joins,
    ("site", "rules"): _rules,
    ("conductors", "retired"): _retired,
    ("circuits", "retired"): _circuit_retired,
}
