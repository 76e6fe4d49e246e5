# SPDX-License-Identifier: MIT
"""The kinds of reading, a file a kind: each word of `READING_KINDS` names the file that has it."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.errors import BadInputError
from wiretrack.model.knowledge import Verdict
from wiretrack.model.words import READING_KINDS
from wiretrack.readings.base import PlanCircuit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.insulation_limits import Basis
    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entities import Circuit, Conductor, Reading
    from wiretrack.model.knowledge import PlannedTest
    from wiretrack.model.parts import Device
    from wiretrack.readings.base import PlanConductor, ReadingKind, Record

KINDS: tuple[ReadingKind, ...] = tuple(
    import_module(f"{__name__}.{word.replace('-', '_')}").KIND for word in READING_KINDS
)
BY_NAME = {kind.name: kind for kind in KINDS}
# The kinds that are followed over the years, those that are followed by logarithm first.
TRENDED = tuple(
    kind.name
    for kind in sorted(KINDS, key=lambda kind: not (kind.trend and kind.trend.is_log))
    if kind.trend
)


def kind_of(name: str) -> ReadingKind:
    """Return the kind of reading called `name`.

    Raises
    ------
    BadInputError
        If there is none.
    """
    if name not in BY_NAME:
        raise BadInputError(f"'{name}' is not a kind of reading. Kinds: {', '.join(BY_NAME)}.")
    return BY_NAME[name]


def parse_reading(kind: str, text: str) -> Measured:
    """Return what was read for a reading of `kind`, in the unit of that kind.

    Raises
    ------
    BadInputError
        If there is no such kind.
    QuantityError, OutOfRangeError
        If `text` is not such a quantity, or an impossible one.
    """
    return kind_of(kind).parse(text)


def plan_tests(
    system: str | None, conductors: Sequence[PlanConductor], *,
    max_voltage_v: float | None = None, voc_stc_v: float | None = None,
    metal_raceway: bool | None = None, basis: Basis = "IEC",
) -> tuple[PlannedTest, ...]:  # fmt: skip
    """Return the readings that a circuit owes, in working order.

    What later kinds rely on comes first: continuity, then insulation, and voltage last, for it
    needs the circuit live.

    References
    ----------
    .. [1] IEC 60364-6:2016, 6.4.3: order of the tests; 6.4.3.3: what is read against what.
    .. [2] IEC 62446-1:2016, clause 6: a PV array's poles are read one after the other (method 1).
    """
    circuit = PlanCircuit(system, tuple(conductors), max_voltage_v, voc_stc_v, metal_raceway, basis)
    return tuple(step for kind in KINDS for step in kind.owed(circuit))


def judge(reading: Reading, subject: Conductor | Device | Circuit, record: Record) -> Verdict:
    """Return what a reading proves about its subject, by the record as it is now.

    Raises
    ------
    BadInputError
        If no rule can judge such a reading: it mustn't be stored.
    """
    kind = kind_of(reading.kind)
    return kind.judge(kind.parse(reading.value), reading, subject, record)


def verdict_of(reading: Reading, subject: Conductor | Device | Circuit, record: Record) -> Verdict:
    """Return what a stored reading proves about its subject.

    One of the future proves nothing, nor does one that no rule can judge.
    """
    try:
        found = judge(reading, subject, record)
    except BadInputError as error:
        found = Verdict("doubt", None, reading.unit, "", f"it can't be judged: {error}")
    if not days.in_future(reading.at):
        return found
    reason = f"dated {reading.at}, in the future: supersede it by one with the time it was read"
    return replace(found, outcome="doubt", reason=f"{reason}; {found.reason}", missing=("time",))
