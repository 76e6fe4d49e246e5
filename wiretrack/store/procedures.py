# SPDX-License-Identifier: MIT
"""Guided work as stored: ring-outs and searches for a fault, with their logs of answers.

What somebody else answered or changed since it was read is not written over: that is a
`ChangedMeanwhileError`, and nothing is stored.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, NamedTuple

from wiretrack import days
from wiretrack.errors import ChangedMeanwhileError
from wiretrack.procedure import FAULT_SEARCH, NOUNS, RINGOUT, Procedure, linked, unlinked
from wiretrack.store.writing import id_of, insert, new_id, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from sqlite_utils import Database

    from wiretrack.procedure import Answered
    from wiretrack.store.store import Registry

Row = dict[str, Any]
# What each kind is about: its key in the site file, its column, and the table of that.
_ABOUT = {
    RINGOUT: (
        ("pull", "pull_id", "pulls"),
        ("near", "near_id", "enclosures"),
        ("far", "far_id", "enclosures"),
    ),
    FAULT_SEARCH: (("circuit", "circuit_id", "circuits"),),
}
_PROCEDURES = (
    "SELECT g.id, g.kind, p.code AS pull, n.code AS near, f.code AS far, k.code AS circuit,"
    " g.symptom, g.settings, g.at, g.result"
    " FROM procedures AS g LEFT JOIN pulls AS p ON p.id = g.pull_id"
    " LEFT JOIN enclosures AS n ON n.id = g.near_id LEFT JOIN enclosures AS f ON f.id = g.far_id"
    " LEFT JOIN circuits AS k ON k.id = g.circuit_id"
)
_ANSWERS = (
    "SELECT id, seq, step, answer, at, supersedes, follows FROM procedure_answers"
    " WHERE procedure_id = ? ORDER BY seq"
)
_LATEST = "julianday(g.at) DESC, g.rowid DESC"  # what came by merging isn't in the rows' order


def start(
    registry: Registry,
    kind: str,
    about: Mapping[str, str],
    settings: Mapping[str, Any],
    *,
    after: Procedure | None,
    who: str | None = None,
) -> Procedure:
    """Begin a procedure and return it; `after` is the latest one about the same before it."""
    row = {
        "id": new_id(),
        "kind": kind,
        **{column: id_of(registry, table, about[key]) for key, column, table in _ABOUT[kind]},
        "symptom": about.get("symptom"),
        "settings": packed(settings),
        "at": days.now(),
    }
    with registry.write(who) as db:
        before = _latest_row(registry, kind, about)
        if (before["id"] if before else None) != (after.id if after else None):
            raise ChangedMeanwhileError(NOUNS[kind])
        insert(db, "procedures", [row])
        return _now(registry, kind, about)


def latest(registry: Registry, kind: str, **about: str) -> Procedure | None:
    """Return the latest procedure about a pull (and its boxes, where given), or a circuit."""
    row = _latest_row(registry, kind, about)
    return None if row is None else _read(registry, row)


def the_latest(registry: Registry, record: str) -> Procedure | None:
    """Return the procedure of this id, unless a later one is of the same pull or circuit."""
    row = registry.row(f"{_PROCEDURES} WHERE g.id = ?", [record])
    if row is None:
        return None
    key, *_ = _ABOUT[row["kind"]][0]
    found = latest(registry, row["kind"], **{key: row[key]})
    return found if found and found.id == record else None


def as_it_is_now(registry: Registry, procedure: Procedure) -> Procedure:
    """Return the latest procedure about the same: the same one, or a later one."""
    return _now(registry, procedure.kind, _about(procedure))


def begun(registry: Registry, kind: str, **about: str) -> tuple[str, bool] | None:
    """Return the id of the latest procedure about something, and whether it is finished."""
    row = _latest_row(registry, kind, about)
    return None if row is None else (row["id"], row["result"] is not None)


def version_now(registry: Registry, kind: str, **about: str) -> str | None:
    """Return the `version` of the latest procedure about something; None where there is none."""
    row = _latest_row(registry, kind, about)
    return None if row is None else _version(registry, row)


def version_of(registry: Registry, procedure: Procedure) -> str | None:
    """Return the `version` of the latest procedure about the same."""
    return version_now(registry, procedure.kind, **_about(procedure))


def is_version(registry: Registry, text: str) -> bool:
    """Return whether a text is, or ever was, the id of a step."""
    found = (
        "SELECT 1 FROM procedures WHERE id = :id UNION"
        " SELECT 1 FROM procedure_answers WHERE id = :id"
    )
    return registry.row(found, {"id": text.partition(".")[0]}) is not None


def add_answer(
    registry: Registry,
    procedure: Procedure,
    step: Mapping[str, Any],
    answer: Mapping[str, Any],
    *,
    supersedes: Answered | None = None,
    who: str | None = None,
) -> Procedure:
    """Store what was asked and answered, and by whom, durably, before anything else is asked.

    A finished procedure is open again; the end marks that it had written are taken back, as they
    follow from the answers. Return the procedure as it is then.
    """
    given = {**answer, "by": who} if who else answer
    with registry.write(who):
        _must_stand(registry, procedure)
        append(registry, procedure, step, given, supersedes.id if supersedes else None)
        _open_again(registry, procedure)
        return as_it_is_now(registry, procedure)


def _open_again(registry: Registry, procedure: Procedure) -> None:
    """Take the result of a finished procedure back, with the end marks that it had written."""
    if procedure.result is not None:
        registry.db.execute("UPDATE procedures SET result = NULL WHERE id = ?", [procedure.id])
        for match in procedure.result.get("matches", ()):
            _set_marks(registry, procedure, match, clear=True)


def append(
    registry: Registry,
    procedure: Procedure,
    step: Mapping[str, Any],
    answer: Mapping[str, Any],
    supersedes: str | None,
) -> None:
    """Put one answer after those that count; inside a write that saw that `procedure` stands."""
    row = {
        "id": new_id(),
        "procedure_id": procedure.id,
        "step": packed(step),
        "answer": packed(answer),
        "at": days.now(),
        "supersedes": supersedes,
        "seq": procedure.stored + 1,
        "follows": procedure.last,
    }
    insert(registry.db, "procedure_answers", [row])


def change_settings(
    registry: Registry, procedure: Procedure, settings: Mapping[str, Any], *, who: str | None = None
) -> Procedure:
    """Give a procedure other settings from here on; its answers stay. Return it as it is then.

    A finished one is open again, as by another answer.
    """
    with registry.write(who) as db:
        _must_stand(registry, procedure)
        db.execute(
            "UPDATE procedures SET settings = ? WHERE id = ?", [packed(settings), procedure.id]
        )
        _open_again(registry, procedure)
        return as_it_is_now(registry, procedure)


def finish(
    registry: Registry, procedure: Procedure, result: Mapping[str, Any], *, who: str | None = None
) -> Procedure:
    """Store the result; the mark of each match goes to the conductor's end at the far box.

    Where the near end had a number in place of a tag, that goes to the near one. Return the
    procedure as it is then.
    """
    with registry.write(who) as db:
        _must_stand(registry, procedure)
        db.execute("UPDATE procedures SET result = ? WHERE id = ?", [packed(result), procedure.id])
        for match in result.get("matches", ()):
            _set_marks(registry, procedure, match)
        return as_it_is_now(registry, procedure)


class Searched(NamedTuple):
    """The latest search for a fault of a circuit."""

    circuit: str
    symptom: str
    finished: bool


def circuits_searched(registry: Registry) -> list[Searched]:
    """Return each circuit's latest search, new first."""
    rows = registry.rows(
        "SELECT k.code AS circuit, g.symptom, g.result IS NOT NULL AS finished"
        " FROM procedures AS g JOIN circuits AS k ON k.id = g.circuit_id"
        " WHERE g.id = (SELECT x.id FROM procedures AS x WHERE x.circuit_id = g.circuit_id"
        " ORDER BY julianday(x.at) DESC, x.rowid DESC LIMIT 1)"
        f" ORDER BY {_LATEST} LIMIT 200"
    )
    return [Searched(row["circuit"], row["symptom"], bool(row["finished"])) for row in rows]


def dumped(registry: Registry, kind: str) -> Iterator[Row]:
    """Yield every procedure of a kind with its answers, as a site file holds them."""
    for row in registry.each(f"{_PROCEDURES} WHERE g.kind = ? ORDER BY g.rowid", [kind]):
        answers = registry.rows(_ANSWERS, [row["id"]])
        del row["kind"]
        row = unpacked(row, "settings", "result")
        yield row | {"answers": unlinked([unpacked(a, "step", "answer") for a in answers])}


def load(
    db: Database, kind: str, rows: Iterable[Mapping[str, Any]], record: Callable[[str, str], str]
) -> None:
    """Add the procedures of a kind from a site file; `record` finds an id by table and code."""
    for row in rows:
        stored = {
            "id": row["id"],
            "kind": kind,
            **{column: record(table, row[key]) for key, column, table in _ABOUT[kind]},
            "symptom": row.get("symptom"),
            "settings": packed(row.get("settings", {})),
            "at": row["at"],
            "result": None if row.get("result") is None else packed(row["result"]),
        }
        insert(db, "procedures", [stored])
        insert(db, "procedure_answers", (
            {
                "procedure_id": row["id"],
                **{key: answer[key] for key in ("id", "seq", "at", "supersedes", "follows")},
                **{key: packed(answer[key]) for key in ("step", "answer")},
            }
            for answer in linked(row.get("answers", ()))
        ))  # fmt: skip


def _latest_row(registry: Registry, kind: str, about: Mapping[str, str]) -> Row | None:
    named = {key: code for key, code in about.items() if key in _CODES}
    wanted = " AND ".join(f"{_CODES[key]} = :{key}" for key in named)
    return registry.row(
        f"{_PROCEDURES} WHERE g.kind = :kind AND {wanted} ORDER BY {_LATEST} LIMIT 1",
        {"kind": kind, **named},
    )


_CODES = {"pull": "p.code", "near": "n.code", "far": "f.code", "circuit": "k.code"}


def _about(procedure: Procedure) -> dict[str, str]:
    return {key: getattr(procedure, key) for key, _, _ in _ABOUT[procedure.kind]}


def _read(registry: Registry, row: Row) -> Procedure:
    rows = registry.rows(_ANSWERS, [row["id"]])
    for answer in rows:
        answer.update(step=json.loads(answer["step"]), answer=json.loads(answer["answer"]))
    return Procedure.of(unpacked(row, "settings", "result"), rows)


def _version(registry: Registry, row: Row) -> str:
    """Return the version of a procedure; where its log has one way, only its end is read."""
    ends = registry.rows(
        "SELECT id, seq FROM procedure_answers WHERE procedure_id = ? ORDER BY seq DESC LIMIT 2",
        [row["id"]],
    )
    if len(ends) == 2 and ends[0]["seq"] == ends[1]["seq"]:
        return _read(registry, row).version
    last = ends[0]["id"] if ends else None
    return Procedure(**unpacked(row, "settings", "result"), last=last).version


def _now(registry: Registry, kind: str, about: Mapping[str, str]) -> Procedure:
    found = latest(registry, kind, **about)
    if found is None:
        raise ChangedMeanwhileError(NOUNS[kind])
    return found


def _must_stand(registry: Registry, procedure: Procedure) -> None:
    """Raise unless nothing happened since a procedure was read; within a write nothing can then."""
    if version_of(registry, procedure) != procedure.version:
        raise ChangedMeanwhileError(NOUNS[procedure.kind])


def _set_marks(
    registry: Registry, procedure: Procedure, match: Mapping[str, Any], *, clear: bool = False
) -> None:
    """Note the marks of a match at its conductor's ends, at the near one if it had a number."""
    boxes = ((match.get("box") or procedure.far, "far"), (procedure.near, "near_mark"))
    for box, key in boxes:
        if match.get(key):
            registry.db.execute(
                "UPDATE ends SET mark = ?, state = coalesce(state, 'loose')"
                " WHERE conductor_id = (SELECT id FROM conductors WHERE tag = ?)"
                " AND enclosure_id = (SELECT id FROM enclosures WHERE code = ?)",
                [None if clear else match[key], match["near"], box],
            )
