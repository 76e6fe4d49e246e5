# SPDX-License-Identifier: MIT
"""The sections of a verification report, in their order; the table of required items names them."""

from __future__ import annotations

SUMMARY = "Summary"
DEVIATIONS = "Deviations"
INSPECTION = "Inspection by eye"
CONCLUSION = "Conclusion and signatures"
INSTRUMENTS = "Instruments"
PLACES = "Raceways and enclosures"
CIRCUITS = "Circuits"
FINDINGS = "Findings of the wiring rules"
MARKINGS = "Markings demanded"
RINGOUTS = "Ring-outs"
REQUIRED = "What the standards ask, and where it stands"
ORIGIN = "Origin of this report"
SECTIONS = (
    SUMMARY,
    DEVIATIONS,
    INSPECTION,
    CONCLUSION,
    INSTRUMENTS,
    PLACES,
    CIRCUITS,
    FINDINGS,
    MARKINGS,
    RINGOUTS,
    REQUIRED,
    ORIGIN,
)


def numbered(name: str) -> str:
    """Return a section's name with its number before it.

    >>> numbered("Circuits")
    '7 Circuits'
    """
    return f"{number_of(name)} {name}"


def number_of(name: str) -> int:
    """Return the number of the section called `name`."""
    return SECTIONS.index(name) + 1
