# SPDX-License-Identifier: MIT
"""The pages of a binder that are about one record each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.cautions import box_hazards
from wiretrack.model.entities import readings_of
from wiretrack.model.path import path_of
from wiretrack.render.binder.names import conductor_page, root_of
from wiretrack.render.binder.render import page
from wiretrack.tasks.binder import drawings
from wiretrack.tasks.binder.work import cautions_of, ringout_of, searches_of
from wiretrack.tasks.change.retired import ABANDONED_CAUTION, is_in_place
from wiretrack.tasks.find.records import ConductorRecord, EnclosureRecord

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
    from wiretrack.model.wiring import Link, Network, Wiring
    from wiretrack.readings.trending import Series
    from wiretrack.render.binder.names import Addresses
    from wiretrack.tasks.binder.records import SiteRecords

Row = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What stands around every page: the site's title, the date, the ways to the lists."""

    title: str
    on: str
    tabs: Sequence[tuple[str, str]]
    sections: Sequence[tuple[str, str]]
    search_parts: int


@dataclass(frozen=True, kw_only=True)
class Book:
    """What every page needs: the records, where their pages are, and what the frame says.

    `links` are the network's conductors by their circuits.
    """

    records: SiteRecords
    addresses: Addresses
    frame: Frame
    wiring: Wiring
    network: Network
    links: Mapping[str, list[Link]]

    def page_of(self, what: str, code: str) -> str:
        """Return the page of a record that the binder has."""
        return str(self.addresses.page(what, code))

    def page(self, template: str, path: str, /, **context: Any) -> str:
        """Return the page that lies at `path`, from the binder's folder."""
        return page(template, path, self.addresses, site=self.frame, **context)


def conductor(book: Book, found: Conductor, trends: list[tuple[Series, str]]) -> str:
    """Return a conductor's page; `trends` are its plots."""
    records, tag = book.records, found.tag
    titles = (records.circuits[code].title for code in found.circuits)
    boxes = (records.enclosures[end.enclosure] for end in found.ends)
    path = path_of(book.wiring, book.wiring.link(found)) if not found.retired_at else None
    return book.page(
        "conductor.html",
        conductor_page(tag),
        record=ConductorRecord(found),
        points=records.facts.open_points.get(str(tag), ()),
        trends=trends,
        path=path,
        more={
            "titles": " / ".join(filter(None, titles)),
            "code": drawings.conductor_code(tag, records.document.site.base_address),
            "places": {box.code: ", ".join(filter(None, (box.name, box.where))) for box in boxes},
            "legs": found.route.legs,
            "route": drawings.route_drawing(found.route, f"Route of {tag}"),
            "findings": records.findings_of.get(str(tag), ()),
            "prints": records.prints_of.get(tag, ()),
            "history": records.histories.of("conductor", tag),
        },
    )


def circuit(book: Book, found: Circuit) -> str:
    """Return a circuit's page."""
    records, path = book.records, book.page_of("circuit", found.code)
    members = sorted(found.conductors, key=lambda c: bool(c.retired_at))
    trees, left_out = drawings.circuit_trees(
        book.network, book.links.get(found.code, ()), found.code
    )
    findings = [*records.findings_of.get(found.code, ())]
    for member in members:
        rows = records.findings_of.get(str(member.tag), ())
        findings += [row for row in rows if row.outcome != "pass"]
    active = [c for c in members if not c.retired_at]
    return book.page(
        "circuit.html",
        path,
        record=found,
        readings=readings_of([found]),
        conductors=members,
        retired=(),
        more={
            "report": root_of(path) + book.page_of("report", found.code),
            "cautions": cautions_of(records, found, members),
            "trees": trees,
            "not_drawn": _not_drawn(left_out),
            "points": [
                row for c in active for row in records.facts.open_points.get(str(c.tag), ())
            ],
            "searches": searches_of(records, found.code),
            "findings": findings,
            "history": records.histories.of("circuit", found.code),
        },
    )


def _not_drawn(left_out: int) -> str:
    if not left_out:
        return ""
    return (
        f"{left_out} more that hang together aren't drawn: a page has {drawings.MOST_TREES} "
        f"drawings of {drawings.MOST_LINKS} pieces at most. Each conductor's page has its path."
    )


def enclosure(book: Book, found: Enclosure) -> str:
    """Return an enclosure's page: every terminal, and the way to stand in front of it."""
    records, code = book.records, found.code
    record, way = EnclosureRecord(found), records.ways.get(code, ())
    inside = (*(end.conductor for end in found.ends), *record.abandoned)
    used = dict.fromkeys(code for c in inside for code in c.circuits)
    return book.page(
        "enclosure.html",
        book.page_of("enclosure", code),
        record=record,
        way=way,
        caution=ABANDONED_CAUTION,
        more={
            "code": drawings.box_code(code, records.document.site.base_address),
            "names": {step.enclosure: records.enclosures[step.enclosure].name for step in way},
            "hazards": box_hazards([records.circuits[k] for k in used]) if used else (),
            "markings": records.markings_on.get(code, ()),
            "findings": records.findings_of.get(code, ()),
            "history": records.histories.of("enclosure", code),
        },
    )


def raceway(book: Book, found: Raceway) -> str:
    """Return a raceway's page."""
    records = book.records
    inside = filter(is_in_place, records.in_raceway.get(found.code, ()))
    return book.page(
        "raceway.html",
        book.page_of("raceway", found.code),
        record=found,
        conductors=[*inside],
        retired=(),
        more={
            "pulls": [pull.code for pull in found.pulls],
            "findings": records.findings_of.get(found.code, ()),
            "markings": records.markings_on.get(found.code, ()),
            "history": records.histories.of("raceway", found.code),
        },
    )


def pull(book: Book, found: Pull) -> str:
    """Return a pull's page with the record of its ring-out."""
    records = book.records
    ringout, words = ringout_of(records, found.code)
    return book.page(
        "pull.html",
        book.page_of("pull", found.code),
        record=found,
        conductors=found.conductors,
        retired=(),
        more={
            "legs": found.route.legs,
            "route": drawings.route_drawing(found.route, f"Path of {found.code}"),
            "ringout": ringout,
            "ringouts": words,
            "history": records.histories.of("pull", found.code),
        },
    )
