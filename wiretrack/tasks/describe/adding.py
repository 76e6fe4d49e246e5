# SPDX-License-Identifier: MIT
"""Adding one record, or a bundle of conductors that are alike, field by field."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.quantity_text import in_own_unit
from wiretrack.errors import BadInputError, FieldError, NotFoundError
from wiretrack.exchange.assigned import assigned, fields_of
from wiretrack.exchange.cells import write_cell
from wiretrack.exchange.likeness import known_only
from wiretrack.exchange.schema import columns
from wiretrack.exchange.write import flat_row, row_of
from wiretrack.late import dataclass
from wiretrack.manner import words
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull
from wiretrack.model.entity import devices_in
from wiretrack.model.source import TABLES
from wiretrack.plain import near
from wiretrack.store.searching import is_called
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.entering import (
    BY_NOUN,
    INSIDE,
    NO_REASON,
    record_called,
    write_typed,
)
from wiretrack.tasks.describe.sites import Load

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.fields import Fact
    from wiretrack.store.store import Registry
    from wiretrack.tasks.describe.entering import Reason

Row = dict[str, Any]
MOST = 1000
# What of a record is its own, and no other's that is like it.
_OWN = (
    "id", "tag", "code", "length", "retired_at", "retired_because", "follows", "far_ends", "cable",
    "core",
)  # fmt: skip
_OWN_OF_ENDS = ("id", "terminal", "state", "mark", "crossed_at")


@dataclass(frozen=True, kw_only=True)
class Addition:
    """A record to be added: what sort of, its code, its fields as typed, and what it is like.

    Of a conductor the code is its function; it is left out for a spare. `count` are so many alike.
    """

    kind: str
    code: str | None = None
    fields: Mapping[str, str] = field(default_factory=dict)
    like: str | None = None
    count: int | None = None

    @property
    def of(self) -> type:
        """The class of record; `BadInputError` if there is no such kind."""
        found = BY_NOUN.get(self.kind.casefold())
        if found is None:
            close = near(self.kind, [*BY_NOUN])
            hint = f"Did you mean {close[0]}?" if close else f"Allowed: {', '.join(BY_NOUN)}."
            raise BadInputError(f"'{self.kind}' is no kind of record.", hint, value=self.kind)
        return found


@dataclass(frozen=True)
class AddedConductor:
    """A conductor that was added, as a pull list has it."""

    tag: str
    circuit: str
    function: str
    size: str
    colour: str | None
    from_: str
    to: str


@dataclass(frozen=True, kw_only=True)
class Added:
    """What was added: a record by its code, and the tags of conductors; `several` were asked for.

    `pull` is where the conductors lie, `not_copied` are tags that a circuit shares with others.
    """

    kind: str
    code: str | None
    conductors: tuple[AddedConductor, ...] = ()
    several: bool = False
    pull: str | None = None
    not_copied: tuple[str, ...] = ()
    change: str | None = None

    @property
    def tags(self) -> list[str]:
        """The tags made."""
        return [conductor.tag for conductor in self.conductors]

    def as_json(self) -> dict[str, object]:
        """Return it as a document."""
        if self.several:
            return {"kind": self.kind, "tags": self.tags, "change": self.change}
        tag = self.tags[0] if self.kind == "conductor" and self.tags else None
        found: dict[str, object] = {"kind": self.kind, "code": self.code, "tag": tag}
        if self.kind == "circuit" and self.tags:
            found["tags"] = self.tags
        return found | {"change": self.change}


def add(
    registry: Registry,
    wanted: Addition,
    *,
    who: str | None = None,
    reason: Reason = NO_REASON,
    look: bool = False,
) -> Added:
    """Add a record, or as many conductors alike as are wanted, as one change."""
    of, row = wanted.of, row_wanted(registry, wanted)
    count = _count(wanted)
    rows: dict[str, list[Row]] = {TABLES[of]: [dict(row) for _ in range(count)]}
    left: tuple[str, ...] = ()
    if of is Circuit and wanted.like is not None:
        like = record_called(registry, wanted.like, ("circuit",))
        own = (c for c in like.in_service if len(c.circuits) == 1)
        rows["conductors"] = [_like(each) | {"circuit": row["code"]} for each in own]
        left = tuple(str(c.tag) for c in like.in_service if len(c.circuits) > 1)
    how = Load(fresh=True, look=look, more=reason.more)
    done = write_typed(registry, rows, how, who=who)
    site = site_of(registry)
    made = [] if look else [site.one(Conductor, tag.replace("-", "")) for tag in done.tags]
    code = f"{row['enclosure']}/{row['code']}" if of in INSIDE else row.get("code", wanted.code)
    return Added(
        kind=of.__name__.lower(),
        code=code,
        conductors=tuple(
            AddedConductor(
                str(c.tag), c.circuit, c.function, c.size, c.colour, *(end.place for end in c.ends)
            )
            for c in made
        ),
        several=wanted.count is not None,
        pull=row.get("pull"),
        not_copied=left,
        change=done.change,
    )


def _count(wanted: Addition) -> int:
    if wanted.count is None:
        return 1
    if wanted.of is not Conductor:
        raise BadInputError("Only conductors can be several alike.", "Leave the count out.")
    if not 1 <= wanted.count <= MOST:
        raise FieldError("count", f"The count is {wanted.count}; it must be 1 to {MOST}.")
    return wanted.count


def row_wanted(registry: Registry, wanted: Addition) -> Row:
    """Return the row of what is wanted: what was typed, over what it is like, and what follows.

    A spare without a function is a `signal`. Ends are those of the pull, where it has two.
    """
    of = wanted.of
    row: Row = {}
    if wanted.like is not None:
        noun = of.__name__.lower()
        row = _like(record_called(registry, wanted.like, (noun,)))
    typed = assigned(of, {**_named(registry, wanted), **wanted.fields})
    for key, value in typed.items():
        inner = row.get(key)
        row[key] = inner | value if isinstance(inner, dict) and isinstance(value, dict) else value
    row = known_only(row)
    if of is Conductor:
        if not row.get("circuit"):
            row.setdefault("function", "signal")
        _fill_ends(registry, row)
    return row


def _named(registry: Registry, wanted: Addition) -> dict[str, str]:
    if wanted.code is None:
        return {}
    if wanted.of is Conductor:
        return {"function": wanted.code}
    if wanted.of not in INSIDE or "enclosure" in wanted.fields:
        return {"code": wanted.code}
    splits = [*devices_in(wanted.code)]
    for box, code in splits:
        if site_of(registry).at(Enclosure, "code", box):
            return {"enclosure": box, "code": code}
    if not splits:
        raise FieldError("enclosure", f"'{wanted.code}' names no box. Write BOX/CODE.")
    return {"enclosure": splits[0][0], "code": splits[0][1]}


def _like(record: Any) -> Row:
    row = {key: value for key, value in row_of(record).items() if key not in _OWN}
    for side in ("from", "to"):
        if isinstance(row.get(side), dict):
            row[side] = {k: v for k, v in row[side].items() if k not in _OWN_OF_ENDS}
    return row


def _fill_ends(registry: Registry, row: Row) -> None:
    """Give a conductor the two ends of its pull, where the file doesn't say otherwise."""
    found = site_of(registry).at(Pull, "code", str(row.get("pull")))
    boxes = found[0].route.boxes if found else ()
    if len(boxes) > 1:
        row.setdefault("from", {"enclosure": boxes[0]})
        row.setdefault("to", {"enclosure": boxes[-1]})


def missing(registry: Registry, wanted: Addition) -> list[Fact]:
    """Return the fields that such a record can't do without, and that nothing says yet."""
    row, known = row_wanted(registry, wanted), fields_of(wanted.of)
    for key, text in wanted.fields.items():
        for code in text.split(",") if key in known and known[key].refers else ():
            refuse_unknown(registry, known[key], code.strip())
    return [
        fact
        for fact in known.values()
        if fact.needed and (row.get(fact.outer, {}) if fact.outer else row).get(fact.inner) is None
    ]


def refuse_unknown(registry: Registry, fact: Fact, text: str) -> str:
    """Return a code that was typed for a field, if it names a record."""
    noun = fact.refers.removesuffix("s")
    if not fact.refers or is_called(registry, noun, text):
        return text
    raise NotFoundError(noun, text, near(text, codes_of(registry, fact)))


def codes_of(registry: Registry, fact: Fact) -> list[str]:
    """Return the codes that a field may name."""
    of = BY_NOUN.get(fact.refers.removesuffix("s"))
    if of is None or of is Conductor or of in INSIDE:
        return []
    found: list[Any] = site_of(registry).all(of)
    return [each.code for each in found]


# Beside what a record needs, these come first; the others are folded away.
_FIRST = ("kind", "where", "title", "system", "circuit", "function", "colour", "pull", "length",
          "poles", "rating", "closed", "type", "trade_size", "path")  # fmt: skip
_NOT_ASKED = ("retired_at", "retired_because", "follows", "from.crossed_at", "to.crossed_at",
              "from.state", "to.state", "far_ends")  # fmt: skip
MOST_CODES = 400  # to choose from; more are typed


@dataclass(frozen=True)
class FormField:
    """A field as it is asked for: its key, what it is called, an example, what it may be.

    `words` are all that it may be, `codes` records that it may name. `comes_first` says whether it
    is always shown.
    """

    key: str
    label: str
    example: str
    words: tuple[str, ...]
    codes: tuple[str, ...]
    needed: bool
    comes_first: bool


def form_of(registry: Registry, of: type) -> list[FormField]:
    """Return the fields of a class of records, those that come first before the others."""
    found = [_field(registry, fact) for key, fact in fields_of(of).items() if key not in _NOT_ASKED]
    return sorted(found, key=lambda field: not field.comes_first)


def _field(registry: Registry, fact: Fact) -> FormField:
    kind = fact.kind
    allowed = ("yes", "no") if kind.is_truth else tuple(map(str, kind.words))
    codes = codes_of(registry, fact) if fact.refers else []
    return FormField(
        key=fact.key,
        label=_label(fact),
        example=example_of(fact),
        words=allowed,
        codes=tuple(codes) if len(codes) <= MOST_CODES else (),
        needed=fact.needed,
        comes_first=fact.needed or fact.key in _FIRST or fact.inner == "terminal",
    )


def example_of(fact: Fact) -> str:
    """Return an example of what may be typed for a field, a length in the site's unit; or ""."""
    return str(in_own_unit(fact.example, 3)) if fact.kind.is_length else fact.example


def _label(fact: Fact) -> str:
    side = {"from": "From: ", "to": "To: "}.get(fact.outer, "")
    return side + words(fact.label[0].lower() + fact.label[1:] if side else fact.label)


def typed_of(record: Any) -> dict[str, str]:
    """Return what a record holds, as it would be typed into its form where the site is."""
    of: type = type(record)
    kinds = columns(TABLES.get(of, "site"))
    row = flat_row(record)
    return {
        key: ("yes" if row[key] else "no")
        if fact.kind.is_truth
        else write_cell(
            kinds.get(key, "text"), in_own_unit(row[key]) if fact.kind.is_length else row[key]
        )
        for key, fact in fields_of(of).items()
        if key in row and key not in _NOT_ASKED
    }


def changed(before: Mapping[str, str], typed: Mapping[str, str]) -> dict[str, str]:
    """Return the fields of a form that say something else than before."""
    return {
        key: text.strip()
        for key, text in typed.items()
        if text.strip() != before.get(key, "").strip()
    }


def page_of(record: Any) -> tuple[str, str]:
    """Return what page shows a record: its kind and code; parts are shown with their box."""
    if isinstance(record, Conductor):
        return "conductor", str(record.tag)
    noun = type(record).__name__.lower()
    if noun in ("device", "terminal"):
        return "enclosure", str(record.enclosure)
    return ("site", "") if noun == "sitefacts" else (noun, str(record.code))
