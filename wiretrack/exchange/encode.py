# SPDX-License-Identifier: MIT
"""Records to rows of a site file; what is unknown is left out."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.model import tags
from wiretrack.model.fields import flat_facts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.model.parts import Device, SiteFacts

Row = dict[str, Any]


class Written(Protocol):
    """What is written as a site file: a document, or a registry that is read meanwhile."""

    @property
    def site(self) -> SiteFacts:
        """The record of the site itself."""

    def tables(self) -> Iterator[tuple[str, Iterable[Any]]]:
        """Yield each table with its records, in the order of files."""


def encode_site(document: Written) -> Row:
    """Return the row of the site, empty if nothing is known of it."""
    return _row(document.site)


def encode_tables(document: Written) -> Iterator[tuple[str, Iterator[Row]]]:
    """Return the name and the rows of each table that the document has, in file order."""
    for name, found in document.tables():
        records = iter(found)
        if name in REST_NAMES:
            yield name, map(_known_only, records)
        else:
            for first in records:
                yield name, map(_row, chain([first], records))


def _known_only(row: dict[str, object]) -> Row:
    return {key: value for key, value in row.items() if value is not None}


def _row(record: Any) -> Row:
    row: Row = {}
    of: type = type(record)
    for field in flat_facts(of):
        value = record
        for name in field.name.split("."):
            value = getattr(value, name)
        if value is None or value == () or value == "":
            continue
        holder = row.setdefault(field.outer, {}) if field.outer else row
        holder[field.inner] = codec_of(field.kind).write(value)
    if "poles" in row:
        row["poles"] = _poles(record)
    if "far_ends" in row:
        row["far_ends"] = [_row(end) for end in record.far_ends]
    if row.get("against") not in (None, "raceway", "PE"):
        row["against"] = tags.format_tag(record.against)
    return row


def _poles(device: Device) -> list[list[str]]:
    """Return the poles with the device's own name left out: ``Q4:1`` of Q4 is ``1``."""
    own = f"{device.code}:"
    return [[_short(name, own) for name in pole] for pole in device.poles]


def _short(name: str, own: str) -> str:
    rest = name.removeprefix(own)
    return name if ":" in rest or not rest else rest
