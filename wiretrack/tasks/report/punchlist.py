# SPDX-License-Identifier: MIT
"""What is still open on the site: ends to identify, label and land, tests due or failed."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    Enclosure,
    Pull,
    Raceway,
    Reading,
    readings_of,
)
from wiretrack.model.entity import Subject, subject_text
from wiretrack.model.labels import PRINTED, UNTRUE
from wiretrack.readings import kind_of
from wiretrack.readings.base import in_time, latest, written
from wiretrack.store import history
from wiretrack.store.lists import circuits_after
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import only_in_service

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from wiretrack.model.entity import PlannedTest, Records
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.store.undecided import Undecided

# In the order in which the work is done.
IDENTIFY, LAND, LABEL = "end not identified", "end not landed", "end not labelled"
FAILED, DOUBTFUL, OWED = "reading failed", "reading in doubt", "test due"
UNDECIDED = "undecided"
_ORDER = (UNDECIDED, IDENTIFY, LAND, LABEL, UNTRUE, FAILED, DOUBTFUL, OWED)
MOST = 2000  # conductors that a part of the list is made from, unless one circuit has more


@dataclass(frozen=True)
class OpenPoint:
    """One thing that is open: of which conductor, device or circuit, since when, and in which box.

    A reading is taken in the box of its conductor's "from" end, or of its device.
    """

    what: str
    subject: str
    since: str | None
    detail: str
    box: str | None = None


@dataclass(frozen=True)
class PunchPart:
    """What is open in some circuits, and the codes of the first and the last one.

    `next` is the `after` that the part behind this one begins with, `None` if there is none.
    """

    rows: list[OpenPoint]
    circuits: tuple[str, str] | None = None
    next: int | None = None


def punch_list(
    registry: Registry, what: str | None = None, site: Site | None = None
) -> list[OpenPoint]:
    """Return what is open on the site, or about a conductor, circuit, pull, raceway or box.

    A `site` of the registry that has much of it already isn't read again.
    """
    if what is None:
        return _open(registry, None, site)
    named = resolve(registry, what)
    return open_points_about(registry, named.what, named.code, site)


def open_points_about(
    registry: Registry, what: str, code: str, site: Site | None = None
) -> list[OpenPoint]:
    """Return the rows of the punch list that are about one record; of an enclosure, those there.

    A `site` of the registry that has much of it already isn't read again.
    """
    if what == "circuit":
        return _open(registry, [code], site)
    own = [] if what == "conductor" else _undecided_of(registry, what, code)
    return own + _points_about(registry, what, code, site or site_of(registry))


def _undecided_of(registry: Registry, what: str, code: str) -> list[OpenPoint]:
    """Return what is undecided of a record that has no tag."""
    if not registry.some_undecided():
        return []
    from wiretrack.store.undecided import undecided

    key = f"{what}/{code}/"
    return [_undecided(each) for each in undecided(registry) if each.key.startswith(key)]


def _points_about(registry: Registry, what: str, code: str, site: Site) -> list[OpenPoint]:
    found = members(site, what, code)
    codes = dict.fromkeys(each for c in found for each in c.circuits)
    spares = [c for c in only_in_service(found) if not c.circuits]
    added = history.added_at(registry, spares)
    rows = _open(registry, codes, site) if codes else []
    rows += [row for c in spares for row in _open_ends(registry, c, added.get(c.id or ""))]
    if what == "enclosure":
        return in_order(row for row in rows if row.box == code)
    tags = {str(c.tag) for c in found}
    return in_order(row for row in rows if row.subject in tags)


def members(site: Site, what: str, code: str) -> Sequence[Conductor]:
    """Return the conductors of a record: itself, or those that serve it or lie in it."""
    if what == "conductor":
        return [site.one(Conductor, code)]
    of: dict[str, type[Circuit | Enclosure | Pull | Raceway]] = {
        "circuit": Circuit, "enclosure": Enclosure, "pull": Pull, "raceway": Raceway
    }  # fmt: skip
    return site.one(of[what], code).conductors


def punch_part(registry: Registry, after: int = 0, most: int = MOST) -> PunchPart:
    """Return what is open in the circuits that come next, some `most` conductors in all."""
    found = circuits_after(registry, after, most + 1)
    codes, total, last = list[str](), 0, after
    for circuit in found:
        total += circuit.conductors
        if codes and total > most:
            break
        codes.append(circuit.code)
        last = circuit.number
    if not codes:
        return PunchPart([])
    following = last if len(codes) < len(found) else None
    return PunchPart(_open(registry, codes), (codes[0], codes[-1]), following)


def _open(
    registry: Registry, codes: Collection[str] | None, site: Site | None = None
) -> list[OpenPoint]:
    """Return what is open in these circuits, or in all."""
    site = site or site_of(registry)
    every = site.every(Conductor) if codes is None else site.find(Conductor, "circuit", codes)
    circuits = site.every(Circuit) if codes is None else site.find(Circuit, "code", codes)
    found = only_in_service(every)
    added = history.added_at(registry, found)
    site.load_labels([c.tag for c in found])
    rows = [row for c in found for row in _open_ends(registry, c, added.get(c.id or ""))]
    if codes is None:
        readings = latest(in_time(site.every(Reading)))
    else:
        devices = {id(d): d for circuit in circuits for d in circuit.devices}
        readings = latest(readings_of([*every, *devices.values(), *circuits]))
    of: defaultdict[str, list[Reading]] = defaultdict(list)
    for reading in readings:
        if not reading.is_stale:
            of[reading.subject].append(reading)
    since: dict[str, str | None] = {c.tag: added.get(c.id or "") for c in found}
    for circuit in circuits:
        if circuit.retired_at is None:
            own = [reading for thing in circuit.measurable for reading in of[thing.subject]]
            rows += [row for reading in own for row in _not_passed(reading)]
            rows += _owed(circuit, own, since)
    rows += _all_undecided(registry, None if codes is None else {*codes, *(c.tag for c in every)})
    others = (reading for reading in readings if isinstance(reading.subject, Subject))
    rows += [row for reading in others for row in _not_passed(reading)]
    return in_order(dict.fromkeys(rows))


def open_points_of(
    registry: Registry, conductor: Conductor, rested: Collection[Reading]
) -> list[OpenPoint]:
    """Return the rows of the punch list that are about one conductor, all ``since`` unknown.

    `rested` are the last readings (see `latest`) of the conductors of its circuits that still
    rest on the landing as it is.
    """
    if conductor.retired_at is not None:
        return []
    rows = _open_ends(registry, conductor, None)
    rows += _all_undecided(registry, {conductor.tag})
    serves = conductor.serves
    if serves:
        rows += [row for r in rested if r.subject == conductor.tag for row in _not_passed(r)]
    rows += [row for circuit in serves for row in _owed(circuit, rested, {})]
    tag = str(conductor.tag)
    return in_order(dict.fromkeys(row for row in rows if row.subject == tag))


def _all_undecided(registry: Registry, subjects: set[str] | None) -> list[OpenPoint]:
    """Return what is undecided, or of that what these tags and circuits rest on."""
    if not registry.some_undecided():
        return []
    from wiretrack.store.undecided import resting, undecided

    if subjects is None:
        return [_undecided(each) for each in undecided(registry)]
    found = resting(registry).items()
    rows = (_undecided(each) for subject, them in found if subject in subjects for each in them)
    return list(dict.fromkeys(rows))


def _undecided(each: Undecided) -> OpenPoint:
    _, name, *rest = each.key.split("/")
    subject = f"{name}/{rest[0]}" if each.table in ("terminals", "devices") else name
    side = f"{rest[0]} end, " if each.table == "ends" else ""
    return OpenPoint(UNDECIDED, subject, None, f"{side}{each.told}")


def in_order(rows: Iterable[OpenPoint]) -> list[OpenPoint]:
    """Return rows of the punch list in the order of the work."""
    return sorted(rows, key=lambda row: _ORDER.index(row.what))


def _open_ends(registry: Registry, conductor: Conductor, since: str | None) -> list[OpenPoint]:
    rows = []
    tag = conductor.tag
    for side in conductor.sides:
        end, label = side.here, side.label
        if not side.is_identified:
            rows.append(_row(IDENTIFY, tag, since, f"in {end.place}", end.enclosure))
        elif end.state not in ("landed", "capped"):
            mark = f", end mark {end.mark}" if end.mark else ""
            rows.append(_row(LAND, tag, since, f"in {end.place}{mark}", end.enclosure))
        if label.untrue:
            placed = label.placed_at or ""
            untrue_since = history.first_change(registry, tag, placed) or placed
            told = f"in {end.place}: {label.untrue}"
            rows.append(_row(UNTRUE, tag, untrue_since, told, end.enclosure))
        elif not label.holds:
            printed = f", {PRINTED}" if label.waits else ""
            rows.append(_row(LABEL, tag, since, f"in {end.place}{printed}", end.enclosure))
    return rows


def _owed(
    circuit: Circuit, found: Iterable[Reading], since: Mapping[str, str | None]
) -> list[OpenPoint]:
    """Return the readings that a circuit needs and none of those found is, whatever it proves."""
    keys = {reading.key for reading in found}
    return [
        _row(OWED, step.subject, since.get(step.subject), _told(step),
             _box(circuit.site, step.subject))
        for step in circuit.site.knowledge.planned(circuit)
        if not kind_of(step.kind).proves(step, keys)
    ]  # fmt: skip


def _not_passed(reading: Reading) -> list[OpenPoint]:
    verdict, subject = reading.verdict, reading.subject
    if verdict.outcome == "pass":
        return []
    what = FAILED if verdict.outcome == "fail" else DOUBTFUL
    told = f"{reading.kind}: {verdict.reason}"
    return [_row(what, subject, reading.at, told, _box(reading.site, subject))]


def _box(site: Records, subject: str) -> str | None:
    if not isinstance(subject, Subject):
        return site.one(Conductor, subject).from_end.enclosure
    if subject.device:
        return subject.device.enclosure
    return next((c.from_end.enclosure for c in site.one(Circuit, subject).in_service), None)


def _told(step: PlannedTest) -> str:
    volts = f" with {step.test_voltage_v:g} V" if step.test_voltage_v else ""
    return f"{kind_of(step.kind).told(written(step.against))}{volts}"


def _row(what: str, subject: str, since: str | None, detail: str, box: str | None) -> OpenPoint:
    return OpenPoint(what, subject_text(subject), since, detail, box)
