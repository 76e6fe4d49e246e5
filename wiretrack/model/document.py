# SPDX-License-Identifier: MIT
"""All that a site file holds, in memory."""

from __future__ import annotations

from dataclasses import field, fields
from typing import TYPE_CHECKING

from wiretrack.late import dataclass
from wiretrack.model.parts import Instrument, SiteFacts, Terminal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
    from wiretrack.model.parts import Device


@dataclass(frozen=True, kw_only=True)
class SiteDocument:
    """All that a site file holds; `rest` keeps the tables that only a dump has, row by row."""

    site: SiteFacts = field(default_factory=SiteFacts)
    enclosures: tuple[Enclosure, ...] = ()
    terminals: tuple[Terminal, ...] = ()
    devices: tuple[Device, ...] = ()
    raceways: tuple[Raceway, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    pulls: tuple[Pull, ...] = ()
    conductors: tuple[Conductor, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    readings: tuple[Reading, ...] = ()
    rest: dict[str, tuple[dict[str, object], ...]] = field(default_factory=dict)

    def tables(self) -> Iterator[tuple[str, Iterable[object]]]:
        """Yield each table with its records, in the order of files."""
        for each in fields(self):
            if each.name not in ("site", "rest"):
                yield each.name, getattr(self, each.name)
        yield from self.rest.items()
