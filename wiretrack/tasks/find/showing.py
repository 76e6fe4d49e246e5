# SPDX-License-Identifier: MIT
"""What a word names, and all that the registry says about it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.entity import Point
from wiretrack.readings.judging import Judge
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import ABANDONED
from wiretrack.tasks.find.conductors import line_of, readings_of, show_conductor

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.model.entities import ConductorEnd
    from wiretrack.store.store import Registry


def show(registry: Registry, what: str) -> tuple[str, dict[str, Any]]:
    """Return the kind of thing that `what` names, and its record.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    """
    named = resolve(registry, what)
    return named.what, _SHOWN[named.what](registry, named.code)


def _circuit(registry: Registry, code: str) -> dict[str, Any]:
    circuit = site_of(registry).one(Circuit, code)
    lines = _lines(circuit.conductors)
    return {**asdict(circuit), **lines, "readings": readings_of(circuit)}


def show_enclosure(registry: Registry, code: str) -> dict[str, Any]:
    """Return an enclosure's record: the ends in it, its raceways and devices."""
    judge = Judge(site_of(registry))
    box = judge.site.one(Enclosure, code)
    devices = box.devices
    judge.site.load(Reading, "device", [Point(code, device.code) for device in devices])
    return {
        **asdict(box),
        "ends": [_landed(end) for end in box.ends],
        "abandoned": abandoned_in(box),
        "raceways": [
            {"code": raceway.code, "from": raceway.from_enclosure, "to": raceway.to_enclosure}
            for raceway in box.raceways
        ],
        "devices": [
            {key: value for key, value in asdict(device).items() if key in _OF_A_DEVICE}
            | {"readings": readings_of(device)}
            for device in devices
        ],
    }


_OF_A_DEVICE = ("code", "kind", "closed", "rating_a", "termination_rating_c")


def _raceway(registry: Registry, code: str) -> dict[str, Any]:
    raceway = site_of(registry).one(Raceway, code)
    record = asdict(raceway)
    record["from"], record["to"] = record.pop("from_enclosure"), record.pop("to_enclosure")
    in_place = [c for c in raceway.conductors if not c.retired_at or c.retired_because == ABANDONED]
    return {**record, **_lines(in_place)}


def _pull(registry: Registry, code: str) -> dict[str, Any]:
    pull = site_of(registry).one(Pull, code)
    return {
        "code": code,
        "path": list(pull.path),
        "enclosures": list(pull.route.boxes),
        **_lines(pull.conductors),
    }


_SHOWN = {
    "conductor": show_conductor,
    "circuit": _circuit,
    "enclosure": show_enclosure,
    "raceway": _raceway,
    "pull": _pull,
}


def abandoned_in(box: Enclosure) -> list[dict[str, Any]]:
    """Return the abandoned conductors that have an end in an enclosure."""
    return [line_of(c) for c in box.conductors if c.retired_because == ABANDONED]


def _lines(found: Sequence[Conductor]) -> dict[str, list[dict[str, Any]]]:
    """Return the conductors in service, and apart from them those that are retired."""
    return {
        "conductors": [line_of(c) for c in found if c.retired_at is None],
        "retired": [line_of(c) for c in found if c.retired_at is not None],
    }


def _landed(end: ConductorEnd) -> dict[str, Any]:
    return {
        "terminal": end.here.terminal,
        "tag": str(end.conductor.tag),
        "circuit": end.conductor.circuit,
        "function": end.conductor.function,
        "state": end.here.state,
        "leads_to": end.there.place,
    }
