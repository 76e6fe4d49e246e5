# SPDX-License-Identifier: MIT
"""Rows of the right shape to drafts, and drafts to records.

A draft is a row with its values in SI units under the dotted keys of the file. A value with a
fault is left out of its draft, so that what refers to the row can still be checked.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.rest import REST_NAMES
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import End, FarEnd, SiteFacts
from wiretrack.model.source import TABLES, SiteDocument
from wiretrack.readings import parse_reading

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.exchange.places import Faults, Path
    from wiretrack.exchange.raw import RawSite

Draft = dict[str, Any]
Drafts = dict[str, list[Draft]]
MEASURED = "measured"


def read_drafts(raw: RawSite) -> Drafts:
    """Return the drafts of every table; the site is a table of one row."""
    data, faults = raw.data, raw.faults
    drafts: Drafts = {
        name: [_known_only(row) for row in data[name]] for name in REST_NAMES if name in data
    }
    drafts["site"] = [_draft(("site",), data.get("site", {}), SiteFacts, faults)]
    for of, table in TABLES.items():
        rows = enumerate(data.get(table, ()))
        drafts[table] = [_draft((table, at), row, of, faults) for at, row in rows]
    for draft in drafts["devices"]:
        _name_poles(draft)
    for number, draft in enumerate(drafts["pulls"]):
        _read_far_ends(("pulls", number, "far_ends"), draft, faults)
    for number, draft in enumerate(drafts["readings"]):
        _measure(("readings", number, "value"), draft, faults)
    for name in REST_NAMES:
        for row in drafts.get(name, ()):
            _lower_ids(row)
    return drafts


def _draft(path: Path, row: dict[str, Any], of: type, faults: Faults) -> Draft:
    draft: Draft = {}
    for key, outer, inner, read in _reading(of):
        value = (row.get(outer, {}) if outer else row).get(inner)
        if value is None:
            continue
        try:
            draft[key] = read(value)
        except BadInputError as error:
            faults.add((*path, *key.split(".")), str(error))
    return draft


@cache
def _reading(of: type) -> list[tuple[str, str, str, Callable[[Any], Any]]]:
    """Return the key of each field, those of the object and the value in it, what reads it."""
    return [(f.key, f.outer, f.inner, codec_of(f.kind).read) for f in flat_facts(of)]


def _name_poles(draft: Draft) -> None:
    """Give each terminal of a device its full name: ``1`` of Q4 is ``Q4:1``."""
    if "poles" not in draft or "code" not in draft:
        return
    code = draft["code"]
    full = [[name if ":" in name else f"{code}:{name}" for name in pole] for pole in draft["poles"]]
    draft["poles"] = tuple((one, other) for one, other in full)


def _read_far_ends(path: Path, draft: Draft, faults: Faults) -> None:
    rows = enumerate(draft.get("far_ends", ()))
    draft["far_ends"] = [_draft((*path, at), row, FarEnd, faults) for at, row in rows]


def _measure(path: Path, draft: Draft, faults: Faults) -> None:
    if "kind" not in draft or "value" not in draft:
        return
    try:
        draft[MEASURED] = parse_reading(draft["kind"], draft["value"])
    except BadInputError as error:
        faults.add(path, str(error))


def _known_only(row: Draft) -> Draft:
    return {key: value for key, value in row.items() if value is not None}


def _lower_ids(row: Draft) -> None:
    for holder in (row, *row.get("answers", ())):
        for key in ("id", "supersedes", "follows", "print", "takes_back"):
            if isinstance(holder.get(key), str):
                holder[key] = holder[key].lower()


def build(drafts: Drafts) -> SiteDocument:
    """Return the document that faultless drafts make."""
    tables: dict[str, Any] = {
        table: tuple(_record(of, draft) for draft in drafts[table]) for of, table in TABLES.items()
    }
    rest = {name: tuple(drafts[name]) for name in REST_NAMES if name in drafts}
    return SiteDocument(site=_record(SiteFacts, drafts["site"][0]), rest=rest, **tables)


def _record(of: type, draft: Draft) -> Any:
    values: dict[str, Any] = {}
    ends: dict[str, dict[str, Any]] = {}
    attributes = _attributes(of)
    for key, value in draft.items():
        if key in attributes:
            end, name = attributes[key]
            (ends.setdefault(end, {}) if end else values)[name] = value
    for end, inner in ends.items():
        values[end] = End(**inner)
    if MEASURED in draft:
        measured = draft[MEASURED]
        values |= {"number": measured.number, "unit": measured.unit}
        values["over_range"] = measured.over_range
    if "far_ends" in values:
        rows = values["far_ends"]
        values["far_ends"] = tuple(_record(FarEnd, row) for row in rows)
    return of(**values)


@cache
def _attributes(of: type) -> dict[str, tuple[str, str]]:
    """Return by the key of each field the attribute that it is, and of which end of a conductor."""
    return {field.key: field.name.rpartition(".")[::2] for field in flat_facts(of)}
