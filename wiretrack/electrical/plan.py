# SPDX-License-Identifier: MIT
"""Which readings a circuit owes, in the order in which they are safely taken."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from wiretrack.electrical.insulation_limits import (
    Basis,
    Requirement,
    basis_source,
    insulation_requirements,
)
from wiretrack.model.words import DC_SYSTEMS
from wiretrack.sources import IEC_60364_6, IEC_62446_1

if TYPE_CHECKING:
    from collections.abc import Sequence

_EARTHED = ("PE", "FE", "PEN")
_LINES = ("L1", "L2", "L3")
_MOST_PAIRS_OF = 4  # more live conductors than this are each tested against earth only


@dataclass(frozen=True)
class PlanConductor:
    """A conductor of the circuit: its tag, its function, and the two boxes it lies between.

    Conductors between the same boxes are a section of the circuit; one is read against another of
    its own section where there is one.
    """

    tag: str
    function: str
    between: frozenset[str] | None = None


@dataclass(frozen=True)
class PlannedTest:
    """A reading still owed; `against` is a tag, ``PE`` or ``raceway``, as `test log` takes it."""

    kind: str
    subject: str
    against: str | None
    test_voltage_v: float | None
    source: str
    why: str

    def as_json(self) -> dict[str, object]:
        """Return the step as a document."""
        return {
            "kind": self.kind,
            "subject": self.subject,
            "against": self.against,
            "test_voltage": self.test_voltage_v,
            "source": self.source,
            "why": self.why,
        }


def plan_tests(
    system: str | None, conductors: Sequence[PlanConductor], *,
    max_voltage_v: float | None = None, voc_stc_v: float | None = None,
    metal_raceway: bool | None = None, basis: Basis = "IEC",
) -> tuple[PlannedTest, ...]:  # fmt: skip
    """Return the readings that a circuit owes, in working order.

    Protective conductors come first, since what follows relies on them; then the other conductors,
    then insulation, and voltage last, for it needs the circuit live. Insulation is read against
    ``PE`` where the circuit has a protective conductor, else against a metal ``raceway``.

    References
    ----------
    .. [1] IEC 60364-6:2016, 6.4.3: order of the tests; 6.4.3.3: what is read against what.
    .. [2] IEC 62446-1:2016, clause 6: a PV array's poles are read one after the other (method 1).
    """
    steps = [*_continuity(conductors)]
    if system != "earthing":
        choices, _ = insulation_requirements(
            system, max_voltage_v, voc_stc_v=voc_stc_v, basis=basis
        )
        required = choices[0] if choices else None
        steps += _insulation(system, conductors, required, metal_raceway, basis)
        steps += _voltage(system, conductors)
    return tuple(steps)


def _continuity(conductors: Sequence[PlanConductor]) -> list[PlannedTest]:
    first = [c for c in conductors if c.function in _EARTHED]
    rest = [c for c in conductors if c.function not in _EARTHED]
    source = IEC_60364_6.cite("6.4.3.2")
    return [
        PlannedTest(
            "continuity", c.tag, None, None, source,
            "protective conductors first" if c in first else "then the other conductors",
        )
        for c in (*first, *rest)
    ]  # fmt: skip


def _insulation(
    system: str | None, conductors: Sequence[PlanConductor], required: Requirement | None,
    metal_raceway: bool | None, basis: Basis,
) -> list[PlannedTest]:  # fmt: skip
    live = [c for c in conductors if c.function not in _EARTHED]
    has_earth = any(c.function in ("PE", "PEN") for c in conductors)
    earth = "PE" if has_earth else "raceway" if metal_raceway else None
    volts = required.test_voltage_v if required else None
    source = required.source if required else basis_source(system, basis)
    why = "" if required else "; test voltage unknown until the circuit's voltage is"
    steps = []
    if earth is not None:
        order = sorted(live, key=lambda c: c.function != "L-") if system == "dc-pv" else live
        where = "negative, then positive, to earth (method 1)" if system == "dc-pv" else "to earth"
        steps = [PlannedTest("insulation", c.tag, earth, volts, source, where + why) for c in order]
    steps += [
        PlannedTest("insulation", a.tag, b.tag, volts, source, "between conductors" + why)
        for section in _sections(live)
        if earth is None or (system != "dc-pv" and len(section) <= _MOST_PAIRS_OF)
        for a, b in combinations(section, 2)
    ]
    return steps


def _sections(conductors: Sequence[PlanConductor]) -> list[list[PlanConductor]]:
    """Return the conductors by the boxes that they lie between."""
    found: dict[frozenset[str] | None, list[PlanConductor]] = {}
    for conductor in conductors:
        found.setdefault(conductor.between, []).append(conductor)
    return list(found.values())


def _voltage(system: str | None, conductors: Sequence[PlanConductor]) -> list[PlannedTest]:
    if system in DC_SYSTEMS:
        source = IEC_62446_1.cite("6.2") if system == "dc-pv" else IEC_60364_6.cite("6.4.3.6")
        minus = [c for c in conductors if c.function in ("L-", "M")]
        return [
            PlannedTest("voltage", plus.tag, other.tag, None, source, "polarity, circuit live")
            for plus, other in _partners([c for c in conductors if c.function == "L+"], minus)
        ]
    if system is None or not system.startswith("ac-"):
        return []
    lines = [c for c in conductors if c.function in _LINES]
    neutral = [c for c in conductors if c.function in ("N", "PEN")]
    pairs = _partners(lines, neutral) if neutral else _line_pairs(lines)
    source = IEC_60364_6.cite("6.4.3.6")
    return [
        PlannedTest("voltage", a.tag, b.tag, None, source, "polarity, circuit live")
        for a, b in pairs
    ]


def _line_pairs(lines: list[PlanConductor]) -> list[tuple[PlanConductor, PlanConductor]]:
    return [pair for section in _sections(lines) for pair in combinations(section, 2)]


def _partners(
    ones: list[PlanConductor], others: list[PlanConductor]
) -> list[tuple[PlanConductor, PlanConductor]]:
    """Return each of `ones` with a partner: the one at the same place in the list, or the last.

    Both lists are those of the section, where the partners have any in it.
    """
    if not others:
        return []
    pairs = []
    for section in _sections(ones):
        near = [other for other in others if other.between == section[0].between]
        partners = near or others
        pairs += [(one, partners[min(i, len(partners) - 1)]) for i, one in enumerate(section)]
    return pairs
