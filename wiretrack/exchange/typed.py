# SPDX-License-Identifier: MIT
"""What people type, in a sheet or behind a field's name, as a JSON site file has it."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import AmbiguousError, BadInputError
from wiretrack.model import kinds as k

if TYPE_CHECKING:
    from wiretrack.model.fields import Kind


def as_filed(kind: Kind, text: str) -> Any:
    """Return the value of this kind that is meant, as a site file has it; else the text as it is.

    A word may be one of those that people use beside it, and a day or a time may be written as
    `days.typed` reads it. Quantities, sizes and colours are read from files in the same way.

    Raises
    ------
    AmbiguousError
        If it may mean several.

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
