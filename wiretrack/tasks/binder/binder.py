# SPDX-License-Identifier: MIT
"""The site binder: the whole registry as a folder of pages that open without any program."""

from __future__ import annotations

import gc
from collections import defaultdict
from itertools import chain
from typing import TYPE_CHECKING

from markupsafe import Markup

from wiretrack import manner
from wiretrack.exchange.write import write_csv, write_site
from wiretrack.late import dataclass
from wiretrack.manual import PICTURES, html, topics
from wiretrack.model.wiring import Wiring
from wiretrack.processes import Shared, forks_of_use, tidied_up
from wiretrack.progress import steps
from wiretrack.render.anchor import Anchor
from wiretrack.render.binder.render import (
    Addresses,
    file_of,
    part_of,
    plain_text,
    static_files,
)
from wiretrack.store.loading import much_is_made
from wiretrack.store.notes import content, files
from wiretrack.store.proof import head
from wiretrack.tasks.binder import pages
from wiretrack.tasks.binder.folder import MARK, Draft, new_binder
from wiretrack.tasks.binder.lists import all_lists, counts, report_list
from wiretrack.tasks.binder.records import SiteRecords, search_parts, search_scripts
from wiretrack.tasks.find.site_map import site_map
from wiretrack.tasks.report.report import Reporter

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date
    from pathlib import Path

    from wiretrack.model.entities import Circuit
    from wiretrack.model.source import SiteDocument
    from wiretrack.model.wiring import Link
    from wiretrack.store.store import Registry
    from wiretrack.tasks.report.report_facts import Follows, ReportFacts

    File = tuple[str, str | bytes]  # its path from the binder's folder, and its content

SITE_REPORT = "site-report.html"
_BACK = {"Site binder": "index.html", "Verification reports": "reports.html"}
MOST_IN_A_REPORT = 1500  # conductors
MANY_CIRCUITS = 50  # from here on a second process pays for its start
_PAGES_KEPT = 50  # in memory, until they are looked through and let go
CAUTIONS = (
    "A record is not a test. Isolate, lock off, and prove dead with a proven tester before you "
    "open, probe or apply test voltage.",
    "PV conductors are live in daylight. A battery can't be switched off.",
    "An insulation tester charges what it tests and kills electronics left connected.",
    "Mind roofs and ladders; nobody works there alone.",
    "The local code and a licensed electrician decide. This record may be out of date: look at "
    "the date above, and at what was changed since.",
)
_TABS = (
    ("Tags", "tags.html"),
    ("Circuits", "circuits.html"),
    ("Enclosures", "enclosures.html"),
    ("Open", "punchlist.html"),
)
_SECTIONS = (
    ("Start", "index.html"),
    *_TABS,
    ("Raceways", "raceways.html"),
    ("Pulls", "pulls.html"),
    ("Wiring rules", "checks.html"),
    ("Markings", "markings.html"),
    ("Instruments", "instruments.html"),
    ("Trends", "trends.html"),
    ("Retired", "retired.html"),
    ("Reports", "reports.html"),
    ("Manual", "manual.html"),
    ("Read me", MARK),
)


@dataclass(frozen=True)
class WrittenBinder:
    """A binder as it was written: its folder, the date it states, how much is in it."""

    folder: str
    on: str
    pages: int
    files: int
    bytes: int


def write_binder(
    registry: Registry,
    folder: Path,
    on: date,
    *,
    replace: bool = False,
    processes: int | None = None,
) -> WrittenBinder:
    """Write the binder into a new or empty folder, whole or not at all.

    Parameters
    ----------
    on : date
        The date that the binder states; with the same registry it gives the same bytes.
    replace : bool
        Put it in the place of an older binder that is as it was written.
    processes : int, optional
        How many share the work; as many as make sense if left out. It is one where the system has
        no forks, or this process other threads.

    Raises
    ------
    BinderPlaceError
        If something stands there that must not be touched.
    FileWriteError
        If the medium refuses.
    ProcessLostError
        If one of the processes is ended from outside.
    """
    with tidied_up(), new_binder(folder, replace=replace) as draft:
        with registry.unchanging(), much_is_made():
            _fill(registry, draft, on, processes)
        draft.close()
        return WrittenBinder(
            folder=str(folder),
            on=on.isoformat(),
            pages=sum(name.endswith(".html") for name in draft.digests),
            files=len(draft.digests) + 1,
            bytes=draft.bytes,
        )


def _fill(registry: Registry, draft: Draft, on: date, processes: int | None) -> None:
    """Write all but the checksum list: the circuits' pages by all processes, the others here."""
    reporter = Reporter(registry, made_at=on.isoformat())
    book = _book(reporter, on)
    circuits = book.records.document.circuits
    if processes is None:
        processes = forks_of_use() if len(circuits) >= MANY_CIRCUITS else 1

    def follow(found: Iterable[ReportFacts]) -> list[Follows]:
        return [facts.follows() for facts in found]

    manner.here()  # asked while there is somebody to ask
    with Shared([reporter.facts], follow) as following:
        following.begin(min(processes - 1, 1), registry.leave_to_parent)
        reporter.facts.read_through()
        book.records.read_through()
        for each in chain.from_iterable(following.do()):
            reporter.facts.know(each)
    reporter.read_through()

    def write(found: Iterable[Circuit]) -> Draft:
        part = Draft(draft.folder)
        each = (pages.circuit(book, c, reporter.part(c.code)) for c in found)
        _write(part, chain.from_iterable(each))
        return part

    with Shared(circuits, write) as writing:
        gc.freeze()  # who looks for circles doesn't look at, and so copy, what all have in common
        writing.begin(processes - 1, registry.leave_to_parent)
        gc.unfreeze()
        _write(draft, writing.watched(_other_pages(book, reporter)))
        _write_beside(draft, book)
        for part in writing.do("circuits"):
            draft.take(part)


def _write(draft: Draft, made: Iterable[File]) -> None:
    """Write files, and let go of what their making left behind."""
    for number, (path, text) in enumerate(made):
        draft.write(path, text)
        if not number % _PAGES_KEPT:
            gc.collect(0)  # what came since the last time: templates hold on to what they showed


def _book(reporter: Reporter, on: date) -> pages.Book:
    records = SiteRecords(reporter.facts)
    site, wiring = records.document.site, Wiring(reporter.facts.site)
    network = wiring.whole()
    links: defaultdict[str, list[Link]] = defaultdict(list)
    for link in network.links:
        for code in link.served:
            links[code].append(link)
    return pages.Book(
        records=records,
        addresses=_addresses(records),
        frame=pages.Frame(
            title=site.name or site.code or "Site",
            on=on.isoformat(),
            tabs=_TABS,
            sections=_SECTIONS,
            search_parts=search_parts(records),
        ),
        wiring=wiring,
        network=network,
        links=links,
    )


def _other_pages(book: pages.Book, reporter: Reporter) -> Iterator[File]:
    """Yield what is no circuit's page: other pages, their looks, what is attached to records."""
    records = book.records
    for number, text in enumerate(search_scripts(records, book.addresses), 1):
        yield f"look/words-{number}.js", text
    for name, text in static_files():
        yield f"look/{name}", text
    yield from _record_pages(book)
    yield from all_lists(book)
    yield from _site_report(book, reporter)
    yield "index.html", _start_page(book)
    yield from _manual(book)
    for file in files(records.registry):
        yield file_of(file), content(records.registry, file.sha256)


def _write_beside(draft: Draft, book: pages.Book) -> None:
    """Write what lies beside the pages: the plain text, and the record to be loaded again."""
    document = book.records.document
    frame = {"title": book.frame.title, "on": book.frame.on}
    text = plain_text(MARK, **frame, example=_example(document), cautions=CAUTIONS)
    draft.write(MARK, text)
    write_site(document, draft.folder / "site.json")  # both load again
    draft.note("site.json")
    write_csv(document, draft.folder / "csv")
    for table in sorted((draft.folder / "csv").iterdir()):
        draft.note(f"csv/{table.name}")


def _addresses(records: SiteRecords) -> Addresses:
    document = records.document
    found = Addresses(
        {
            "circuit": [c.code for c in document.circuits],
            "spare": [code for what, code in records.own if what == "spare"],
            "enclosure": [e.code for e in document.enclosures],
            "raceway": [r.code for r in document.raceways],
            "pull": [p.code for p in document.pulls],
        }
    )
    for (what, code), members in records.own.items():
        for n, c in enumerate(members):
            first = str(found.page(what, code))
            found.place(c.tag, part_of(first, n // pages.RECORDS_A_PAGE + 1))
    return found


def _manual(book: pages.Book) -> Iterator[File]:
    """Yield the manual, so that whoever finds the binder finds out how its record was made."""
    yield (
        "manual.html",
        book.page(
            "manual.html", "manual.html", topic=None, topics=topics().values(), ending=".html"
        ),
    )
    for name, topic in topics().items():
        path, body = f"manual/{name}.html", Markup(html(topic, ".html"))
        yield path, book.page("manual.html", path, topic=topic, body=body)
    for picture in sorted(PICTURES.iterdir()):
        yield f"manual/pictures/{picture.name}", picture.read_bytes()


def _record_pages(book: pages.Book) -> Iterator[File]:
    """Yield the pages of boxes with their spares, of raceways and of pulls."""
    document = book.records.document
    for what, code in book.records.own:
        if what == "spare":
            yield from pages.spares(book, code)
    for box in steps(document.enclosures, "boxes"):
        yield book.page_of("enclosure", box.code), pages.enclosure(book, box)
    for raceway in document.raceways:
        yield book.page_of("raceway", raceway.code), pages.raceway(book, raceway)
    for pull in document.pulls:
        yield book.page_of("pull", pull.code), pages.pull(book, pull)


def _site_report(book: pages.Book, reporter: Reporter) -> Iterator[File]:
    """Yield the site's report and the list of all; of a large site no browser would like it."""
    whole = len(book.records.document.conductors) <= MOST_IN_A_REPORT
    if whole:
        yield SITE_REPORT, reporter.page(back=_BACK)
    yield from report_list(book, SITE_REPORT if whole else None)


def _start_page(book: pages.Book) -> str:
    records, document = book.records, book.records.document
    return book.page(
        "index.html",
        "index.html",
        place=document.site.code,
        example=_example(document),
        cautions=CAUTIONS,
        counts=_counts(records),
        open_counts=counts(records.open_points),
        map=site_map(records.registry),
        record=document.site,
        noted=records.facts.site,
        history=records.history,
        anchor=Anchor.of(head(records.registry)),
    )


def _example(document: SiteDocument) -> str:
    return str(document.conductors[0].tag) if document.conductors else "ABC-DEFG"


def _counts(records: SiteRecords) -> list[tuple[str, str | None, int]]:
    document = records.document
    retired = sum(c.retired_at is not None for c in document.conductors)
    return [
        ("Conductors", "tags.html", len(document.conductors)),
        ("of them retired", "retired.html", retired),
        ("Circuits", "circuits.html", len(document.circuits)),
        ("Enclosures", "enclosures.html", len(document.enclosures)),
        ("Raceways", "raceways.html", len(document.raceways)),
        ("Pulls", "pulls.html", len(document.pulls)),
        ("Instruments", "instruments.html", len(document.instruments)),
        ("Readings", None, len(document.readings)),
        ("Changes noted", None, records.changes),
    ]
