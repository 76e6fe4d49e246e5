# SPDX-License-Identifier: MIT
"""Ring-outs as stored: what was asked and answered, in order, and what came of it."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import BadInputError, ChangedMeanwhileError
from wiretrack.store.branching import standing, superseding
from wiretrack.store.identity import new_id
from wiretrack.store.writing import id_of, insert, packed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.store.store import Registry


UNDONE = {"undone": True}  # supersedes the answer to a step that was taken back without another


@dataclass(frozen=True)
class StoredAnswer:
    """One step and the answer that counts now; `number` is its place in the ring-out.

    `at` is when that answer was given, `by` who gave it, where that was said; `superseded` is how
    many earlier ones it replaced.
    """

    number: int
    step: dict[str, Any]
    answer: dict[str, Any]
    at: str
    superseded: int = 0
    by: str | None = None


@dataclass(frozen=True)
class Ringout:
    """A ring-out with its answers so far, in the order of their steps; those undone left out.

    `steps` is how many were carried out, those undone included; `last` is the id of the answer
    that was stored last, `None` before the first one.
    """

    id: str
    pull: str
    near: str
    far: str
    settings: dict[str, Any]
    at: str
    result: dict[str, Any] | None
    answers: tuple[StoredAnswer, ...]
    steps: int = 0
    last: str | None = None

    @property
    def version(self) -> str:
        """Return the id of the step that stands: another one after each answer, undo and change."""
        changes = len(self.settings.get("earlier", ()))
        return _version(self.id, self.last, changes, self.result is not None)


_LATEST = "julianday(g.at) DESC, g.rowid DESC"  # what came by merging isn't in the rows' order


def start_ringout(
    registry: Registry,
    pull: str,
    near: str,
    far: str,
    settings: Mapping[str, Any],
    *,
    after: str | None = None,
    who: str | None = None,
) -> Ringout:
    """Begin a ring-out and return it; `after` is the id of the latest one of this way before it.

    Raises
    ------
    ChangedMeanwhileError
        If that isn't the latest one any more: somebody else began one.
    """
    row = {
        "id": new_id(),
        "pull_id": id_of(registry, "pulls", pull),
        "near_id": id_of(registry, "enclosures", near),
        "far_id": id_of(registry, "enclosures", far),
        "settings": packed(settings),
        "at": days.now(),
    }
    with registry.write(who) as db:
        before = _latest_row(registry, pull, near, far)
        if (before["id"] if before else None) != after:
            raise ChangedMeanwhileError("The ring-out")
        insert(db, "ringouts", row)
    return Ringout(row["id"], pull, near, far, dict(settings), row["at"], None, ())


def change_settings(
    registry: Registry, ringout: Ringout, settings: Mapping[str, Any], *, who: str | None = None
) -> Ringout:
    """Give a ring-out other settings from here on; its answers stay. Return it as it is then.

    Raises
    ------
    ChangedMeanwhileError
        If somebody answered or changed it since it was read, or it is over by now.
    """
    with registry.write(who) as db:
        _must_stand(registry, ringout)
        db.execute("UPDATE ringouts SET settings = ? WHERE id = ?", [packed(settings), ringout.id])
    return replace(ringout, settings=dict(settings))


def latest_ringout(
    registry: Registry, pull: str, near: str | None = None, far: str | None = None
) -> Ringout | None:
    """Return the latest ring-out of a pull (between two boxes, where given), with its answers."""
    row = _latest_row(registry, pull, near, far)
    return None if row is None else _read(registry, row)


def _latest_row(
    registry: Registry, pull: str, near: str | None, far: str | None
) -> dict[str, Any] | None:
    return registry.row(
        "SELECT g.id, p.code AS pull, n.code AS near, f.code AS far, g.settings, g.at, g.result"
        " FROM ringouts AS g JOIN pulls AS p ON p.id = g.pull_id"
        " JOIN enclosures AS n ON n.id = g.near_id JOIN enclosures AS f ON f.id = g.far_id"
        " WHERE p.code = :pull AND coalesce(:near, n.code) = n.code"
        " AND coalesce(:far, f.code) = f.code"
        f" ORDER BY {_LATEST} LIMIT 1",
        {"pull": pull, "near": near, "far": far},
    )


def _read(registry: Registry, row: dict[str, Any]) -> Ringout:
    rows = _answer_rows(registry, row["id"])
    chains = superseding(rows)
    answers = (_answer(number, chain) for number, chain in enumerate(chains, 1))
    settings, result = json.loads(row["settings"]), row["result"]
    return Ringout(
        **{**row, "settings": settings, "result": json.loads(result) if result else None},
        answers=tuple(answer for answer in answers if answer.answer != UNDONE),
        steps=len(chains),
        last=rows[-1]["id"] if rows else None,
    )


def _must_stand(registry: Registry, ringout: Ringout) -> None:
    """Raise unless nothing happened since a ring-out was read; within a write nothing can then."""
    way = (ringout.pull, ringout.near, ringout.far)
    if _version_now(registry, _latest_row(registry, *way)) != ringout.version:
        raise ChangedMeanwhileError("The ring-out")


def version_now(
    registry: Registry, pull: str, near: str | None = None, far: str | None = None
) -> str | None:
    """Return the `version` of the latest ring-out of a pull (between two boxes, where given)."""
    return _version_now(registry, _latest_row(registry, pull, near, far))


def is_version(registry: Registry, text: str) -> bool:
    """Return whether a text is, or ever was, the id of a step of a ring-out."""
    last = text.partition(".")[0]
    found = (
        "SELECT 1 FROM ringouts WHERE id = :id UNION SELECT 1 FROM ringout_answers WHERE id = :id"
    )
    return registry.row(found, {"id": last}) is not None


def _version_now(registry: Registry, row: dict[str, Any] | None) -> str | None:
    if row is None:
        return None
    changes = len(json.loads(row["settings"]).get("earlier", ()))
    return _version(row["id"], _last(registry, row["id"]), changes, row["result"] is not None)


def _version(ringout_id: str, last: str | None, changes: int, finished: bool) -> str:
    return f"{last or ringout_id}.{changes}.{int(finished)}"


def _last(registry: Registry, ringout_id: str) -> str | None:
    """Return the id of the answer stored last, of the way that counts."""
    rows = registry.rows(
        "SELECT id, seq FROM ringout_answers WHERE ringout_id = ? ORDER BY seq DESC LIMIT 2",
        [ringout_id],
    )
    if len(rows) == 2 and rows[0]["seq"] == rows[1]["seq"]:
        return str(_answer_rows(registry, ringout_id)[-1]["id"])
    return str(rows[0]["id"]) if rows else None


def add_answer(
    registry: Registry,
    ringout: Ringout,
    step: Mapping[str, Any],
    answer: Mapping[str, Any],
    *,
    who: str | None = None,
) -> Ringout:
    """Store what was asked and answered, and by whom, durably, before anything else is asked.

    Return the ring-out as it is then.

    Raises
    ------
    ChangedMeanwhileError
        If somebody answered or changed it since it was read; nothing is stored then.
    """
    with registry.write(who):
        _must_stand(registry, ringout)
        _add(registry, ringout.id, packed(step), _given(answer, who), None)
        return _now(registry, ringout)


def _now(registry: Registry, ringout: Ringout) -> Ringout:
    """Return the latest ring-out of a way as it is now."""
    row = _latest_row(registry, ringout.pull, ringout.near, ringout.far)
    return ringout if row is None else _read(registry, row)


def answers_stored(registry: Registry, pull: str) -> tuple[str, int, bool] | None:
    """Return the latest ring-out of a pull in short: its id, how many answers, if it's finished."""
    row = registry.row(
        "SELECT g.id, g.result IS NOT NULL AS finished FROM ringouts AS g"
        f" JOIN pulls AS p ON p.id = g.pull_id WHERE p.code = ? ORDER BY {_LATEST} LIMIT 1",
        [pull],
    )
    if row is None:
        return None
    return row["id"], _count(registry, row["id"]), bool(row["finished"])


def _count(registry: Registry, ringout_id: str) -> int:
    row = registry.row(
        "SELECT coalesce(max(seq), 0) AS stored FROM ringout_answers WHERE ringout_id = ?",
        [ringout_id],
    )
    return int(row["stored"]) if row else 0


def supersede_answer(
    registry: Registry,
    ringout: Ringout,
    number: int,
    answer: Mapping[str, Any],
    *,
    who: str | None = None,
) -> Ringout:
    """Replace the answer to step `number` by another; a finished ring-out is open again.

    The end marks that it had written are taken back: they follow from the answers. Return the
    ring-out as it is then.

    Raises
    ------
    BadInputError
        If there is no such step.
    ChangedMeanwhileError
        If somebody answered or changed it since it was read; nothing is stored then.
    """
    with registry.write(who) as db:
        _must_stand(registry, ringout)
        chain = _chain(registry, ringout.id, number)
        _add(registry, ringout.id, chain[0]["step"], _given(answer, who), chain[-1]["id"])
        db.execute("UPDATE ringouts SET result = NULL WHERE id = ?", [ringout.id])
        for match in (ringout.result or {}).get("matches", ()):
            _set_mark(registry, ringout.far, match["near"], None)
        return _now(registry, ringout)


def finish_ringout(
    registry: Registry, ringout: Ringout, result: Mapping[str, Any], *, who: str | None = None
) -> Ringout:
    """Store the result and write each match's end mark to the conductor's end at the far box.

    Return the ring-out as it is then.

    Raises
    ------
    ChangedMeanwhileError
        If somebody answered, finished or changed it since it was read; nothing is stored then.
    """
    with registry.write(who) as db:
        _must_stand(registry, ringout)
        db.execute("UPDATE ringouts SET result = ? WHERE id = ?", [packed(result), ringout.id])
        for match in result["matches"]:
            _set_mark(registry, ringout.far, match["near"], match["far"])
        return _now(registry, ringout)


def _set_mark(registry: Registry, box: str, tag: str, mark: str | None) -> None:
    registry.db.execute(
        "UPDATE ends SET mark = ?, state = coalesce(state, 'loose')"
        " WHERE conductor_id = (SELECT id FROM conductors WHERE tag = ?)"
        " AND enclosure_id = (SELECT id FROM enclosures WHERE code = ?)",
        [mark, tag, box],
    )


def _given(answer: Mapping[str, Any], who: str | None) -> str:
    """Return an answer as it is stored, with who gave it."""
    return packed({**answer, "by": who} if who else answer)


def _add(
    registry: Registry, ringout_id: str, step: str, answer: str, supersedes: str | None
) -> None:
    given = _answer_rows(registry, ringout_id)
    last = given[-1]["id"] if given else None
    registry.db.execute(
        "INSERT INTO ringout_answers (id, ringout_id, step, answer, at, supersedes, seq, follows)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [new_id(), ringout_id, step, answer, days.now(), supersedes, len(given) + 1, last],
    )


def _answer_rows(registry: Registry, ringout_id: str) -> list[dict[str, Any]]:
    """Return the answers that count, in their order; see `branching`."""
    rows = registry.rows(
        "SELECT id, seq, step, answer, at, supersedes, follows FROM ringout_answers"
        " WHERE ringout_id = ? ORDER BY seq",
        [ringout_id],
    )
    return standing(rows)


def _chain(registry: Registry, ringout_id: str, number: int) -> list[dict[str, Any]]:
    """Return the rows of one step: the first answer, and those that superseded it in turn."""
    chains = superseding(_answer_rows(registry, ringout_id))
    if not 1 <= number <= len(chains):
        raise BadInputError(f"The ring-out has no step {number}. Its steps are 1 to {len(chains)}.")
    return chains[number - 1]


def _answer(number: int, chain: list[dict[str, Any]]) -> StoredAnswer:
    given = json.loads(chain[-1]["answer"])
    by = given.pop("by", None)
    step, at = json.loads(chain[0]["step"]), chain[-1]["at"]
    return StoredAnswer(number, step, given, at, len(chain) - 1, by)
