# SPDX-License-Identifier: MIT
"""The whole registry as one site document; loading that document gives an equal registry."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    Enclosure,
    Instrument,
    Raceway,
    Reading,
    SiteDocument,
    SiteFacts,
)
from wiretrack.store import fault_search_rows
from wiretrack.store.branching import plain
from wiretrack.store.rows import numbered
from wiretrack.store.source import StoredSource, site_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entity import R
    from wiretrack.store.store import Registry

Row = dict[str, Any]


def document(registry: Registry) -> SiteDocument:
    """Return everything that `registry` holds, in the order in which it came."""
    rows = registry.rows
    return replace(
        StoredSource(registry).everything(),
        rest={
            "ringouts": _ringouts(registry),
            "fault_searches": fault_search_rows.dumped(registry),
            "label_prints": tuple(_unpacked(r, "legend") for r in rows(_LABEL_PRINTS)),
            "placed_labels": tuple(_unpacked(r, "legend") for r in rows(_PLACED_LABELS)),
            "changes": tuple(_unpacked(r, "old", "new") for r in rows(_CHANGES)),
        },
    )


def site(registry: Registry) -> SiteFacts:
    """Return the site's own data."""
    return StoredSource(registry).facts()


def raceways(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Raceway]:
    """Return the raceways that meet the SQL condition `where` (r: the raceway)."""
    return _all(registry, Raceway, where, parameters)


def conductors(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Conductor]:
    """Return the conductors that meet the SQL condition `where` (c, k, p, f, t: see `rows`).

    Retired ones are among them; `service` leaves them out.
    """
    return _all(registry, Conductor, where, parameters)


def readings(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Reading]:
    """Return the readings that meet the SQL condition `where` (r: reading, c: conductor).

    They come in the order of their moments, whatever offset from UTC each was written with. Those
    of the future come first: they are dated wrongly, and the last one is the one that counts.
    """
    order = "julianday(r.at), r.rowid"
    found = _all(registry, Reading, where, parameters, order=order)
    return sorted(found, key=lambda reading: not days.in_future(reading.at))


def circuits(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Circuit]:
    """Return the circuits that meet the SQL condition `where`."""
    return _all(registry, Circuit, where, parameters)


def enclosures(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Enclosure]:
    """Return the enclosures that meet the SQL condition `where`."""
    return _all(registry, Enclosure, where, parameters)


def instruments(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Instrument]:
    """Return the instruments that meet the SQL condition `where`."""
    return _all(registry, Instrument, where, parameters)


def _all(
    registry: Registry, of: type[R], where: str, parameters: Iterable[Any], order: str = "number"
) -> list[R]:
    read = numbered(registry, of, where, list(parameters), order=order)
    return list(site_of(registry).adopt(of, read))


def called(codes: Iterable[str], column: str = "code") -> tuple[str, list[str]]:
    """Return the SQL condition that a code is one of `codes`, and its parameter."""
    return f"{column} IN (SELECT value FROM json_each(?))", [json.dumps(sorted(codes))]


_LABEL_PRINTS = """
    SELECT l.id, c.tag, l.side AS "end", l.form, l.stock, l.legend, l.file, l.at
    FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_PLACED_LABELS = """
    SELECT l.id, c.tag, l.side AS "end", l.print_id AS print, l.legend, l.takes_back, l.at, l.by
    FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_CHANGES = "SELECT id, at, by, what, record, action, old, new FROM changes ORDER BY seq"


def _unpacked(row: Row, *keys: str) -> Row:
    """Return the row without its unknowns, the JSON texts under `keys` as what they say."""
    return {
        key: json.loads(value) if key in keys else value
        for key, value in row.items()
        if value is not None
    }


def _ringouts(registry: Registry) -> tuple[Row, ...]:
    answers: defaultdict[str, list[Row]] = defaultdict(list)
    for row in registry.rows("SELECT * FROM ringout_answers ORDER BY ringout_id, seq"):
        answers[row.pop("ringout_id")].append(_unpacked(row, "step", "answer"))
    found = registry.rows(
        "SELECT g.id, p.code AS pull, n.code AS near, f.code AS far, g.settings, g.at, g.result"
        " FROM ringouts AS g JOIN pulls AS p ON p.id = g.pull_id"
        " JOIN enclosures AS n ON n.id = g.near_id JOIN enclosures AS f ON f.id = g.far_id"
        " ORDER BY g.rowid"
    )
    return tuple(
        {**_unpacked(row, "settings", "result"), "answers": plain(answers[row["id"]])}
        for row in found
    )
