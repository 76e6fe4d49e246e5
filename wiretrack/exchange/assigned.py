# SPDX-License-Identifier: MIT
"""FIELD=VALUE, as people type it, to the row of a site file; and where its faults are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from wiretrack.errors import FieldError
from wiretrack.exchange.cells import as_filed, read_cell
from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.codes import NOUNS
from wiretrack.exchange.places import articled
from wiretrack.exchange.schema import columns
from wiretrack.exchange.shape import row_faults, unknown_key
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import TABLES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.exchange.places import Path
    from wiretrack.model.fields import Fact

Row = dict[str, Any]
_NEVER_TYPED = ("tag", "id", "from.id", "to.id")


def fields_of(of: type) -> dict[str, Fact]:
    """Return the fields of a record that people may type, by their keys."""
    return {fact.key: fact for fact in flat_facts(of) if fact.key not in _NEVER_TYPED}


def assigned(of: type, texts: Mapping[str, str]) -> Row:
    """Return the row that these fields make of a record; one made unknown is `None` there.

    A place may stand for an end: ``from`` is ``BOX/TERMINAL``, or a box alone.

    Raises `FieldError` if there is no such field, or it can't be unknown, or never changes;
    `AmbiguousError` if a word may mean several.

    >>> from wiretrack.model.entities import Conductor, Raceway
    >>> assigned(Conductor, {"from": "MDB/Q4:1", "strands": "7"})
    {'from': {'enclosure': 'MDB', 'terminal': 'Q4:1'}, 'strands': 7}
    >>> assigned(Raceway, {"from": "MDB", "walls": "3 m, 4 m", "metal": "yes"})
    {'from': 'MDB', 'walls': ['3 m', '4 m'], 'metal': True}
    """
    row: Row = {}
    facts = fields_of(of)
    for key, text in texts.items():
        if f"{key}.enclosure" in facts:
            row[key] = _end(key, text)
            continue
        fact = facts.get(key)
        if fact is None:
            raise FieldError(key, _unknown(of, key, [*facts]))
        if not text.strip() and (fact.needed):
            noun = articled(_noun(of))
            raise FieldError(key, f"{key} is empty. {noun[0].upper()}{noun[1:]} needs it.")
        holder = row.setdefault(fact.outer, {}) if fact.outer else row
        holder[fact.inner] = value_of(of, fact, text) if text.strip() else None
    return row


def value_of(of: type, fact: Fact, text: str) -> Any:
    """Return the value of one field as a site file has it; what is none keeps its text."""
    table = TABLES.get(of, "site")
    kind = columns(table).get(fact.key, "text")
    return as_filed(fact.kind, text.strip()) if kind == "text" else read_cell(kind, text)


def check_typed(of: type, fact: Fact, text: str) -> None:
    """Refuse a text that can't be the value of a field.

    Raises `BadInputError` if it can't; it says what is allowed.

    >>> from wiretrack.model.entities import Conductor
    >>> check_typed(Conductor, fields_of(Conductor)["size"], "4 mm2")
    """
    value = value_of(of, fact, text)
    inner: Row = {fact.inner: value}
    row = {fact.outer: inner} if fact.outer else inner
    key = fact.outer or fact.inner
    fault = row_faults(TABLES[of], row).get(key) if not fact.outer else None
    if fault is not None:
        raise FieldError(fact.key, fault)
    codec_of(fact.kind).read(value)


def _end(key: str, text: str) -> Row:
    box, _, terminal = text.strip().partition("/")
    if not box:
        raise FieldError(key, f"{key} is empty. A conductor needs it: BOX, or BOX/TERMINAL.")
    return {"enclosure": box.strip(), "terminal": terminal.strip() or None}


def _noun(of: type) -> str:
    return "site" if of is SiteFacts else NOUNS[TABLES[of]]


def _unknown(of: type, key: str, allowed: list[str]) -> str:
    noun = _noun(of)
    if key in _NEVER_TYPED:
        return f"The {key} of a {noun} never changes."
    title = "the site" if of is SiteFacts else articled(noun)
    return unknown_key(key, title, tuple(allowed), "field")


class FieldPlaces:
    """Places of rows that were typed: the field alone."""

    hints: ClassVar[dict[str, str]] = {}
    strict: ClassVar[bool] = False

    def name(self, path: Path) -> str:
        """Return the field, like ``from.enclosure``."""
        return ".".join(step for step in path[1:] if isinstance(step, str))
