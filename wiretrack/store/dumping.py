# SPDX-License-Identifier: MIT
"""The whole registry as one site document; loading that document gives an equal registry."""

from __future__ import annotations

import json
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    Device,
    Enclosure,
    End,
    FarEnd,
    Instrument,
    Pull,
    Raceway,
    Reading,
    SiteDocument,
    SiteFacts,
    Terminal,
)
from wiretrack.store import fault_search_rows
from wiretrack.store.branching import plain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.store.store import Registry

Row = dict[str, Any]
_TRUTHS = (
    "wet", "sunlight", "indoors", "metal", "closed", "solidly_earthed", "over_range",
    "continuous", "motor", "marked")  # fmt: skip


def document(registry: Registry) -> SiteDocument:
    """Return everything that `registry` holds, in the order in which it came."""
    rows = registry.rows
    return SiteDocument(
        site=site(registry),
        enclosures=tuple(enclosures(registry)),
        terminals=tuple(Terminal(**r) for r in rows(_TERMINALS)),
        devices=_devices(registry),
        raceways=tuple(_raceway(r) for r in rows(_RACEWAYS)),
        circuits=tuple(circuits(registry)),
        pulls=_pulls(registry),
        conductors=tuple(map(_conductor, rows(f"{CONDUCTORS} ORDER BY c.rowid"))),
        instruments=tuple(instruments(registry)),
        readings=tuple(Reading(**_truths(r)) for r in rows(f"{READINGS} ORDER BY r.rowid")),
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
    row = registry.row("SELECT * FROM site WHERE one = 1") or {}
    row.pop("one", None)
    return SiteFacts(**row)


def raceways(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Raceway]:
    """Return the raceways that meet the SQL condition `where` (r: the raceway)."""
    sql = _RACEWAYS.replace("ORDER BY", f"WHERE {where} ORDER BY")
    return [_raceway(row) for row in registry.rows(sql, list(parameters))]


def conductors(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Conductor]:
    """Return the conductors that meet the SQL condition `where` (c, k, p, f, t: see CONDUCTORS).

    Retired ones are among them; `service` leaves them out.
    """
    sql = f"{CONDUCTORS} WHERE {where} ORDER BY c.rowid"
    return [_conductor(row) for row in registry.rows(sql, list(parameters))]


def readings(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Reading]:
    """Return the readings that meet the SQL condition `where` (r: reading, c: conductor).

    They come in the order of their moments, whatever offset from UTC each was written with. Those
    of the future come first: they are dated wrongly, and the last one is the one that counts.
    """
    sql = f"{READINGS} WHERE {where} ORDER BY julianday(r.at), r.rowid"
    found = [Reading(**_truths(row)) for row in registry.rows(sql, list(parameters))]
    return sorted(found, key=lambda reading: not days.in_future(reading.at))


def circuits(registry: Registry, where: str = "1", parameters: Iterable[Any] = ()) -> list[Circuit]:
    """Return the circuits that meet the SQL condition `where`."""
    rows = registry.rows(f"SELECT * FROM circuits WHERE {where} ORDER BY rowid", list(parameters))
    return [Circuit(**_truths(row)) for row in rows]


def enclosures(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Enclosure]:
    """Return the enclosures that meet the SQL condition `where`."""
    rows = registry.rows(f"SELECT * FROM enclosures WHERE {where} ORDER BY rowid", list(parameters))
    return [Enclosure(**_truths(row)) for row in rows]


def instruments(
    registry: Registry, where: str = "1", parameters: Iterable[Any] = ()
) -> list[Instrument]:
    """Return the instruments that meet the SQL condition `where`."""
    rows = registry.rows(
        f"SELECT * FROM instruments WHERE {where} ORDER BY rowid", list(parameters)
    )
    return [Instrument(**row) for row in rows]


def called(codes: Iterable[str], column: str = "code") -> tuple[str, list[str]]:
    """Return the SQL condition that a code is one of `codes`, and its parameter."""
    return f"{column} IN (SELECT value FROM json_each(?))", [json.dumps(sorted(codes))]


CONDUCTORS = """
    SELECT c.*, k.code AS circuit, p.code AS pull, o.tag AS follows,
        fe.code AS f_enclosure, ft.code AS f_terminal, f.state AS f_state, f.mark AS f_mark,
        f.crossed_at AS f_crossed_at, f.reidentified AS f_reidentified,
        te.code AS t_enclosure, tt.code AS t_terminal, t.state AS t_state, t.mark AS t_mark,
        t.crossed_at AS t_crossed_at, t.reidentified AS t_reidentified
    FROM conductors AS c
    JOIN circuits AS k ON k.id = c.circuit_id
    LEFT JOIN pulls AS p ON p.id = c.pull_id
    LEFT JOIN conductors AS o ON o.id = c.follows_id
    JOIN ends AS f ON f.conductor_id = c.id AND f.side = 'from'
    JOIN enclosures AS fe ON fe.id = f.enclosure_id
    LEFT JOIN terminals AS ft ON ft.id = f.terminal_id
    JOIN ends AS t ON t.conductor_id = c.id AND t.side = 'to'
    JOIN enclosures AS te ON te.id = t.enclosure_id
    LEFT JOIN terminals AS tt ON tt.id = t.terminal_id"""
READINGS = """
    SELECT r.id, r.kind, c.tag AS subject, r.value, r.number, r.unit, r.over_range, r.at,
        i.code AS instrument, r.leads_ohm, r.temp_c, r.cell_temp_c, r.against, r.test_voltage_v,
        r.after_s, r.by, r.note, r.supersedes
    FROM readings AS r
    JOIN conductors AS c ON c.id = r.conductor_id
    LEFT JOIN instruments AS i ON i.id = r.instrument_id"""
_TERMINALS = """
    SELECT t.id, e.code AS enclosure, t.code
    FROM terminals AS t JOIN enclosures AS e ON e.id = t.enclosure_id ORDER BY t.rowid"""
_RACEWAYS = """
    SELECT r.*, a.code AS from_enclosure, b.code AS to_enclosure
    FROM raceways AS r
    JOIN enclosures AS a ON a.id = r.from_enclosure_id
    JOIN enclosures AS b ON b.id = r.to_enclosure_id ORDER BY r.rowid"""
_LABEL_PRINTS = """
    SELECT l.id, c.tag, l.side AS "end", l.form, l.stock, l.legend, l.file, l.at
    FROM label_prints AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_PLACED_LABELS = """
    SELECT l.id, c.tag, l.side AS "end", l.print_id AS print, l.legend, l.takes_back, l.at, l.by
    FROM placed_labels AS l JOIN conductors AS c ON c.id = l.conductor_id ORDER BY l.rowid"""
_CHANGES = "SELECT id, at, by, what, record, action, old, new FROM changes ORDER BY seq"


def _all(table: str) -> str:
    return f"SELECT * FROM {table} ORDER BY rowid"


def _truths(row: Row) -> Row:
    """Return the row with its 0 and 1 columns as truth values."""
    return {
        key: bool(value) if key in _TRUTHS and value is not None else value
        for key, value in row.items()
        if key != "nr"
    }


def _unpacked(row: Row, *keys: str) -> Row:
    """Return the row without its unknowns, the JSON texts under `keys` as what they say."""
    return {
        key: json.loads(value) if key in keys else value
        for key, value in row.items()
        if value is not None
    }


def _raceway(row: Row) -> Raceway:
    row = _truths(row)
    for key in ("from_enclosure_id", "to_enclosure_id"):
        del row[key]
    row["walls_m"] = tuple(json.loads(row["walls_m"]))
    return Raceway(**row)


def _conductor(row: Row) -> Conductor:
    row = dict(row)
    ends = {
        side: End(
            enclosure=row.pop(f"{side}_enclosure"),
            terminal=row.pop(f"{side}_terminal"),
            state=row.pop(f"{side}_state"),
            mark=row.pop(f"{side}_mark"),
            crossed_at=row.pop(f"{side}_crossed_at"),
            reidentified=row.pop(f"{side}_reidentified"),
        )
        for side in ("f", "t")
    }
    for key in ("nr", "circuit_id", "pull_id", "follows_id"):
        del row[key]
    return Conductor(from_end=ends["f"], to_end=ends["t"], **row)


def _devices(registry: Registry) -> tuple[Device, ...]:
    poles: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for row in registry.rows(
        "SELECT p.device_id, a.code AS one, b.code AS other FROM poles AS p"
        " JOIN terminals AS a ON a.id = p.one_terminal_id"
        " JOIN terminals AS b ON b.id = p.other_terminal_id ORDER BY p.device_id, p.position"
    ):
        poles[row["device_id"]].append((row["one"], row["other"]))
    found = registry.rows(
        "SELECT d.id, e.code AS enclosure, d.code, d.kind, d.closed, d.rating_a,"
        " d.termination_rating_c FROM devices AS d JOIN enclosures AS e"
        " ON e.id = d.enclosure_id ORDER BY d.rowid"
    )
    return tuple(Device(**_truths(row), poles=tuple(poles[row["id"]])) for row in found)


def _pulls(registry: Registry) -> tuple[Pull, ...]:
    paths: defaultdict[str, list[str]] = defaultdict(list)
    for row in registry.rows(
        "SELECT p.pull_id, r.code FROM pull_raceways AS p JOIN raceways AS r"
        " ON r.id = p.raceway_id ORDER BY p.pull_id, p.position"
    ):
        paths[row["pull_id"]].append(row["code"])
    far: defaultdict[str, list[FarEnd]] = defaultdict(list)
    for row in registry.rows(
        "SELECT f.pull_id, e.code AS enclosure, f.mark, f.colour FROM far_ends AS f"
        " JOIN enclosures AS e ON e.id = f.enclosure_id ORDER BY f.pull_id, f.position"
    ):
        far[row.pop("pull_id")].append(FarEnd(**row))
    return tuple(
        Pull(**_truths(row), path=tuple(paths[row["id"]]), far_ends=tuple(far[row["id"]]))
        for row in registry.rows(_all("pulls"))
    )


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
