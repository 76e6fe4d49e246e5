# SPDX-License-Identifier: MIT
"""The pages of a binder that are about one record each, its work and its cautions among it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.days import moment
from wiretrack.electrical.cautions import box_hazards, once
from wiretrack.errors import WiretrackError
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.model.entities import readings_of
from wiretrack.model.path import path_of
from wiretrack.model.tags import make_box_payload, make_payload
from wiretrack.procedure import answers_of
from wiretrack.readings import KINDS
from wiretrack.render.binder.render import page, pager, part_of
from wiretrack.render.report.ringout_blocks import effort_of
from wiretrack.render.trend import plots
from wiretrack.tasks.binder import drawings
from wiretrack.tasks.change.retired import ABANDONED_CAUTION, is_in_place
from wiretrack.tasks.find.records import ConductorRecord, EnclosureRecord
from wiretrack.tasks.find.site_map import way_to
from wiretrack.tasks.identify.record import ringout_record

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from wiretrack.electrical.findings import Finding
    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
    from wiretrack.model.path import Path
    from wiretrack.model.wiring import Link, Network, Wiring
    from wiretrack.procedure import Answered
    from wiretrack.readings.trending import Series
    from wiretrack.render.binder.render import Addresses
    from wiretrack.render.report.html import PagePart
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.tasks.binder.records import Row, SiteRecords
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.report.punchlist import OpenPoint

RECORDS_A_PAGE = 50  # conductors; a browser opens more slowly
_NOT_DRAWN = (
    f"{{}} more that hang together aren't drawn: a page has {drawings.MOST_TREES} "
    f"drawings of {drawings.MOST_LINKS} pieces at most. Each conductor's record has its path."
)


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


@dataclass(frozen=True, kw_only=True)
class Section:
    """What a page says of one conductor."""

    record: ConductorRecord
    points: Sequence[OpenPoint]
    trends: Sequence[tuple[Series, str]]
    path: Path | None
    titles: str
    code: drawings.Code
    places: Mapping[str, str]
    findings: Sequence[Finding]
    prints: Sequence[Row]
    history: Sequence[Touched]


def _sections(book: Book, members: Iterable[Conductor]) -> Iterator[Section]:
    records = book.records
    for c in members:
        titles = (records.circuits[code].title for code in c.circuits)
        boxes = (records.enclosures[end.enclosure] for end in c.ends)
        yield Section(
            record=ConductorRecord(c),
            points=records.facts.open_points.get(str(c.tag), ()),
            trends=plots(records.facts.trend(c)),
            path=None if c.retired_at else path_of(book.wiring, book.wiring.link(c)),
            titles=" / ".join(filter(None, titles)),
            code=drawings.code_drawn(make_payload, c.tag, records.document.site.base_address),
            places={box.code: ", ".join(filter(None, (box.name, box.where))) for box in boxes},
            findings=records.facts.judged.findings_of.get(str(c.tag), ()),
            prints=records.prints_of.get(c.tag, ()),
            history=records.histories.get(c.id or "", ()),
        )


def circuit(book: Book, found: Circuit, report: PagePart) -> Iterator[tuple[str, str]]:
    """Yield a circuit's page with its report, and those that its conductors' records go on on."""
    records, code = book.records, found.code
    members = sorted(found.conductors, key=lambda c: bool(c.retired_at))
    trees, left_out = drawings.circuit_trees(book.network, book.links.get(code, ()), code)
    findings = [*records.facts.judged.findings_of.get(code, ())]
    for member in members:
        rows = records.facts.judged.findings_of.get(str(member.tag), ())
        findings += [row for row in rows if row.outcome != "pass"]
    more = {
        "cautions": cautions_of(records, found, members),
        "trees": trees,
        "not_drawn": _NOT_DRAWN.format(left_out) if left_out else "",
        "points": [
            row
            for c in members if not c.retired_at
            for row in records.facts.open_points.get(str(c.tag), ())
        ],
        "searches": searches_of(records, code),
        "findings": findings,
        "history": records.histories.get(found.id or "", ()),
    }  # fmt: skip
    yield from _parted(
        book, "circuit", code, "circuit.html", record=found, title=found.title,
        readings=readings_of([found]), conductors=members, retired=(), more=more, report=report,
    )  # fmt: skip


def spares(book: Book, box: str) -> Iterator[tuple[str, str]]:
    """Yield the pages of the conductors of no circuit that begin in a box."""
    title = "Conductors of no circuit that begin in this box."
    yield from _parted(book, "spare", box, "conductors.html", title=title, more={})


def _parted(
    book: Book, what: str, code: str, template: str, report: PagePart | None = None, **context: Any
) -> Iterator[tuple[str, str]]:
    """Yield the pages that the records of a circuit, or of a box's spares, are parted into."""
    own, first = book.records.own.get((what, code), []), book.page_of(what, code)
    parts = [own[n : n + RECORDS_A_PAGE] for n in range(0, len(own), RECORDS_A_PAGE)] or [[]]
    every = [
        (part_of(first, n), f"{part[0].tag} to {part[-1].tag}" if part else "")
        for n, part in enumerate(parts, 1)
    ]
    for at, (path, _) in enumerate(every):
        context |= {"what": what, "code": code, "own": parts[at], "pager": pager(every, at)}
        context |= {"sections": _sections(book, parts[at]), "report": None if at else report}
        yield path, book.page("conductors.html" if at else template, path, **context)


def enclosure(book: Book, found: Enclosure) -> str:
    """Return an enclosure's page: every terminal, and the way to stand in front of it."""
    records, code = book.records, found.code
    record, way = EnclosureRecord(found), way_to(found.site, code)
    inside = (*(end.conductor for end in found.ends), *record.abandoned)
    used = dict.fromkeys(code for c in inside for code in c.circuits)
    return book.page(
        "enclosure.html",
        book.page_of("enclosure", code),
        record=record,
        way=way,
        caution=ABANDONED_CAUTION,
        more={
            "code": drawings.code_drawn(make_box_payload, code, records.document.site.base_address),
            "names": {step.enclosure: records.enclosures[step.enclosure].name for step in way},
            "hazards": box_hazards([records.circuits[k] for k in used]) if used else (),
            "markings": records.facts.judged.markings_on.get(code, ()),
            "findings": records.facts.judged.findings_of.get(code, ()),
            "history": records.histories.get(found.id or "", ()),
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
            "findings": records.facts.judged.findings_of.get(found.code, ()),
            "markings": records.facts.judged.markings_on.get(found.code, ()),
            "history": records.histories.get(found.id or "", ()),
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
            "ringout": ringout,
            "ringouts": words,
            "history": records.histories.get(found.id or "", ()),
        },
    )


NOT_STATED = "not stated"


@dataclass(frozen=True)
class ShownRingout:
    """A ring-out as a page shows it: its facts and what came of it in words, and its record."""

    facts: list[tuple[str, str]]
    lists: list[tuple[str, Sequence[str]]]
    record: RingoutRecord


@dataclass(frozen=True)
class ShownSearch:
    """A guided search for a fault: when it began, what came of it, and its answers in words."""

    at: str
    symptom: str
    state: str
    steps: list[str]


def ringout_of(records: SiteRecords, pull: str) -> tuple[ShownRingout | None, str]:
    """Return the record of a pull's latest ring-out, and what else is to be said of ring-outs."""
    stored = records.ringouts_of.get(pull, ())
    if not stored:
        return None, ""
    earlier = f"{len(stored) - 1} earlier: in site.json" if len(stored) > 1 else ""
    try:
        found = ringout_record(records.registry, pull)
    except WiretrackError as error:
        return None, f"Its {len(stored)} stored ring-outs are in site.json. {error}"
    facts = [
        ("Between", f"{found.near} and {found.far}"),
        ("State", "finished" if found.finished else "not finished"),
        ("Begun", moment(found.begun)),
        ("Last step", moment(found.ended) if found.ended else NOT_STATED),
        ("Instrument", found.instrument or NOT_STATED),
        ("References", ", ".join(found.references) or "none"),
        ("Effort", effort_of(found)),
        ("Others", earlier),
    ]
    lists: list[tuple[str, Sequence[str]]] = [
        ("Not identified", found.unresolved),
        ("Faults", [f"{words(fault.kind)}: {fault.evidence}" for fault in found.faults]),
        ("Readings to look at again", [query.reason for query in found.questions]),
        ("Notes", found.notes),
    ]
    return ShownRingout(facts, lists, found), ""


def searches_of(records: SiteRecords, circuit: str) -> list[ShownSearch]:
    """Return the guided searches for a fault of a circuit, each with its answers in words."""
    stored: Sequence[Mapping[str, Any]] = records.searches_of.get(circuit, ())
    return [
        ShownSearch(
            at=search["at"],
            symptom=search["symptom"],
            state=_outcome(search.get("result")),
            steps=[_answered(given) for given in answers_of(search["answers"])],
        )
        for search in stored
    ]


def _answered(given: Answered) -> str:
    answer = given.answer
    details = (answer.get("value"), answer.get("note"), given.by and f"by {given.by}")
    words = ", ".join(str(detail) for detail in details if detail)
    said = answer.get("outcome", "").replace("cant", "can't")
    return f"{given.step.get('ask', '')} {said}{', ' if words else ''}{words}".strip()


def _outcome(result: dict[str, Any] | None) -> str:
    if not result:
        return "not finished"
    left = ", ".join(str(one.get("name")) for one in result.get("undecided") or ())
    told = f"found: {(result.get('found') or {}).get('name') or 'nothing'}"
    told += f"; not decided: {left}" if left else ""
    return told + (f"; {result['contradiction']}" if result.get("contradiction") else "")


def cautions_of(records: SiteRecords, circuit: Circuit, members: Iterable[Conductor]) -> list[str]:
    """Return what to read before any work on a circuit, the last word last."""
    there = [c for c in members if is_in_place(c)]
    boxes = {end.enclosure for c in there for end in (c.from_end, c.to_end)}
    kinds = tuple(sorted({records.enclosures[box].kind or "" for box in boxes}))
    lines = [ABANDONED_CAUTION] if any(c.retired_at for c in there) else []
    lines += [
        line for kind in KINDS if kind.is_guarded for line in kind.cautions(circuit.system, kinds)
    ]
    return [*once(lines)]
