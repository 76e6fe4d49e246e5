# SPDX-License-Identifier: MIT
"""The verification report as blocks: its sections one after the other.

A section with nothing to say says so itself, for a missing one would look forgotten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import moment
from wiretrack.render.report import annex, asked, front, tested
from wiretrack.render.report.blocks import Heading, Printed
from wiretrack.render.report.words import UNKNOWN

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from wiretrack.render.report.blocks import Block
    from wiretrack.render.report.content import Content

_FILLED: dict[str, Callable[[Content], Sequence[Block]]] = {
    asked.SUMMARY: front.summary,
    asked.DEVIATIONS: front.deviations,
    asked.INSPECTION: front.inspection,
    asked.CONCLUSION: front.conclusion,
    asked.INSTRUMENTS: annex.instruments,
    asked.PLACES: annex.places,
    asked.CIRCUITS: tested.circuits,
    asked.FINDINGS: annex.findings,
    asked.MARKINGS: annex.markings,
    asked.RINGOUTS: annex.ringouts,
    asked.REQUIRED: annex.required,
    asked.ORIGIN: annex.origin,
}
_NEW_PAGE = (asked.INSPECTION, asked.CONCLUSION, asked.CIRCUITS)


def verification_report(found: Content) -> Printed:
    """Return a report as blocks, ready to be drawn."""
    name = _name(found)
    digest, last = found.registry.record_sha256, found.registry.last_change.id
    record = f"record SHA-256 {digest[:16]}…" if digest else f"change {last or UNKNOWN}"
    foot = f"{name}, {moment(found.made_at)}, {record}"
    return Printed(
        title=f"Verification report: {name}",
        foot=foot,
        blocks=tuple(_blocks(found)),
        made_at=found.made_at,
    )


def _name(found: Content) -> str:
    about, site = found.about, found.site
    where = site.name or site.code or "site without a name"
    if about.kind == "site":
        return where
    title = f", {about.title}" if about.title else ""
    return f"circuit {about.code}{title}, {where}"


def _blocks(found: Content) -> Iterable[Block]:
    yield from front.opening(found)
    for name in asked.SECTIONS:
        yield Heading(asked.numbered(name), new_page=name in _NEW_PAGE)
        yield from _FILLED[name](found)
