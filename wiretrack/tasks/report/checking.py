# SPDX-License-Identifier: MIT
"""The wiring rules over the records of a site, and the markings that its code demands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.checks import check_document, markings_of
from wiretrack.electrical.findings import Finding
from wiretrack.electrical.part import part_of
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.entity import subject_text
from wiretrack.model.tags import format_tag, looks_like_tag, normalise
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry


def check(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return what the rules of the site's code say: a row for each rule and subject.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called `what`.
    """
    return [finding.as_json() for finding in findings(registry, what)]


def findings(registry: Registry, what: str | None = None) -> list[Finding]:
    """Return what the rules of the site's code say: one finding for each rule and subject."""
    wanted, site = _code(registry, what), site_of(registry)
    return [*check_document(part_of(site, wanted), wanted), *_of_the_future(site, wanted)]


def _of_the_future(site: Site, wanted: str | None) -> list[Finding]:
    """Return a row for each reading that is dated ahead of this machine's clock."""
    if wanted is None:
        found = site.every(Reading)
    else:
        about = [*site.at(Conductor, "circuit", wanted), *site.at(Conductor, "tag", _plain(wanted))]
        found = site.find(Reading, "subject", [c.tag for c in about])
        found += site.at(Reading, "circuit", wanted)
    rows = []
    for reading in found:
        if days.in_future(reading.at) and not site.at(Reading, "supersedes", reading.id or ""):
            reason = (
                f"{reading.kind} {reading.value} is dated {reading.at}, in the future, and proves "
                f"nothing: supersede {reading.id} by one with the time when it was read"
            )
            subject = subject_text(reading.subject)
            rows.append(Finding("reading-time", subject, "fail", None, None, "", _CLOCK, reason))
    return rows


def _plain(wanted: str) -> str:
    return normalise(wanted) if looks_like_tag(wanted) else ""


_CLOCK = "the clock of this machine"


def markings(registry: Registry, what: str | None = None) -> list[dict[str, Any]]:
    """Return every marking to be stuck on raceways and boxes, in order along each run."""
    return [marking.as_json() for marking in markings_wanted(registry, what)]


def markings_wanted(registry: Registry, what: str | None = None) -> list[Marking]:
    """Return every marking to be stuck on, in order along each run."""
    wanted = _code(registry, what)
    return markings_of(part_of(site_of(registry), wanted), wanted)


def counted(rows: list[dict[str, Any]]) -> dict[str, int]:
    """Return how many markings of each wording are to be ordered."""
    counts: dict[str, int] = {}
    for row in rows:
        wording = row["wording"] or "wording unknown"
        counts[wording] = counts.get(wording, 0) + 1
    return counts


def _code(registry: Registry, what: str | None) -> str | None:
    if what is None:
        return None
    named = resolve(registry, what)
    return format_tag(named.code) if named.what == "conductor" else named.code
