# SPDX-License-Identifier: MIT
"""What a change of the work leaves to be done: labels, tests, and what to be careful of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.days import day, surely_before
from wiretrack.electrical.cautions import opening_cautions
from wiretrack.encoding import document
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import procedures
from wiretrack.store.source import site_of
from wiretrack.tasks.label.truth import due_of
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.store.store import Registry


def left_to_do(registry: Registry, tags: Sequence[str]) -> dict[str, Any]:
    """Return the labels due and the tests owed of conductors that are new or changed.

    With them, what to read before a box is opened for either.
    """
    found = [site_of(registry).one(Conductor, tag) for tag in tags]
    shown = {format_tag(tag) for tag in tags}
    served = dict.fromkeys(code for conductor in found for code in conductor.circuits)
    due = due_of(registry, found)
    owed = [
        step
        for circuit in served
        for step in owed_tests(registry, circuit)
        if {step.subject, step.against} & shown
    ]
    systems = [site_of(registry).one(Circuit, code).system for code in served]
    boxes = {end.enclosure for c in found for end in (c.from_end, c.to_end)}
    places = site_of(registry).find(Enclosure, "code", boxes)
    warned = opening_cautions(systems, [box.kind for box in places])
    return {
        "labels_due": due,
        "tests_owed": document(owed),
        "cautions": list(warned) if due or owed else [],
    }


def ringouts_touched(registry: Registry, retired: Sequence[Conductor]) -> list[str]:
    """Return a sentence for each ring-out under way that names a conductor just retired."""
    sentences = []
    for pull in dict.fromkeys(conductor.pull for conductor in retired if conductor.pull):
        record = procedures.latest(registry, RINGOUT, pull=pull)
        if record is None or record.result is not None:
            continue
        named = {parse_tag(end["name"]) for end in record.settings["near"]}
        gone = [c.tag for c in retired if c.tag in named and c.pull == pull]
        if gone:
            tags = ", ".join(format_tag(tag or "") for tag in gone)
            sentences.append(f"The ring-out of {pull} under way names {tags}. Begin it anew.")
    return sentences


def read_after(registry: Registry, retired: Sequence[Conductor], at: str) -> list[str]:
    """Return a sentence that names conductors just retired with readings dated after that."""
    late = [
        str(c.tag)
        for c in retired
        if any(
            reading.at is not None and surely_before(at, reading.at)
            for reading in site_of(registry).one(Conductor, c.tag).readings
        )
    ]
    if not late:
        return []
    return [f"Read after {day(at)}, by the record: {', '.join(late)}. One of the days is wrong."]
