# SPDX-License-Identifier: MIT
"""Correcting or completing one record, its code included, and what becomes due with it."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, FieldError
from wiretrack.exchange.assigned import assigned
from wiretrack.exchange.known import name_of
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.entity import Point
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
from wiretrack.tasks.describe.sites import Load

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.model.parts import Device
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
    row = assigned(of, {key: fields[key] for key in fields if key not in moves})
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
    site = site_of(registry)
    if isinstance(record, SiteFacts):
        return site.facts
    return site.find(type(record), "id", [record.id])[0]


Row = dict[str, Any]
DEVICE, CONDUCTORS = "device", "conductors"
MOVES = (DEVICE, CONDUCTORS)
_PROTECTING = ("breaker", "fuse")


def rows_moved(registry: Registry, record: Any, code: str, moves: Mapping[str, str]) -> list[Row]:
    """Return the rows of conductors that moves of a circuit change; it is called `code` then."""
    rows: list[Row] = []
    if CONDUCTORS in moves:
        rows += _given(registry, code, moves[CONDUCTORS])
    if DEVICE in moves:
        rows += _led(registry, record, moves[DEVICE])
    return rows


def _given(registry: Registry, code: str, tags: str) -> Iterator[Row]:
    """Yield the rows that give conductors, named with commas, to the circuit `code`."""
    for text in filter(None, (part.strip() for part in tags.split(","))):
        conductor = record_called(registry, text, ("conductor",))
        if len(conductor.circuits) > 1:
            told = f"{conductor.tag} serves {' and '.join(conductor.circuits)}"
            raise FieldError(CONDUCTORS, f"{told}. Say which it serves from now on by its circuit.")
        yield {"id": conductor.id, "circuit": code}


def _led(registry: Registry, circuit: Circuit, place: str) -> Iterator[Row]:
    """Yield the rows that lead a circuit's ends from its breaker or fuse to another device.

    An end goes from a pole's terminal to the same side of the same pole there. `FieldError` if it
    isn't plain which device it leaves, or something else is on the other one.
    """
    new, old = record_called(registry, place, ("device",)), device_of(circuit)
    if old is None:
        raise FieldError(DEVICE, f"{circuit.code} is landed on no one breaker or fuse. Set the ends"
                         " of its conductors.")  # fmt: skip
    onto = dict(_terminals(old, new))
    for conductor in circuit.in_service:
        row: Row = {}
        for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
            if end.terminal is None or (there := Point(end.enclosure, end.terminal)) not in onto:
                continue
            if onto[there] is None:
                here = f"{new.enclosure}/{new.code}"
                raise FieldError(DEVICE, f"{here} has no pole for what is on {there}.")
            _refuse_taken(registry, circuit, onto[there])
            enclosure, terminal = onto[there]
            row[side] = {"enclosure": enclosure, "terminal": terminal}
        if row:
            yield {"id": conductor.id, **row}


def device_of(circuit: Circuit) -> Device | None:
    """Return the one breaker or fuse that a circuit's conductors are landed on."""
    found = [device for device in circuit.devices if device.kind in _PROTECTING]
    return found[0] if len(found) == 1 else None


def moved(circuit: Circuit, fields: Mapping[str, str]) -> dict[str, tuple[Any, Any]]:
    """Return which device a circuit is led to, and from which, if it is."""
    old = device_of(circuit) if DEVICE in fields else None
    return {DEVICE: (f"{old.enclosure}/{old.code}", fields[DEVICE])} if old else {}


def _terminals(old: Device, new: Device) -> Iterator[tuple[Point, Any]]:
    for at, pole in enumerate(old.poles):
        for side, terminal in enumerate(pole):
            led = Point(new.enclosure, new.poles[at][side]) if at < len(new.poles) else None
            yield Point(old.enclosure, terminal), led


def _refuse_taken(registry: Registry, circuit: Circuit, place: Point) -> None:
    for other in site_of(registry).at(Conductor, "terminal", place):
        if other.retired_at is None and circuit.code not in other.circuits:
            told = f"{other.tag} ({other.circuit} {other.function}) is on {place}"
            raise FieldError(DEVICE, f"{told} already. Land it elsewhere first.")
