# SPDX-License-Identifier: MIT
"""Records entered and corrected field by field: what is named, written, and due because of it."""

from __future__ import annotations

from dataclasses import field
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, Fault, FieldError, SiteFileError
from wiretrack.exchange.assigned import FieldPlaces, assigned
from wiretrack.exchange.known import name_of
from wiretrack.exchange.places import Faults
from wiretrack.exchange.raw import RawSite
from wiretrack.exchange.schema import FORMAT
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device, Instrument, SiteFacts, Terminal
from wiretrack.model.source import TABLES
from wiretrack.store.searching import ANY, resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.sites import Load, Source, write_rows
from wiretrack.tasks.label.ends import due_of
from wiretrack.tasks.report.checking import contradictions
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.tasks.describe.sites import ChangedRecord, Loaded
    from wiretrack.tasks.label.ends import DueLabel
    from wiretrack.tasks.test.plan import OwedTest

SITE = "site"
BY_NOUN: dict[str, type] = {
    "conductor": Conductor, "circuit": Circuit, "enclosure": Enclosure, "raceway": Raceway,
    "pull": Pull, "instrument": Instrument, "device": Device, "terminal": Terminal,
}  # fmt: skip

INSIDE = (Device, Terminal)


@dataclass(frozen=True)
class Reason:
    """Why a change was made, and which day it is of: kept with it."""

    on: str | None = None
    why: str | None = None

    @property
    def more(self) -> dict[str, str]:
        """What of it is known."""
        known = {"on": self.on, "why": self.why}
        return {key: value for key, value in known.items() if value}


NO_REASON = Reason()


def record_called(registry: Registry, what: str, kinds: tuple[str, ...] = ANY) -> Any:
    """Return the record that `what` names: tag, code, ``BOX/DEVICE``, ``BOX/TERMINAL``, site."""
    site, named = site_of(registry), resolve(registry, what, kinds)
    return (
        site.facts
        if named.what == SITE
        else site.one(BY_NOUN[named.what], named.point or named.code)
    )


def write_typed(registry: Registry, rows: dict[str, Any], how: Load, *, who: str | None) -> Loaded:
    """Write rows that were typed, as one change."""
    raw = RawSite({"format": FORMAT, **rows}, Faults(FieldPlaces()))
    try:
        return write_rows(registry, raw, Source(""), who=who, how=how)
    except SiteFileError as error:
        told = _together(error.faults).replace("in the file or the registry", "in the record")
        raise FieldError(error.faults[0].place, told) from error


def _together(faults: Iterable[Fault]) -> str:
    """Return what is wrong with what was typed; once of all fields that are missing.

    >>> _together([Fault("from", "It is missing. A raceway needs it."), Fault("kind", "No.")])
    'from: It is missing. A raceway needs it. kind: No.'
    >>> _together([Fault(key, "It is missing. A raceway needs it.") for key in ("from", "to")])
    'from, to: They are missing. A raceway needs them.'
    """
    places: dict[tuple[str, str], dict[str, None]] = {}
    for fault in faults:
        alone = "" if fault.message.startswith("It is missing.") else fault.place
        places.setdefault((fault.message, alone), {})[fault.place] = None
    return " ".join(
        str(Fault(", ".join(at), _of_several(message) if len(at) > 1 else message))
        for (message, _), at in places.items()
    )


def _of_several(message: str) -> str:
    return message.replace("It is missing.", "They are missing.").replace(
        "needs it.", "needs them."
    )


@dataclass(frozen=True)
class Due:
    """What is due of some records: labels that are untrue or lacking, tests, what is odd."""

    labels: tuple[DueLabel, ...] = ()
    tests: tuple[OwedTest, ...] = ()
    doubts: tuple[str, ...] = ()

    @classmethod
    def of(
        cls, registry: Registry, ids: Iterable[str | None], circuits: Iterable[str], name: str = ""
    ) -> Due:
        """Return what is due of conductors (by id), of their circuits and of others.

        Of what is called `name`, what contradicts the record is told too.
        """
        site = site_of(registry)
        found = [c for c in site.find(Conductor, "id", [*filter(None, ids)]) if not c.retired_at]
        codes = dict.fromkeys((*circuits, *(code for c in found for code in c.circuits)))
        served = [k.code for k in site.find(Circuit, "code", [*codes]) if not k.retired_at]
        return cls(
            tuple(due_of(registry, found)),
            tuple(step for code in served for step in owed_tests(registry, code)),
            tuple(contradictions(registry, name)) if name else (),
        )

    def since(self, before: Due) -> Due:
        """Return what of it was not so before."""
        seen = {(step.kind, step.subject, step.against) for step in before.tests}
        return Due(
            tuple(row for row in self.labels if row.detail and row not in before.labels),
            tuple(s for s in self.tests if (s.kind, s.subject, s.against) not in seen),
            tuple(doubt for doubt in self.doubts if doubt not in before.doubts),
        )


def touched(site: Site, record: Any) -> tuple[list[Conductor], list[str]]:
    """Return the conductors and circuits of which something may become due with a record."""
    if isinstance(record, SiteFacts):
        return site.every(Conductor), [circuit.code for circuit in site.every(Circuit)]
    if isinstance(record, Conductor):
        return [record], []
    if isinstance(record, Circuit):
        return [*record.conductors], [record.code]
    if isinstance(record, Device):
        places = [Point(record.enclosure, code) for pole in record.poles for code in pole]
        return site.find(Conductor, "terminal", places), []
    if isinstance(record, Terminal):
        return [*site.at(Conductor, "terminal", Point(record.enclosure, record.code))], []
    if isinstance(record, Instrument):
        return [], [circuit.code for circuit in site.every(Circuit)]
    return [*record.conductors], []


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
    poles = zip_longest(old.poles, new.poles[: len(old.poles)])
    onto: dict[Point, Any] = {
        Point(old.enclosure, terminal): led and Point(new.enclosure, led[side])
        for pole, led in poles
        for side, terminal in enumerate(pole)
    }
    for conductor in circuit.in_service:
        row: Row = {}
        for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
            if end.terminal is None or (there := Point(end.enclosure, end.terminal)) not in onto:
                continue
            if onto[there] is None:
                here = f"{new.enclosure}/{new.code}"
                raise FieldError(DEVICE, f"{here} has no pole for what is on {there}.")
            for other in site_of(registry).at(Conductor, "terminal", onto[there]):
                if other.retired_at is None and circuit.code not in other.circuits:
                    told = f"{other.tag} ({other.circuit} {other.function}) is on {onto[there]}"
                    raise FieldError(DEVICE, f"{told} already. Land it elsewhere first.")
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
