# SPDX-License-Identifier: MIT
"""What people type, in a sheet or behind a field's name, as a JSON site file has it."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import AmbiguousError, BadInputError
from wiretrack.exchange.raw import drop
from wiretrack.model import kinds as k
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import TABLES

if TYPE_CHECKING:
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.fields import Kind


def take_words(raw: RawSite) -> None:
    """Put the words and days of a sheet as a site file has them; a fault for what may be several.

    What is neither keeps its text, so that the check of the shape names it.
    """
    tables: list[tuple[type, tuple[str | int, ...], Any]] = [
        (SiteFacts, ("site",), raw.data.get("site", {}))
    ]
    tables += [
        (of, (table, number), row)
        for of, table in TABLES.items()
        for number, row in enumerate(raw.data.get(table, ()))
    ]
    for of, path, row in tables:
        for fact in flat_facts(of):
            holder = row.get(fact.outer) if fact.outer else row
            text = holder.get(fact.inner) if isinstance(holder, dict) else None
            if not isinstance(text, str) or not (fact.kind.words or fact.kind in _DAYS):
                continue
            try:
                holder[fact.inner] = as_filed(fact.kind, text)
            except AmbiguousError as error:
                place = (*path, *fact.key.split("."))
                raw.faults.add(place, str(error))
                drop(raw.data, place)


def as_filed(kind: Kind, text: str) -> Any:
    """Return the value of this kind that is meant, as a site file has it; else the text as it is.

    A word may be one of those that people use beside it, and a day or a time may be written as
    `days.typed` reads it. Quantities, sizes and colours are read from files in the same way.

    Raises `AmbiguousError` if it may mean several.

    >>> as_filed(k.ENCLOSURE_KIND, "box"), as_filed(k.DATE, "24.4.2025"), as_filed(k.NAME, "box")
    ('junction-box', '2025-04-24', 'box')
    """
    if kind.words:
        return kind.meant(text)
    read = _DAYS.get(kind)
    if read is None or re.match(kind.schema["pattern"], text):
        return text
    try:
        return read(text)
    except AmbiguousError:
        raise
    except BadInputError:
        return text


def _day_or_time(text: str) -> str:
    found = days.typed(text)
    return days.typed_time(text) if type(found) is not date else found.isoformat()


_DAYS = {
    k.DATE: lambda text: days.typed_day(text).isoformat(),
    k.TIME: days.typed_time,
    k.DAY_OR_TIME: _day_or_time,
}
