# SPDX-License-Identifier: MIT
"""What follows from a site's record, and the questions that entities ask of whoever knows it.

The model says what is recorded; what a reading proves, and which readings are owed, follow from
rules above it. Whoever makes a `Site` hands it one that knows them.
"""

from __future__ import annotations

from dataclasses import field
from typing import Any, Literal, Protocol

from wiretrack.late import dataclass

Outcome = Literal["pass", "fail", "doubt"]


@dataclass(frozen=True)
class Verdict:
    """What a reading proves; `missing` names the facts that would settle a doubt."""

    outcome: Outcome
    limit: float | None
    unit: str
    source: str
    reason: str
    figure: float | None = None
    guard_band: float | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlannedTest:
    """A reading still owed; `against` is a tag, ``PE`` or ``raceway``, as `test log` takes it."""

    kind: str
    subject: str
    against: str | None
    test_voltage_v: float | None = field(metadata={"json": "test_voltage"})
    source: str
    why: str


class Corrected(Protocol):
    """What a reading would be at a reference temperature, and by what rule."""

    @property
    def ohms(self) -> float: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102


class Knowledge(Protocol):
    """Answers what follows from a site's record; readings and circuits are its entities."""

    def verdict(self, reading: Any) -> Verdict:
        """Return what a reading proves about its conductor."""

    def at_reference(self, reading: Any) -> Corrected | None:
        """Return what a reading would be at 20 °C, where its kind and what is known allow that."""

    def is_stale(self, reading: Any) -> bool:
        """Return whether a reading rests on a landing that was found crossed later."""

    def planned(self, circuit: Any) -> tuple[PlannedTest, ...]:
        """Return every reading that a circuit needs, in working order."""

    def owed(self, circuit: Any) -> tuple[PlannedTest, ...]:
        """Return the readings that a circuit needs and has none that passes."""
