# SPDX-License-Identifier: MIT
"""Findings: what a wiring rule says of one subject, with figure, limit, source and reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.knowledge import Outcome

Rule = Literal[
    "raceway-fill", "raceway-jam", "bends", "strands", "colour", "insulation-type",
    "earthing-size", "ampacity", "voltage-drop", "marking", "landing", "reading-time",
]  # fmt: skip
RULES: tuple[Rule, ...] = (
    "raceway-fill", "raceway-jam", "bends", "strands", "colour", "insulation-type",
    "earthing-size", "ampacity", "voltage-drop", "marking", "landing", "reading-time",
)  # fmt: skip
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

    def as_json(self) -> dict[str, object]:
        """Return the finding as a document."""
        return {
            "rule": self.rule,
            "subject": self.subject,
            "outcome": self.outcome,
            "figure": self.figure,
            "limit": self.limit,
            "unit": self.unit,
            "source": self.source,
            "reason": self.reason,
        }


def missing(
    rule: Rule, subject: str, what: Iterable[str], source: str, unit: str = "",
    limit: float | None = None,
) -> Finding:  # fmt: skip
    """Return the doubt of a rule that lacks facts, naming them."""
    facts = ", ".join(dict.fromkeys(what))
    return Finding(rule, subject, "doubt", None, limit, unit, source, f"unknown: {facts}")


def worst(findings: Iterable[Finding]) -> list[Finding]:
    """Return one finding for each rule and subject, the gravest, in the order of first sight."""
    kept: dict[tuple[str, str], Finding] = {}
    for finding in findings:
        key = (finding.rule, finding.subject)
        known = kept.get(key)
        if known is None or _gravity(finding) > _gravity(known):
            kept[key] = finding
    return list(kept.values())


def _gravity(finding: Finding) -> tuple[int, float]:
    ratio = finding.figure / finding.limit if finding.figure and finding.limit else 0.0
    return _GRAVITY[finding.outcome], ratio
