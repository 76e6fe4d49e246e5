# SPDX-License-Identifier: MIT
"""Findings: what a wiring rule says of one subject, with figure, limit, source and reason.

A rule has a file in `rules/` and registers itself there: `rule` names it and says on what it is
judged. A `Clause` is the rule on one subject, of which every finding states the same.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, TypeVar, get_args

from wiretrack.late import cached_property, dataclass
from wiretrack.manner import words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code
    from wiretrack.model.entity import Outcome
    from wiretrack.model.source import SiteDocument

    Case = tuple[str, tuple[Any, ...]]  # a subject, and what its rule is given

Rule = Literal[
    "raceway-fill", "raceway-jam", "bends", "strands", "colour", "insulation-type",
    "earthing-size", "ampacity", "voltage-drop", "marking", "landing", "length",
    "reading-time",
]  # fmt: skip
RULES: tuple[Rule, ...] = get_args(Rule)
_GRAVITY = {"pass": 0, "doubt": 1, "fail": 2}


@dataclass(frozen=True)
class Finding:
    """What one rule says of one subject; `figure` and `limit` are in `unit`."""

    rule: Rule
    subject: str
    outcome: Outcome
    figure: float | None
    limit: float | None
    unit: str
    source: str
    reason: str


@dataclass(frozen=True)
class Clause:
    """A rule on one subject: where it stands, and the unit of its figures."""

    rule: Rule
    subject: str
    source: str
    unit: str = ""

    def finds(
        self, outcome: Outcome, reason: str, figure: float | None = None,
        limit: float | None = None, source: str = "",
    ) -> Finding:  # fmt: skip
        """Return the finding; `source` where another place says it."""
        cited = source or self.source
        told = words(reason)
        return Finding(self.rule, self.subject, outcome, figure, limit, self.unit, cited, told)

    def lacks(self, *facts: str, limit: float | None = None) -> Finding:
        """Return the doubt of a rule that lacks facts, naming them."""
        return self.finds("doubt", f"unknown: {', '.join(dict.fromkeys(facts))}", limit=limit)


@dataclass(frozen=True)
class Built:
    """A site, or a part of one, as the rules see it."""

    document: SiteDocument
    code: Code
    runs: tuple[Run, ...]
    wires: tuple[Wire, ...]

    @cached_property
    def by_circuit(self) -> dict[str, list[Wire]]:
        """The conductors in use of each circuit."""
        found: defaultdict[str, list[Wire]] = defaultdict(list)
        for wire in self.wires:
            for code in dict.fromkeys(wire.conductor.circuits):
                found[code].append(wire)
        return dict(found)


class Registered(NamedTuple):
    """A rule, on what it is judged, and how."""

    rule: Rule
    cases: Callable[[Built], Iterable[Case]]
    judge: Callable[..., list[Finding]]


REGISTERED: list[Registered] = []


Judge = TypeVar("Judge", bound="Callable[..., list[Finding]]")


def rule(name: Rule, cases: Callable[[Built], Iterable[Case]]) -> Callable[[Judge], Judge]:
    """Register a rule: it is called with what each of its cases gives."""

    def register(judge: Judge) -> Judge:
        REGISTERED.append(Registered(name, cases, judge))
        return judge

    return register


def raceways(built: Built) -> Iterator[Case]:
    """Yield each raceway with the code."""
    return ((run.raceway.code, (run, built.code)) for run in built.runs)


def conductors(built: Built) -> Iterator[Case]:
    """Yield each conductor in use with the code."""
    return ((wire.name, (wire, built.code)) for wire in built.wires)


def circuits(built: Built) -> Iterator[Case]:
    """Yield each circuit in use with its conductors and the code, where that is known."""
    for circuit in built.document.circuits if built.code.rules else ():
        if circuit.retired_at is None:
            yield circuit.code, (circuit, built.by_circuit.get(circuit.code, []), built.code)


def worst(findings: Iterable[Finding]) -> list[Finding]:
    """Return one finding for each rule and subject, the gravest, in the order of first sight."""
    kept: dict[tuple[str, str], Finding] = {}
    for finding in findings:
        key = (finding.rule, finding.subject)
        if key not in kept or _gravity(finding) > _gravity(kept[key]):
            kept[key] = finding
    return list(kept.values())


def _gravity(finding: Finding) -> tuple[int, float]:
    ratio = finding.figure / finding.limit if finding.figure and finding.limit else 0.0
    return _GRAVITY[finding.outcome], ratio
