# SPDX-License-Identifier: MIT
"""The verification report as blocks: which sections it has, and in what order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.reports import annex, front, gear, tested
from wiretrack.reports.blocks import Heading, Printed
from wiretrack.reports.words import moment

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from wiretrack.reports.blocks import Block

# Each section's heading (the table of required items names them) and what fills it; a section
# with nothing to say says so itself, for a missing section would look forgotten.
SECTIONS: tuple[tuple[str, Callable[[dict[str, Any]], Sequence[Block]]], ...] = (
    ("Summary", front.summary),
    ("Deviations", front.deviations),
    ("Inspection by eye", front.inspection),
    ("Conclusion and signatures", front.conclusion),
    ("Instruments", gear.instruments),
    ("Raceways and enclosures", gear.places),
    ("Circuits", tested.circuits),
    ("Findings of the wiring rules", annex.findings),
    ("Markings demanded", annex.markings),
    ("Ring-outs", annex.ringouts),
    ("What the standards ask, and where it stands", annex.required),
    ("Origin of this report", annex.origin),
)


def section_number(name: str) -> int:
    """Return the number of the section called `name`."""
    return [heading for heading, _ in SECTIONS].index(name) + 1


def verification_report(found: dict[str, Any]) -> Printed:
    """Return the report that a document of `tasks.report` describes, ready to be drawn."""
    name = _name(found)
    foot = (
        f"{name}, {moment(found['made_at'])}, "
        f"record SHA-256 {found['registry']['record_sha256'][:16]}…"
    )
    return Printed(
        title=f"Verification report: {name}",
        foot=foot,
        blocks=tuple(_blocks(found)),
        made_at=found["made_at"],
    )


def _name(found: dict[str, Any]) -> str:
    about, site = found["about"], found["site"]
    where = site["name"] or site["code"] or "site without a name"
    if about["kind"] == "site":
        return str(where)
    title = f", {about['title']}" if about["title"] else ""
    return f"circuit {about['code']}{title}, {where}"


def _blocks(found: dict[str, Any]) -> Iterable[Block]:
    yield from front.opening(found)
    for number, (name, fill) in enumerate(SECTIONS, 1):
        yield Heading(f"{number} {name}", new_page=name in _NEW_PAGE)
        yield from fill(found)


_NEW_PAGE = ("Inspection by eye", "Circuits")
