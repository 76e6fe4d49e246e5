# SPDX-License-Identifier: MIT
"""The pages of a binder that are about one record each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.box_hazards import box_hazards
from wiretrack.model.path import path_of
from wiretrack.model.tags import format_tag, looks_like_tag
from wiretrack.render.binder.names import conductor_page
from wiretrack.render.binder.render import page
from wiretrack.tasks.binder import drawings
from wiretrack.tasks.binder.facts import circuit_facts, places_words, raceway_facts
from wiretrack.tasks.binder.work import cautions_of, ringout_of, searches_of
from wiretrack.tasks.change.retired import ABANDONED, ABANDONED_CAUTION, is_in_place
from wiretrack.tasks.find.conductors import line_of
from wiretrack.tasks.find.tracing import path_as_json

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
    from wiretrack.model.routes import Route
    from wiretrack.model.wiring import Link, Network, Wiring
    from wiretrack.render.binder.names import Addresses
    from wiretrack.tasks.binder.records import SiteRecords

Row = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Binding:
    """What every page needs: the records, where their pages are, and what the frame says.

    `links` are the network's conductors by their circuits.
    """

    records: SiteRecords
    addresses: Addresses
    frame: Row
    wiring: Wiring
    network: Network
    links: Mapping[str, list[Link]]

    def page_of(self, what: str, code: str | None) -> str | None:
        """Return the page of a record; `None` where there is none."""
        return None if code is None else self.addresses.page(what, code)

    def page_of_subject(self, subject: str) -> str | None:
        """Return the page of what a finding or a marking is about."""
        if looks_like_tag(subject) and "-" in subject:
            return conductor_page(subject)
        found = (self.page_of(what, subject) for what in ("raceway", "circuit", "enclosure"))
        return next(filter(None, found), None)

    def list_of(self, conductors: Iterable[Conductor]) -> list[Row]:
        """Return conductors as rows that lead to their pages."""
        return [{**line_of(c), "page": conductor_page(c.tag)} for c in conductors]

    def findings_of(self, subject: str) -> list[Row]:
        """Return what the wiring rules say of one subject."""
        found = self.records.findings_of.get(subject, ())
        return [{**row, "page": self.page_of_subject(row["subject"])} for row in found]

    def markings_on(self, code: str) -> list[Row]:
        """Return the markings of a raceway or a box."""
        found = self.records.markings_on.get(code, ())
        return [{**row, "page": self.page_of_subject(row["on"])} for row in found]

    def points_of(self, tag: str) -> list[Row]:
        """Return a conductor's rows of the punch list."""
        found = self.records.facts.open_points.get(format_tag(tag), ())
        return [{**row, "page": conductor_page(tag)} for row in found]

    def steps(self, route: Route) -> list[Row]:
        """Return the raceways of a route in walking order."""
        rows = list[Row]()
        for leg in route.legs:
            raceway = self.records.raceways[leg.raceway]
            rows.append(
                {
                    "raceway": leg.raceway, "page": self.page_of("raceway", leg.raceway),
                    "from": leg.from_box, "to": leg.to_box, "length_m": leg.length_m,
                    "type": raceway.type, "trade_size": raceway.trade_size,
                }
            )  # fmt: skip
        return rows


def conductor(book: Binding, found: Conductor, trends: list[Row]) -> str:
    """Return a conductor's page; `trends` are its plots."""
    records, tag = book.records, found.tag
    circuits = [records.circuits[code] for code in found.circuits]
    record = records.record(found)
    return page(
        "conductor.html",
        conductor_page(tag),
        site=book.frame,
        record=record,
        circuits=[
            {"code": c.code, "page": book.page_of("circuit", c.code), "title": c.title}
            for c in circuits
        ],
        code=drawings.conductor_code(tag, records.document.site.base_address),
        ends=_ends(book, record),
        points=book.points_of(tag),
        trends=trends,
        path=_path(book, found),
        steps=book.steps(found.route),
        route_svg=drawings.route_drawing(found.route, f"Route of {format_tag(tag)}"),
        more=_more(book, found),
        findings=book.findings_of(format_tag(tag)),
        prints=[{**row, "said": _said(row)} for row in records.prints_of.get(tag, ())],
        history=records.histories.of("conductor", tag),
    )


def _ends(book: Binding, record: Row) -> list[Row]:
    rows = []
    for end in record["ends"]:
        box = book.records.enclosures[end["enclosure"]]
        page_of_box = book.page_of("enclosure", box.code)
        rows.append({**end, "name": box.name, "where": box.where, "page": page_of_box})
    return rows


def _path(book: Binding, conductor: Conductor) -> Row | None:
    if conductor.retired_at is not None:
        return None
    found = path_as_json(path_of(book.wiring, book.wiring.link(conductor)))
    for item in found["path"]:
        if "conductor" in item:
            item["page"] = conductor_page(item["conductor"])
        else:
            item["page"] = book.page_of("enclosure", item["enclosure"])
    path = [{"conductor": None, "device": None, **item} for item in found["path"]]
    return {**found, "path": path}


def _more(book: Binding, found: Conductor) -> Row:
    after = book.records.followers.get(found.tag, ())
    return {
        "id": found.id,
        "outer_diameter_mm": found.outer_diameter_mm,
        "pull_page": book.page_of("pull", found.pull),
        "follows": _named(found.follows) if found.follows else None,
        "followers": [_named(tag) for tag in after],
    }


def _named(tag: str) -> Row:
    return {"tag": format_tag(tag), "page": conductor_page(tag)}


def _said(row: Row) -> str:
    legend = row.get("legend")
    if not isinstance(legend, dict):
        return "not noted"
    return ", ".join(str(value) for value in legend.values() if value)


def circuit(book: Binding, found: Circuit, report: str | None) -> str:
    """Return a circuit's page."""
    records = book.records
    members = sorted(records.facts.members.get(found.code, ()), key=lambda c: bool(c.retired_at))
    active = [c for c in members if not c.retired_at]
    trees, left_out = drawings.circuit_trees(
        book.network, book.links.get(found.code, ()), found.code
    )
    findings = [*book.findings_of(found.code)]
    for member in members:
        rows = book.findings_of(str(member.tag))
        findings += [row for row in rows if row["outcome"] != "pass"]
    return page(
        "circuit.html",
        str(book.page_of("circuit", found.code)),
        site=book.frame,
        circuit=found,
        facts=circuit_facts(found),
        cautions=cautions_of(records, found, members),
        conductors=book.list_of(members),
        trees=trees,
        not_drawn=_not_drawn(left_out),
        points=[row for c in active for row in book.points_of(c.tag)],
        searches=searches_of(records, found.code),
        findings=findings,
        report=report,
        history=records.histories.of("circuit", found.code),
    )


def _not_drawn(left_out: int) -> str:
    if not left_out:
        return ""
    return (
        f"{left_out} more that hang together aren't drawn: a page has {drawings.MOST_TREES} "
        f"drawings of {drawings.MOST_LINKS} pieces at most. Each conductor's page has its path."
    )


def enclosure(book: Binding, found: Enclosure) -> str:
    """Return an enclosure's page: every terminal, and the way to stand in front of it."""
    records, code = book.records, found.code
    there = records.ends_in.get(code, ())
    ends = [row for row in there if not row[0].retired_at]
    abandoned = [c for c, *_ in there if c.retired_because == ABANDONED]
    inside = (*(c for c, *_ in ends), *abandoned)
    used = dict.fromkeys(code for c in inside for code in c.circuits)
    return page(
        "enclosure.html",
        str(book.page_of("enclosure", code)),
        site=book.frame,
        box=found,
        places=places_words(found.wet, found.sunlight, found.indoors),
        code=drawings.box_code(code, records.document.site.base_address),
        hazards=box_hazards([records.circuits[k] for k in used]) if used else (),
        way=_way(book, code),
        terminals=_terminals(book, code, ends),
        abandoned=book.list_of(dict.fromkeys(abandoned)),
        caution=ABANDONED_CAUTION,
        devices=records.devices_in.get(code, ()),
        raceways=[
            {"code": r.code, "page": book.page_of("raceway", r.code),
             "from_enclosure": r.from_enclosure, "to_enclosure": r.to_enclosure}
            for r in records.raceways_at.get(code, ())
        ],
        markings=book.markings_on(code),
        findings=book.findings_of(code),
        history=records.histories.of("enclosure", code),
    )  # fmt: skip


def _way(book: Binding, code: str) -> list[Row]:
    return [
        {
            **step,
            "page": book.page_of("enclosure", step["enclosure"]),
            "raceway_page": book.page_of("raceway", step["raceway"]),
            "name": book.records.enclosures[step["enclosure"]].name,
        }
        for step in book.records.ways.get(code, ())
    ]


def _terminals(book: Binding, code: str, ends: Sequence[Any]) -> list[Row]:
    """Return every terminal with the ends on it, the ends on none in a last row."""
    on: dict[str | None, list[Row]] = {t.code: [] for t in book.records.terminals_in.get(code, ())}
    for conductor, here, there in ends:
        on.setdefault(here.terminal, []).append(
            {
                "tag": str(conductor.tag),
                "page": conductor_page(conductor.tag),
                "circuit": conductor.circuit,
                "function": conductor.function,
                "state": here.state,
                "mark": here.mark,
                "to": there.place,
            }
        )
    loose = on.pop(None, None)
    rows = [{"terminal": terminal, "ends": found} for terminal, found in on.items()]
    return rows + ([{"terminal": None, "ends": loose}] if loose else [])


def raceway(book: Binding, found: Raceway) -> str:
    """Return a raceway's page."""
    records = book.records
    pulls = records.pulls_in.get(found.code, ())
    return page(
        "raceway.html",
        str(book.page_of("raceway", found.code)),
        site=book.frame,
        raceway=found,
        from_page=book.page_of("enclosure", found.from_enclosure),
        to_page=book.page_of("enclosure", found.to_enclosure),
        facts=raceway_facts(found),
        conductors=book.list_of(filter(is_in_place, records.in_raceway.get(found.code, ()))),
        pulls=[{"code": code, "page": book.page_of("pull", code)} for code in pulls],
        findings=book.findings_of(found.code),
        markings=book.markings_on(found.code),
        history=records.histories.of("raceway", found.code),
    )


def pull(book: Binding, found: Pull) -> str:
    """Return a pull's page with the record of its ring-out."""
    records = book.records
    ringout, words = ringout_of(records, found.code)
    return page(
        "pull.html",
        str(book.page_of("pull", found.code)),
        site=book.frame,
        pull=found,
        steps=book.steps(found.route),
        route_svg=drawings.route_drawing(found.route, f"Path of {found.code}"),
        conductors=book.list_of(records.in_pull.get(found.code, ())),
        ringout=ringout,
        ringouts=words,
        history=records.histories.of("pull", found.code),
    )
