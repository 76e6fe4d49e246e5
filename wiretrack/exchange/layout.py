# SPDX-License-Identifier: MIT
"""How a sheet lies: where its headings are, and of which fields its columns are."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import field
from itertools import chain, islice
from typing import TYPE_CHECKING, ClassVar

from wiretrack.errors import BadInputError, HeadingsError, Hint
from wiretrack.exchange.headings import (
    SCHEDULE,
    Field,
    Match,
    heading,
    likely_table,
    main_table,
    parse_field,
    plain,
    proposed,
    said_by,
    sure_key,
    unsure,
)
from wiretrack.exchange.places import harmless, shown
from wiretrack.exchange.schedules import FILLS
from wiretrack.exchange.schema import columns, csv_tables, required_columns, table_facts
from wiretrack.exchange.shape import unknown_key
from wiretrack.late import dataclass
from wiretrack.model import kinds as k
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.fields import Kind

Line = tuple[int, list[str]]
_MORE = re.compile(r"(.+)~[0-9]+")  # a heading whose cells go on with the text of another column
_LOOKED_AT = 30  # rows in which headings are looked for
_PANEL = re.compile(r"\bpanel(?:board)?(?:\s+name)?\s*[:\s]\s*([A-Z0-9][\w.-]*)", re.IGNORECASE)
_BARE = re.compile(r"[<>]?\s*[+-]?[0-9][0-9.,/ ]*")


class OddCell(str):
    """A cell that doesn't show what somebody typed; `why` says so."""

    why = ""

    def __new__(cls, text: str, why: str) -> OddCell:
        """Make one of the text that stands for it."""
        made = super().__new__(cls, text)
        made.why = why
        return made


class DayCell(str):
    """A date as a spreadsheet keeps it."""

    __slots__ = ()


_NO_DAY = (
    "The spreadsheet made a date of what was typed. Format the cell as text and type it again."
)
_FIGURES = (k.ACCURACY, k.RESOLUTION, k.RANGE, k.WALLS)
_DAYS = (k.DATE, k.DAY_OR_TIME, k.TIME)


@dataclass
class Sheet:
    """One table of a file: its name in places, its rows with their numbers, and how it is read.

    `table` is what it is called, a table of a site or anything. `even` says that each row has a
    cell for each heading.
    """

    name: str
    table: str
    lines: Iterable[Line] = ()
    even: bool = True
    decimal_comma: bool = False
    otherwise: ClassVar[str] = ""

    def place(self, row: int, heading: str = "", at: int | None = None) -> str:
        """Return the words by which people find a row, or a cell of it."""
        return f"{self.name}:{row} {harmless(heading)}".rstrip()


@dataclass(frozen=True)
class Proposal:
    """What the headings of a sheet may mean; `box` is the panel, "" where no cell says which."""

    sheet: str
    row: int
    matches: tuple[Match, ...]
    box: str
    needs_box: bool


@dataclass
class SheetRules:
    """What somebody says of sheets with headings of their own, and what was found out.

    `maps` has a field for each heading, "" where its column is left out; `box` is the panel that
    breakers are in. `settle` asks whoever is there what a proposal means and returns both.
    `used` are the headings as they were taken.
    """

    maps: Mapping[str, str] = field(default_factory=dict)
    table: str = ""
    box: str = ""
    settle: Callable[[Proposal], tuple[Mapping[str, str], str]] | None = None
    has_box: Callable[[str], bool] = field(default=lambda code: False)
    used: dict[str, str] = field(default_factory=dict)

    def refuse_unused(self, names: Iterable[str]) -> None:
        """Refuse what was said of headings that no sheet has; a typing slip would pass unseen."""
        found = {plain(name): name for name in self.used}
        for name in names:
            if plain(name) not in found:
                close = near(plain(name), found, 3, 0.6)
                hint = f"Close to it: {', '.join(found[each] for each in close)}." if close else ""
                raise BadInputError(f"No heading is called '{harmless(name)}'.", hint, value=name)


@dataclass(frozen=True)
class Column:
    """What the cells under a heading are: a column of a table, or what a schedule says.

    With `more` they go on with the text of the column before. `unit` is what the heading names.
    """

    at: int
    heading: str
    table: str
    key: str
    more: bool = False
    unit: str = ""

    @property
    def kind(self) -> Kind | None:
        """The kind of its values, where the model knows the field."""
        fact = table_facts(self.table).get(self.key) if self.table else None
        return None if fact is None else fact.kind

    @property
    def is_figure(self) -> bool:
        """Whether its cells are numbers or quantities, where a comma is a decimal one."""
        if not self.table:
            return self.key in ("breaker", "wire")
        fact = table_facts(self.table).get(self.key)
        figures = fact is not None and (fact.example[:1].isdigit() or fact.kind in _FIGURES)
        return figures or columns(self.table)[self.key] in ("number", "integer")

    def text(self, cell: str) -> str:
        """Return a cell without the blanks around a word or a code, a figure with its unit."""
        kind = self.kind
        if self.unit and kind and kind.schema.get("type") == "string" and _BARE.fullmatch(cell):
            return f"{cell.strip()} {self.unit}"
        return cell.strip() if kind and (kind.words or kind is k.CODE) else str(cell)

    def why_not(self, cell: str) -> str:
        """Return why a cell can't be taken as it is, or nothing."""
        if isinstance(cell, DayCell) and self.kind not in _DAYS:
            return _NO_DAY
        return cell.why if isinstance(cell, OddCell) else ""


@dataclass(frozen=True)
class Layout:
    """Where a sheet has which field: its headings, and the columns of each record in a row.

    `table` is the one that each row is of, or "" where rows fill several.
    """

    row: int
    names: list[str]
    blocks: list[list[Column]]
    table: str = ""
    box: str = ""

    @property
    def is_schedule(self) -> bool:
        """Whether a cell may say several fields at once."""
        return any(not column.table for block in self.blocks for column in block)

    @property
    def tables(self) -> list[str]:
        """The tables that its rows may fill, in the order of files."""
        fields = [(c.table, c.key) for block in self.blocks for c in block]
        found = {of for each in fields for of, _ in (FILLS[each[1]] if not each[0] else (each,))}
        found |= {"enclosures"} if self.box and self.is_schedule else set()
        return [table for table in csv_tables() if table in found or table == self.table]


def lay_out(raw: RawSite, sheet: Sheet, rules: SheetRules) -> tuple[Layout, Iterator[Line]] | None:
    """Return how a sheet lies and the lines below its headings; None if nothing is to be read.

    Raises `HeadingsError` if nobody says what headings mean that are no fields.
    """
    lines = iter(sheet.lines)
    head = list(islice(lines, _LOOKED_AT))
    named = [(number, _names(cells)) for number, cells in head]
    table = sheet.table if sheet.table in csv_tables() else rules.table
    if not named:
        return None
    table = table or _by_headings(raw, sheet, named)
    said = said_by(rules.maps)
    at = _best(named, lambda name: _is_sure(table, name, said)) if table else 0
    if table and _is_of(table, named[at][1], said):
        layout = _of_table(raw, sheet, table, named[at], said)
        rules.used |= {name: said[plain(name)] for name in layout.names if plain(name) in said}
    else:
        at = _best(named, lambda name: bool(proposed([name], said, table)[name].field))
        found = _proposed(raw, sheet, table, (head, at), rules)
        if found is None:
            return None
        layout = found
        sheet.even = False
    if at:
        above = "row" if at == 1 else "rows"
        raw.faults.notes.append(
            f"{harmless(sheet.name)}: {at} {above} above the headings, in row {layout.row},"
            f" {'was' if at == 1 else 'were'} passed over."
        )
    return layout, chain(head[at + 1 :], lines)


def _names(cells: list[str]) -> list[str]:
    return ["" if isinstance(name, OddCell) else " ".join(name.split()) for name in cells]


def _best(named: Sequence[Line], is_known: Callable[[str], bool]) -> int:
    """Return which line has the most known headings, the first one of several."""
    counts = [len({name for name in names if name and is_known(name)}) for _, names in named]
    return counts.index(max(counts))


def _is_sure(table: str, name: str, said: Mapping[str, str]) -> bool:
    return plain(name) in said or _key(table, name) is not None


def _key(table: str, name: str) -> str | None:
    more = _MORE.fullmatch(name)
    return sure_key(table, more[1] if more else name)


def _is_of(table: str, names: list[str], said: Mapping[str, str]) -> bool:
    """Return whether the headings are mostly columns of a table, or all that it needs."""
    given = [name for name in names if name]
    sure = [name for name in given if _is_sure(table, name, said)]
    keys = {_key(table, name) for name in sure}
    return bool(required_columns(table) and required_columns(table) <= keys) or (
        2 * len(sure) >= max(len(given), 1)
    )


def _by_headings(raw: RawSite, sheet: Sheet, named: Sequence[Line]) -> str:
    """Return the table whose columns some row surely names, "" if there is none."""
    for _, names in named:
        tables = likely_table(names)
        if len(tables) == 1:
            told = f"{harmless(sheet.name)} was read as the table {tables[0]}, by its headings."
            raw.faults.notes.append(told)
            return tables[0]
        if tables:
            raise BadInputError(
                f"The headings of {harmless(sheet.name)} may be of {' or '.join(tables)}.",
                Hint("Say which with {table}."),
            )
    return ""


def _of_table(
    raw: RawSite, sheet: Sheet, table: str, line: Line, said: Mapping[str, str]
) -> Layout:
    """Return the layout of a sheet of one table, having noted what is wrong with its columns."""
    number, names = line
    place, header = sheet.place(number), list[Column]()
    for at, name in enumerate(names):
        key = _key(table, name)
        if name and plain(name) in said:
            told = said[plain(name)]
            if told:
                header.append(Column(at, name, *parse_field(told, table), unit=heading(name).unit))
        elif name and key is not None:
            more = bool(_MORE.fullmatch(name))
            header.append(Column(at, name, table, key, more, unit=heading(name).unit))
        elif name and name not in names[:at]:
            sentence = unknown_key(name, sheet.name, tuple(columns(table)), "column")
            raw.faults.add_at((table,), place, sentence)
    counts = Counter((c.table, c.key) for c in header if not c.more)
    for (of, key), count in counts.items():
        if count > 1:
            raw.faults.add_at((of,), place, f"The column '{harmless(key)}' is there twice.")
    for key in sorted(required_columns(table) - {key for of, key in counts if of == table}):
        raw.absent[table, key] = place
    return Layout(number, names, [header], table)


def _proposed(
    raw: RawSite, sheet: Sheet, table: str, place: tuple[list[Line], int], rules: SheetRules
) -> Layout | None:
    """Return the layout of a sheet with headings of its own, once somebody says what they mean."""
    head, at = place
    number, names = head[at][0], _names(head[at][1])
    below = [cells for _, cells in head[at + 1 :]]
    said = said_by(rules.maps)
    table = table or main_table(said.values())
    matches = proposed(names, said, table, below)
    if not any(match.field for match in matches.values()):
        message = f"Its headings are of no table. Tables are {', '.join(csv_tables())}."
        message += sheet.otherwise
        raw.faults.add_at((), sheet.name, message)
        return None
    box = rules.box or _panel_above(head[:at])
    proposal = _proposal(sheet, number, matches, box, table)
    if rules.settle and not (all(match.sure for match in matches.values()) and _has_box(proposal)):
        settled, box = rules.settle(proposal)
        matches = proposed(names, said_by(settled), table, below)
        proposal = _proposal(sheet, number, matches, box, table)
    open_ones = [match for match in proposal.matches if not match.sure]
    if open_ones:
        raise HeadingsError(
            sheet.place(number),
            [unsure(match) for match in open_ones],
            [(match.heading, match.field or "") for match in open_ones],
        )
    if not _has_box(proposal):
        raise BadInputError(
            f"{sheet.place(number)}: no column says in which panel the breakers are.",
            Hint("Give the panel's code with {in}."),
        )
    rules.used |= {match.heading: match.field or "" for match in proposal.matches}
    rules.box = box
    fields = {match.heading: parse_field(match.field, table)
              for match in proposal.matches if match.field}  # fmt: skip
    return Layout(number, names, _blocks(names, fields), "", box)


def _proposal(
    sheet: Sheet, number: int, matches: Mapping[str, Match], box: str, table: str
) -> Proposal:
    fields = [parse_field(match.field, table) for match in matches.values() if match.field]
    fills = {f for each in fields for f in (FILLS[each[1]] if not each[0] else (each,))}
    keys = {key for of, key in fields if not of} | {f"{of}.{key}" for of, key in fields if of}
    has_device = bool(keys & {"breaker", "devices.rating", "devices.poles"})
    needs = has_device and not keys & {"panel", "devices.enclosure"} and bool(fills)
    return Proposal(sheet.name, number, tuple(matches.values()), box, needs)


def _has_box(proposal: Proposal) -> bool:
    return bool(proposal.box) or not proposal.needs_box


def _panel_above(head: Sequence[Line]) -> str:
    """Return the panel that the rows above the headings name, if they name one."""
    rows = (" ".join(filter(None, _names(cells))) for _, cells in head)
    found = {match[1] for row in rows for match in _PANEL.finditer(row)} - {*SCHEDULE}
    found = {name for name in found if name.lower() not in ("schedule", "name")}
    return found.pop() if len(found) == 1 else ""


def _blocks(names: list[str], fields: Mapping[str, Field]) -> list[list[Column]]:
    """Return the columns of each record in a row: headings that stand twice are of two."""
    blocks: list[list[Column]] = []
    seen: Counter[str] = Counter()
    for at, name in enumerate(names):
        if name in fields:
            if seen[name] == len(blocks):
                blocks.append([])
            blocks[seen[name]].append(Column(at, name, *fields[name], unit=heading(name).unit))
            seen[name] += 1
    for key, count in Counter(fields.values()).items():
        if count > 1:
            both = ", ".join(shown(name) for name, each in fields.items() if each == key)
            raise BadInputError(
                f"The headings {both} are both {'.'.join(filter(None, key))}.", "Keep one of them."
            )
    return blocks
