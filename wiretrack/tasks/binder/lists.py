# SPDX-License-Identifier: MIT
"""The binder's lists: all tags, all circuits, what is open, what the rules found, and the like.

A list of more than `ROWS_A_PAGE` rows is parted into pages, so that each opens at once.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from wiretrack.days import day
from wiretrack.late import dataclass
from wiretrack.render.binder.render import numbered, pager
from wiretrack.render.records import length_text
from wiretrack.tasks.report.checking import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.tasks.binder.pages import Book
    from wiretrack.tasks.report.punchlist import OpenPoint

ROWS_A_PAGE = 1000


@dataclass(frozen=True)
class Link:
    """A cell that leads to a page, if there is one, and how its words look."""

    page: str | None
    words: str
    style: str = "code"


@dataclass(frozen=True)
class Result:
    """A cell that says what a rule found."""

    outcome: str


def listing(
    book: Book,
    stem: str,
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[Any]],
    intro: Sequence[str] = (),
) -> Iterator[tuple[str, str]]:
    """Yield the pages of one list: the path and the text of each."""
    total = max(1, -(-len(rows) // ROWS_A_PAGE))
    parts = [rows[n * ROWS_A_PAGE : (n + 1) * ROWS_A_PAGE] for n in range(total)]
    every = [
        (numbered(stem, n), f"{_words(part[0][0])} to {_words(part[-1][0])}" if part else "none")
        for n, part in enumerate(parts, 1)
    ]
    for at, (path, _) in enumerate(every):
        yield (
            path,
            book.page(
                "list.html", path, title=title, columns=columns, rows=parts[at],
                intro=() if at else intro, pager=pager(every, at),
            ),
        )  # fmt: skip


def _words(cell: Any) -> str:
    if isinstance(cell, Link):
        return cell.words
    return cell.outcome if isinstance(cell, Result) else str(cell)


def all_lists(book: Book) -> Iterator[tuple[str, str]]:
    """Yield every list of the binder."""
    for each in (
        _tags, _circuits, _enclosures, _raceways, _pulls, _punch_list, _checks, _markings,
        _instruments, _trends, _retired,
    ):  # fmt: skip
        yield from each(book)


def _tag(book: Book, tag: str) -> Link:
    return Link(book.addresses.page("conductor", tag), str(tag), "tag")


def _link(book: Book, what: str, code: str) -> Link:
    return Link(book.addresses.page(what, code), code)


def _tags(book: Book) -> Iterator[tuple[str, str]]:
    rows = [
        [
            _tag(book, c.tag),
            _link(book, "circuit", c.circuit) if len(c.circuits) == 1 else c.circuit, c.function,
            " ".join(filter(None, (c.size, c.colour, c.core and f"core {c.core}"))),
            c.from_end.place, c.to_end.place, "retired" if c.retired_at else "",
        ]
        for c in sorted(book.records.document.conductors, key=lambda c: c.tag)
    ]  # fmt: skip
    columns = ("Tag", "Circuit", "Function", "Wire", "From", "To", "")
    yield from listing(book, "tags", "All tags", columns, rows, ["Every conductor, in order."])


def _circuits(book: Book) -> Iterator[tuple[str, str]]:
    rows = [
        [
            _link(book, "circuit", c.code), c.title, c.system,
            len(c.conductors), "retired" if c.retired_at else "",
        ]
        for c in book.records.document.circuits
    ]  # fmt: skip
    columns = ("Circuit", "Title", "System", "Conductors", "")
    yield from listing(book, "circuits", "Circuits", columns, rows)


def _enclosures(book: Book) -> Iterator[tuple[str, str]]:
    rows = [
        [_link(book, "enclosure", e.code), e.name, e.kind, e.where]
        for e in book.records.document.enclosures
    ]
    columns = ("Enclosure", "Name", "Kind", "Where")
    yield from listing(book, "enclosures", "Enclosures", columns, rows)


def _raceways(book: Book) -> Iterator[tuple[str, str]]:
    rows = [
        [
            _link(book, "raceway", r.code), f"{r.from_enclosure} → {r.to_enclosure}",
            " ".join(filter(None, (r.type, r.trade_size))), length_text(r.length_m),
            len(book.records.in_raceway.get(r.code, ())),
        ]
        for r in book.records.document.raceways
    ]  # fmt: skip
    columns = ("Raceway", "From, to", "Type", "Length", "Conductors")
    yield from listing(book, "raceways", "Raceways", columns, rows)


def _pulls(book: Book) -> Iterator[tuple[str, str]]:
    records = book.records
    rows = [
        [
            _link(book, "pull", p.code), " → ".join(p.path), len(p.conductors),
            "" if not (begun := records.ringouts_of.get(p.code))
            else "under way" if begun[-1].get("result") is None else "finished",
        ]
        for p in records.document.pulls
    ]  # fmt: skip
    columns = ("Pull", "Path", "Conductors", "Ring-out")
    yield from listing(book, "pulls", "Pulls", columns, rows)


def _punch_list(book: Book) -> Iterator[tuple[str, str]]:
    found = book.records.open_points
    rows = [[row.what, _tag(book, row.subject), row.detail, day(row.since)] for row in found]
    intro = [", ".join(f"{what} {number}" for what, number in counts(found))] if found else []
    columns = ("What", "Tag", "Details", "Since")
    yield from listing(book, "punchlist", "Punch list", columns, rows, intro)


def counts(points: Sequence[OpenPoint]) -> list[tuple[str, int]]:
    """Return how often each kind of open point occurs, in the order of the work."""
    return list(Counter(row.what for row in points).items())


def _checks(book: Book) -> Iterator[tuple[str, str]]:
    found = book.records.facts.judged.findings
    passed = Counter(row.rule for row in found if row.outcome == "pass")
    intro = ["The wiring rules of the site's code. Each record's page has its own in full."]
    if passed:
        kept = ", ".join(f"{rule} {number}" for rule, number in passed.items())
        intro.append(f"Kept, and not listed here: {kept}.")
    rows = [
        [
            Result(outcome), row.rule,
            Link(book.addresses.page("subject", row.subject), row.subject),
            row.reason, row.source,
        ]
        for outcome in ("fail", "doubt") for row in found if row.outcome == outcome
    ]  # fmt: skip
    columns = ("Result", "Rule", "Of", "Reason", "Source")
    yield from listing(book, "checks", "Wiring rules", columns, rows, intro)


def _markings(book: Book) -> Iterator[tuple[str, str]]:
    found = book.records.facts.judged.markings
    rows = [
        [
            Link(book.addresses.page("subject", row.on), row.on),
            "on it" if row.at_m is None else length_text(row.at_m),
            row.wording or "wording unknown", row.note, row.source,
        ]
        for row in found
    ]  # fmt: skip
    ordered = counted(row.wording for row in found)
    intro = [f"{number} × {wording}" for wording, number in ordered.items()]
    columns = ("On", "At", "Wording", "Note", "Source")
    yield from listing(book, "markings", "Markings to be stuck on", columns, rows, intro)


def _instruments(book: Book) -> Iterator[tuple[str, str]]:
    document = book.records.document
    used = Counter(reading.instrument for reading in document.readings)
    rows = [
        [
            i.code, i.kind, i.name, i.serial, i.accuracy, i.resolution, i.range,
            i.calibrated_on or "not recorded", used[i.code],
        ]
        for i in document.instruments
    ]  # fmt: skip
    columns = (
        "Instrument", "Kind", "Name", "Serial", "Accuracy", "Resolution", "Range", "Calibrated",
        "Readings",
    )  # fmt: skip
    yield from listing(book, "instruments", "Instruments", columns, rows)


def _trends(book: Book) -> Iterator[tuple[str, str]]:
    active = (c for c in book.records.document.conductors if not c.retired_at)
    trends = ((str(c.tag), s) for c in active for s in book.records.facts.trend(c).series if s.line)
    found = sorted(trends, key=lambda t: (t[1].meets_limit_on or "9999", t[0]))
    rows = [
        [
            _tag(book, tag), t.title, t.words, t.meets_limit_on or "not in sight",
            f"{day(t.points[0].at)} to {day(t.points[-1].at)}",
        ]
        for tag, t in found
    ]  # fmt: skip
    intro = [
        "How readings changed over the years, brought to 20 °C; those first whose line meets the "
        "limit first. The conductor's record has the plot and its source."
    ]
    columns = ("Tag", "Reading", "Trend", "Line meets the limit", "Readings from, to")
    yield from listing(book, "trends", "Trends", columns, rows, intro)


def report_list(book: Book, whole: str | None) -> Iterator[tuple[str, str]]:
    """Yield the list of verification reports; `whole` is that of the site, if there is one."""
    rows: list[list[Any]] = [[Link(whole, "whole site"), ""]] if whole else []
    rows += [
        [Link(book.page_of("report", c.code), c.code), c.title]
        for c in book.records.document.circuits
    ]
    intro = ["What the record says of each circuit. Opened from here, it prints alone, to sign."]
    if not whole:
        intro.append("That of the whole site is too large for a page; print it apart.")
    yield from listing(book, "reports", "Verification reports", ("Report", "Title"), rows, intro)


def _retired(book: Book) -> Iterator[tuple[str, str]]:
    document = book.records.document
    rows: list[list[Any]] = [
        [_link(book, "circuit", c.code), "circuit", day(c.retired_at), "", ""]
        for c in document.circuits
        if c.retired_at
    ]
    for c in document.conductors:
        if c.retired_at:
            after = ", ".join(str(follower.tag) for follower in c.followers)
            cells = [f"conductor of {c.circuit}", day(c.retired_at), c.retired_because, after]
            rows.append([_tag(book, c.tag), *cells])
    intro = ["Kept for good, with readings and history; no longer part of the work."]
    columns = ("What", "Kind", "Retired", "Because", "Followed by")
    yield from listing(book, "retired", "Retired", columns, rows, intro)
