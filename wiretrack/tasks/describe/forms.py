# SPDX-License-Identifier: MIT
"""The form of a record, made from the field list: to add one, or to correct one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.exchange.assigned import fields_of
from wiretrack.exchange.cells import write_cell
from wiretrack.exchange.schema import columns
from wiretrack.exchange.write import flat_row
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.model.source import TABLES
from wiretrack.tasks.describe.adding import codes_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.fields import Fact
    from wiretrack.store.store import Registry

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
    words = ("yes", "no") if kind.is_truth else tuple(map(str, kind.words))
    codes = codes_of(registry, fact) if fact.refers else []
    return FormField(
        key=fact.key,
        label=_label(fact),
        example=fact.example,
        words=words,
        codes=tuple(codes) if len(codes) <= MOST_CODES else (),
        needed=fact.needed,
        comes_first=fact.needed or fact.key in _FIRST or fact.inner == "terminal",
    )


def _label(fact: Fact) -> str:
    """Return what a field is called; of an end's fields, which end is said first."""
    side = {"from": "From: ", "to": "To: "}.get(fact.outer, "")
    return side + (fact.label[0].lower() + fact.label[1:] if side else fact.label)


def typed_of(record: Any) -> dict[str, str]:
    """Return what a record holds, as it would be typed into its form."""
    of: type = type(record)
    kinds = columns(TABLES.get(of, "site"))
    row = flat_row(record)
    return {
        key: ("yes" if row[key] else "no")
        if fact.kind.is_truth
        else write_cell(kinds.get(key, "text"), row[key])
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
