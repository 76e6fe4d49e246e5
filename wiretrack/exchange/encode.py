# SPDX-License-Identifier: MIT
"""Records to rows of a site file; what is unknown is left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.exchange.fields import FAR_ENDS, SITE, TABLES, Table
from wiretrack.exchange.places import REST_NAMES
from wiretrack.model import tags

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.model.entities import Device, SiteDocument

Row = dict[str, Any]


def encode_site(document: SiteDocument) -> Row:
    """Return the row of the site, empty if nothing is known of it."""
    return _row(SITE, document.site)


def encode_tables(document: SiteDocument) -> Iterator[tuple[str, Iterator[Row]]]:
    """Return the name and the rows of each table that the document has, in file order."""
    for table in TABLES:
        found = getattr(document, table.name)
        if found:
            yield table.name, (_row(table, record) for record in found)
    for name in REST_NAMES:
        if name in document.rest:
            yield name, (_known_only(row) for row in document.rest[name])


def _known_only(row: dict[str, object]) -> Row:
    return {key: value for key, value in row.items() if value is not None}


def _row(table: Table, record: Any) -> Row:
    row: Row = {}
    for field in table.fields:
        value = record
        for name in field.attribute.split("."):
            value = getattr(value, name)
        if value is None or value == () or value == "":
            continue
        holder = row.setdefault(field.outer, {}) if field.outer else row
        holder[field.inner] = field.codec.write(value)
    if "poles" in row:
        row["poles"] = _poles(record)
    if FAR_ENDS.name in row:
        row[FAR_ENDS.name] = [_row(FAR_ENDS, end) for end in record.far_ends]
    if table.name == "readings" and record.against not in (None, "raceway", "PE"):
        row["against"] = tags.format_tag(record.against)
    return row


def _poles(device: Device) -> list[list[str]]:
    """Return the poles with the device's own name left out: ``Q4:1`` of Q4 is ``1``."""
    own = f"{device.code}:"
    return [[_short(name, own) for name in pole] for pole in device.poles]


def _short(name: str, own: str) -> str:
    rest = name.removeprefix(own)
    return name if ":" in rest or not rest else rest
