# SPDX-License-Identifier: MIT
"""Correcting or completing one record, its code included, and what becomes due with it."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.exchange.assigned import assigned
from wiretrack.exchange.known import name_of
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import TABLES
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.entering import (
    NO_REASON,
    SITE,
    Due,
    record_called,
    touched,
    write_typed,
)
from wiretrack.tasks.describe.moving import MOVES, moved, rows_moved
from wiretrack.tasks.describe.sites import Load

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.store.store import Registry
    from wiretrack.tasks.describe.entering import Reason
    from wiretrack.tasks.describe.sites import ChangedRecord
    from wiretrack.tasks.label.ends import DueLabel
    from wiretrack.tasks.test.plan import OwedTest


_JUDGED = (Conductor, Circuit, Pull, Raceway, Enclosure)


@dataclass(frozen=True, kw_only=True)
class Corrected:
    """A record that was changed: old and new of its fields, as a site file writes them.

    `labels_due` are ends whose label no longer says the truth, `tests_owed` readings that were not
    owed before. `follows` are records that went along, `doubts` what contradicts the record now.
    """

    what: str
    code: str
    changed: dict[str, tuple[Any, Any]]
    labels_due: tuple[DueLabel, ...] = ()
    tests_owed: tuple[OwedTest, ...] = ()
    follows: tuple[ChangedRecord, ...] = field(default=(), metadata={"blank": None})
    doubts: tuple[str, ...] = field(default=(), metadata={"blank": None})
    change: str | None = None


def correct(
    registry: Registry,
    what: str,
    fields: Mapping[str, str],
    *,
    who: str | None = None,
    reason: Reason = NO_REASON,
    look: bool = False,
) -> Corrected:
    """Change fields of the record that `what` names; an empty text makes one unknown.

    With `look` nothing is written. `FieldError` if there is no such field, or its value can't be;
    it names field, value and what is allowed; `NotFoundError` or `TagError` or `AmbiguousError` if
    nothing is called so, or several.
    """
    record = record_called(registry, what)
    name = name_of(record)
    if not fields:
        raise BadInputError("Say what to change. Write FIELD=VALUE.")
    of: type = type(record)
    moves = {key: fields[key] for key in MOVES if of is Circuit and key in fields}
    row = assigned(of, {key: fields[key] for key in fields if key not in moves}, clear=True)
    led = rows_moved(registry, record, row.get("code", name), moves)
    conductors, circuits = touched(site_of(registry), record)
    ids = [*(conductor.id for conductor in conductors), *(each["id"] for each in led)]
    judged = name if of in _JUDGED else ""
    before, due = Due.of(registry, ids, circuits, judged), Due()
    table = TABLES.get(of, SITE)
    rows: dict[str, Any] = {table: row if table == SITE else [{"id": record.id, **row}]}
    extra, now = moved(record, moves), record

    def _look() -> None:
        """Tell what is due of it as it would be."""
        nonlocal due, now
        now = _again(registry, record)
        there, codes = touched(site_of(registry), now)
        also = [*ids, *(conductor.id for conductor in there)]
        due = Due.of(registry, also, codes, name_of(now) if judged else "").since(before)

    how = Load(update=True, look=look, clear=True, more=reason.more, then=_look)
    done = write_typed(registry, rows | ({"conductors": led} if led else {}), how, who=who)
    noun = SITE if of is SiteFacts else of.__name__.lower()
    own = [each for each in done.changed if (each.what, each.code) == (noun, name)]
    return Corrected(
        what=noun,
        code=name_of(now),
        changed=next((each.fields for each in own), {}) | extra,
        labels_due=due.labels,
        tests_owed=due.tests,
        doubts=due.doubts,
        follows=tuple(each for each in done.changed if each not in own),
        change=done.change,
    )


def _again(registry: Registry, record: Any) -> Any:
    """Return a record as it is now."""
    site = site_of(registry)
    if isinstance(record, SiteFacts):
        return site.facts
    return site.find(type(record), "id", [record.id])[0]
