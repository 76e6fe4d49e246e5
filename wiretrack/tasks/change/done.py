# SPDX-License-Identifier: MIT
"""What a change of the work leaves to be done: labels, tests, and what to be careful of."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Self

from wiretrack import days
from wiretrack.days import day, surely_before
from wiretrack.electrical.cautions import DEAD, around
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.procedure import RINGOUT
from wiretrack.store import procedures
from wiretrack.store.source import site_of
from wiretrack.tasks.label.ends import due_of
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.ends import DueLabel, OldLabel
    from wiretrack.tasks.test.plan import OwedTest


@dataclass(frozen=True, kw_only=True)
class Done:
    """What every change of the work leaves: labels, tests, and what to be careful of.

    Each change adds what it did. `take_off` are labels of what was retired.
    """

    labels_due: Sequence[DueLabel] = ()
    tests_owed: Sequence[OwedTest] = ()
    take_off: Sequence[OldLabel] = ()
    notes: Sequence[str] = ()
    cautions: Sequence[str] = ()

    def with_left_to_do(self, registry: Registry, tags: Sequence[str]) -> Self:
        """Return it with the labels due and tests due of conductors that are new or changed.

        With them, what to read before a box is opened for either.
        """
        site = site_of(registry)
        found = [site.one(Conductor, tag) for tag in tags]
        shown = {format_tag(tag) for tag in tags}
        served = dict.fromkeys(code for conductor in found for code in conductor.circuits)
        due = due_of(registry, found)
        owed = [
            step
            for circuit in served
            for step in owed_tests(registry, circuit)
            if {step.subject, step.against} & shown
        ]
        systems = [site.one(Circuit, code).system for code in served]
        places = site.find(Enclosure, "code", {end.enclosure for c in found for end in c.ends})
        warned = around(DEAD, systems, [box.kind for box in places]) if due or owed else ()
        return replace(self, labels_due=due, tests_owed=owed, cautions=(*self.cautions, *warned))


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
            sentences.append(f"The ring-out of {pull} under way names {tags}. Begin it again.")
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
    return [f"Read after {day(at)}, in the record: {', '.join(late)}. One of the days is wrong."]


_DAY = 10  # characters of YYYY-MM-DD


def moment_of_change(text: str | None) -> str:
    """Return when a change was made: a day as a day, a time as RFC 3339, now where none is said."""
    if text is None:
        return days.now()
    typed = days.typed(text)
    found = typed.isoformat() if not isinstance(typed, datetime) else days.typed_time(text)
    if days.date_of(found) > days.today():
        raise BadInputError(
            f"{days.day(found)} lies in the future. Change the record once the work is done."
        )
    return found


def today_is_now(moment: str) -> str:
    """Return a moment, the day of today as the time now."""
    is_today = len(moment) == _DAY and days.date_of(moment) == days.today()
    return days.now() if is_today else moment
