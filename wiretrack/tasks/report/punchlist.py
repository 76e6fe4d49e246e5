# SPDX-License-Identifier: MIT
"""What is still open on the site: ends to identify, label and land, tests owed or failed."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit, Conductor, Reading, readings_of
from wiretrack.model.entity import Subject, subject_text
from wiretrack.readings import kind_of
from wiretrack.readings.base import in_time, latest, written
from wiretrack.store import history
from wiretrack.store.lists import circuits_after
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import only_in_service
from wiretrack.tasks.label.ends import is_identified
from wiretrack.tasks.label.truth import PRINTED, UNTRUE, EndLabel, labels_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from wiretrack.model.knowledge import PlannedTest
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry

Row = dict[str, Any]
# In the order in which the work is done.
IDENTIFY, LAND, LABEL = "end not identified", "end not landed", "end not labelled"
RELABEL = UNTRUE
FAILED, DOUBTFUL, OWED = "reading failed", "reading in doubt", "test owed"
MOST = 2000  # conductors that a part of the list is made from, unless one circuit has more


def punch_list(registry: Registry) -> list[Row]:
    """Return what is open: rows of ``what``, ``subject``, ``since`` and ``detail``."""
    return _open(registry, None)


def punch_part(registry: Registry, after: int = 0, most: int = MOST) -> dict[str, Any]:
    """Return what is open in the circuits that come next, some `most` conductors in all.

    Returns
    -------
    dict
        ``rows`` as of `punch_list`; ``circuits``, the codes of the first and the last circuit;
        ``next``, the `after` that the part behind this one begins with, `None` if there is none.
    """
    found = circuits_after(registry, after, most + 1)
    codes, total, last = list[str](), 0, after
    for circuit in found:
        total += circuit.conductors
        if codes and total > most:
            break
        codes.append(circuit.code)
        last = circuit.number
    if not codes:
        return {"rows": [], "circuits": None, "next": None}
    return {
        "rows": _open(registry, codes),
        "circuits": (codes[0], codes[-1]),
        "next": last if len(codes) < len(found) else None,
    }


def _open(registry: Registry, codes: Collection[str] | None) -> list[Row]:
    """Return what is open in these circuits, or in all."""
    site = site_of(registry)
    every = site.every(Conductor) if codes is None else site.find(Conductor, "circuit", codes)
    found = only_in_service(every)
    added = history.added_at(registry, found)
    labels = labels_of(registry, found)
    by_circuit: defaultdict[str, list[Conductor]] = defaultdict(list)
    for conductor in found:
        for code in conductor.circuits:
            by_circuit[code].append(conductor)
    rows = [row for c in found for row in _open_ends(c, labels, added.get(c.id or ""))]
    taken = latest(in_time(site.every(Reading)) if codes is None else readings_of(every))
    return in_order(rows + _tests(site, by_circuit, taken, added) + _of_others(taken))


def _of_others(taken: Iterable[Reading]) -> list[Row]:
    """Return what doesn't pass of the last readings of devices and circuits."""
    others = (reading for reading in taken if isinstance(reading.subject, Subject))
    return [row for reading in others for row in _not_passed(reading)]


def open_points_of(
    conductor: Conductor,
    members: list[Conductor],
    labels: Mapping[tuple[str, str], EndLabel],
    rested: list[Reading],
) -> list[Row]:
    """Return the rows of the punch list that are about one conductor, all ``since`` unknown.

    `members` are the conductors of its circuit that are in service, `rested` the last readings
    of them (see `latest`) that still rest on the landing as it is.
    """
    if conductor.retired_at is not None:
        return []
    rows = _open_ends(conductor, labels, None)
    for circuit in conductor.serves:
        own = [member for member in members if circuit.code in member.circuits]
        found = _tests_of(circuit, own, rested, {}, [conductor])
        rows += [row for row in found if row not in rows]
    tag = str(conductor.tag)
    return in_order(row for row in rows if row["subject"] == tag)


def open_points_of_circuit(registry: Registry, code: str) -> list[Row]:
    """Return the rows of the punch list that are about one circuit's conductors."""
    members = site_of(registry).one(Circuit, code).in_service
    return in_order(_of_circuit(registry, code, members))


def _of_circuit(registry: Registry, code: str, members: list[Conductor]) -> list[Row]:
    """Return what is open at the ends of a circuit's conductors, and of its tests."""
    if not members:
        return []
    added = history.added_at(registry, members)
    labels = labels_of(registry, members)
    rows = [row for c in members for row in _open_ends(c, labels, added.get(c.id or ""))]
    circuit = site_of(registry).one(Circuit, code)
    found = [reading for reading in latest(circuit.readings) if not reading.is_stale]
    return rows + _tests_of(circuit, members, found, added, members)


def in_order(rows: Iterable[Row]) -> list[Row]:
    """Return rows of the punch list in the order of the work."""
    order = (IDENTIFY, LAND, LABEL, RELABEL, FAILED, DOUBTFUL, OWED)
    return sorted(rows, key=lambda row: order.index(row["what"]))


def _open_ends(
    conductor: Conductor, labels: Mapping[tuple[str, str], EndLabel], since: str | None
) -> list[Row]:
    rows = []
    tag = conductor.tag
    for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
        if not is_identified(conductor, side):
            rows.append(_row(IDENTIFY, tag, since, f"in {end.place}"))
        elif end.state not in ("landed", "capped"):
            mark = f", end mark {end.mark}" if end.mark else ""
            rows.append(_row(LAND, tag, since, f"in {end.place}{mark}"))
        label = labels[tag, side]
        if label.untrue:
            rows.append(_row(RELABEL, tag, label.untrue_since, f"in {end.place}: {label.untrue}"))
        elif not label.holds:
            printed = f", {PRINTED}" if label.waits else ""
            rows.append(_row(LABEL, tag, since, f"in {end.place}{printed}"))
    return rows


def _tests(
    site: Site,
    by_circuit: Mapping[str, list[Conductor]],
    taken: Sequence[Reading],
    added: Mapping[str, str],
) -> list[Row]:
    by_tag: defaultdict[str, list[Reading]] = defaultdict(list)
    for reading in taken:
        if not reading.is_stale:
            by_tag[reading.subject].append(reading)
    rows: list[Row] = []
    shared = any(len(c.circuits) > 1 for members in by_circuit.values() for c in members)
    for circuit in site.find(Circuit, "code", by_circuit):
        if circuit.retired_at is not None:
            continue
        members = by_circuit[circuit.code]
        found = [reading for c in members for reading in by_tag[c.tag]]
        of_circuit = _tests_of(circuit, members, found, added)
        rows += [row for row in of_circuit if row not in rows] if shared else of_circuit
    return rows


def _tests_of(
    circuit: Circuit,
    members: list[Conductor],
    found: list[Reading],
    added: Mapping[str, str],
    shown: Iterable[Conductor] | None = None,
) -> list[Row]:
    """Return what is open of a circuit's tests; of readings, those of the conductors shown."""
    wanted = {c.tag for c in (members if shown is None else shown)}
    rows = [row for r in found if r.subject in wanted for row in _not_passed(r)]
    since: dict[str, str | None] = {c.tag: added.get(c.id or "") for c in members}
    keys = {reading.key for reading in found}
    return rows + [
        _row(OWED, step.subject, since[step.subject], _told(step))
        for step in circuit.site.knowledge.planned(circuit)
        if not kind_of(step.kind).proves(step, keys)
    ]


def _not_passed(reading: Reading) -> list[Row]:
    verdict = reading.verdict
    if verdict.outcome == "pass":
        return []
    what = FAILED if verdict.outcome == "fail" else DOUBTFUL
    return [_row(what, reading.subject, reading.at, f"{reading.kind}: {verdict.reason}")]


def _told(step: PlannedTest) -> str:
    against = f" to {written(step.against)}" if step.against else ""
    volts = f" with {step.test_voltage_v:g} V" if step.test_voltage_v else ""
    return f"{step.kind}{against}{volts}"


def _row(what: str, tag: str, since: str | None, detail: str) -> Row:
    return {"what": what, "subject": subject_text(tag), "since": since, "detail": detail}
