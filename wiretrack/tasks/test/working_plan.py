# SPDX-License-Identifier: MIT
"""A circuit's owed readings with all that is needed to take them away from the registry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.model.entities import Circuit
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.test.posted_readings import revision
from wiretrack.tasks.test.testing import cautions_for, owed_tests

if TYPE_CHECKING:
    from wiretrack.model.entities import Conductor
    from wiretrack.store.store import Registry


def working_plan(registry: Registry, circuit: str) -> dict[str, Any]:
    """Return a circuit's owed readings, the cautions of each kind, and each conductor's facts.

    ``seen`` of a conductor is the revision that a reading of it relies on.
    """
    code = resolve(registry, circuit, ("circuit",)).code
    record = site_of(registry).one(Circuit, code)
    steps = owed_tests(registry, code)
    found = site_of(registry).one(Circuit, code).in_service
    members = {conductor.tag: conductor for conductor in found}
    subjects = dict.fromkeys(parse_tag(step["subject"]) for step in steps)
    return {
        "code": code,
        "title": record.title,
        "steps": steps,
        "cautions": {
            kind: list(cautions_for(registry, kind, code))
            for kind in dict.fromkeys(step["kind"] for step in steps)
        },
        "conductors": {
            format_tag(tag): {**facts(members[tag]), "seen": revision(registry, tag)}
            for tag in subjects
        },
    }


def facts(conductor: Conductor) -> dict[str, Any]:
    """Return in short what a reading of a conductor relies on."""
    return {
        "circuit": conductor.circuit,
        "function": conductor.function,
        "size": conductor.size,
        "colour": conductor.colour,
        "length_m": conductor.length_m,
        "from": conductor.from_end.place,
        "to": conductor.to_end.place,
    }
