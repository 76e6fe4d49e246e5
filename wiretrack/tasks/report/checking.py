# SPDX-License-Identifier: MIT
"""The wiring rules over the records of a site, and the markings that its code demands."""

from __future__ import annotations

from collections import Counter
from contextlib import suppress
from typing import TYPE_CHECKING

from wiretrack import days
from wiretrack.electrical.checks import check_document, markings_of, part_of
from wiretrack.electrical.findings import Finding
from wiretrack.electrical.quantity_text import format_length, shown
from wiretrack.errors import NotFoundError, TagError
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor, Enclosure, Raceway, Reading
from wiretrack.model.entity import subject_text
from wiretrack.model.tags import format_tag, looks_like_tag, normalise
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.report.standing import NextStep

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry


def check(registry: Registry, what: str | None = None) -> list[Finding]:
    """Return what the rules of the site's code say: one finding for each rule and subject."""
    wanted, site = _code(registry, what), site_of(registry)
    return [
        *check_document(part_of(site, wanted), wanted),
        *_too_short(site, wanted),
        *_of_the_future(site, wanted),
    ]


_CONTRADICTING = ("length", "colour", "landing")


def contradictions(registry: Registry, what: str) -> list[str]:
    """Return what the record of a thing says against itself: possible, but likely a slip."""
    return [
        f"{finding.subject}: {finding.reason}."
        for finding in check(registry, what)
        if finding.rule in _CONTRADICTING
        and finding.outcome != "pass"
        and not finding.reason.startswith("unknown")
    ]


@dataclass(frozen=True)
class Checked:
    """A finding and the box where its subject is: that of its "from" end, where it has two."""

    finding: Finding
    place: str | None


def by_place(registry: Registry, found: Sequence[Finding]) -> list[Checked]:
    """Return findings with the boxes where one looks."""
    site, known = site_of(registry), dict[str, "str | None"]()
    for finding in found:
        if finding.subject not in known:
            known[finding.subject] = _box_of(site, finding.subject)
    return [Checked(finding, known[finding.subject]) for finding in found]


def _box_of(site: Site, subject: str) -> str | None:
    if site.at(Enclosure, "code", subject):
        return subject
    for raceway in site.at(Raceway, "code", subject):
        return raceway.from_enclosure
    found = site.at(Conductor, "circuit", subject)
    if not found and looks_like_tag(subject):
        found = site.at(Conductor, "tag", normalise(subject))
    box, _, _ = subject.partition("/")
    if not found and site.at(Enclosure, "code", box):
        return box
    return next((c.from_end.enclosure for c in found), None)


def failing(registry: Registry, found: Sequence[Finding]) -> NextStep:
    """Return what to do after a check: look at the first thing that fails, else what is open."""
    first = next((finding for finding in found if finding.outcome == "fail"), None)
    if first:
        with suppress(NotFoundError, TagError):
            resolve(registry, first.subject)
            return NextStep("show", (first.subject,))
    return NextStep("open")


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
                f"{reading.kind} {shown(reading.value, reading.unit)} is dated {reading.at}, in"
                f" the future, and proves nothing: supersede {reading.id} by one with the time"
                " when it was read"
            )
            subject = subject_text(reading.subject)
            rows.append(Finding("reading-time", subject, "fail", None, None, "", _CLOCK, reason))
    return rows


def _too_short(site: Site, wanted: str | None) -> list[Finding]:
    """Return a doubt for each conductor in use that is shorter than the raceways it lies in."""
    if wanted is None:
        found = site.every(Conductor)
    else:
        keys = (("circuit", wanted), ("pull", wanted), ("tag", _plain(wanted)))
        found = [c for by, key in keys for c in site.at(Conductor, by, key)]
        found += [c for raceway in site.at(Raceway, "code", wanted) for c in raceway.conductors]
    rows = []
    for conductor in found:
        length_m, route_m = conductor.length_m, conductor.route.length_m
        if conductor.retired_at is None and length_m and route_m and length_m < route_m:
            reason = f"it is {format_length(length_m)} long, the raceways of its route are "
            reason += format_length(route_m)
            rows.append(
                Finding(
                    "length", str(conductor.tag), "doubt", length_m, route_m, "m", _ROUTE, reason
                )
            )
    return rows


def _plain(wanted: str) -> str:
    return normalise(wanted) if looks_like_tag(wanted) else ""


_CLOCK = "the clock of this machine"
_ROUTE = "the record of its route"


def markings(registry: Registry, what: str | None = None) -> list[Marking]:
    """Return every marking to be stuck on raceways and boxes, in order along each run."""
    wanted = _code(registry, what)
    return markings_of(part_of(site_of(registry), wanted), wanted)


def counted(wordings: Iterable[str | None]) -> Counter[str]:
    """Return how many markings of each wording are to be ordered."""
    return Counter(wording or "wording unknown" for wording in wordings)


def _code(registry: Registry, what: str | None) -> str | None:
    if what is None:
        return None
    named = resolve(registry, what)
    return format_tag(named.code) if named.what == "conductor" else named.code
