# SPDX-License-Identifier: MIT
"""The store as the source of a site: each look-up one query on an index."""

from __future__ import annotations

import json
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from wiretrack.model.document import SiteDocument
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, Instrument, SiteFacts, Terminal
from wiretrack.model.site import Site
from wiretrack.model.source import TABLES
from wiretrack.store import label_log
from wiretrack.store.rows import numbered

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from wiretrack.model.entity import Key, R
    from wiretrack.model.knowledge import Knowledge
    from wiretrack.model.labels import EndLabel
    from wiretrack.store.store import Registry

_KEYS = "(SELECT value FROM json_each(:keys))"
_BOXES = f"(SELECT id FROM enclosures WHERE code IN {_KEYS})"
_TERMINALS = (
    "(SELECT t.id FROM json_each(:keys) AS i"
    " CROSS JOIN enclosures AS e ON e.code = i.value ->> 0"
    " CROSS JOIN terminals AS t ON t.enclosure_id = e.id AND t.code = i.value ->> 1)"
)
_DEVICES = (
    "(SELECT d.id FROM json_each(:keys) AS i"
    " CROSS JOIN enclosures AS e ON e.code = i.value ->> 0"
    " CROSS JOIN devices AS d ON d.enclosure_id = e.id AND d.code = i.value ->> 1)"
)
_POLES = (
    f"(SELECT device_id FROM poles WHERE one_terminal_id IN {_TERMINALS}"
    f" UNION SELECT device_id FROM poles WHERE other_terminal_id IN {_TERMINALS})"
)
# What each relation of `model.source.KEYS` is in SQL; the aliases are those of `rows`.
_WHERE: dict[tuple[type, str], str] = {
    (Enclosure, "code"): f"e.code IN {_KEYS}",
    (Enclosure, "kind"): f"e.kind IN {_KEYS}",
    (Terminal, "place"): f"t.id IN {_TERMINALS}",
    (Terminal, "enclosure"): f"t.enclosure_id IN {_BOXES}",
    (Device, "place"): f"d.id IN {_DEVICES}",
    (Device, "enclosure"): f"d.enclosure_id IN {_BOXES}",
    (Device, "terminal"): f"d.id IN {_POLES}",
    (Raceway, "code"): f"r.code IN {_KEYS}",
    (Raceway, "enclosure"): f"r.from_enclosure_id IN {_BOXES} OR r.to_enclosure_id IN {_BOXES}",
    (Circuit, "code"): f"k.code IN {_KEYS}",
    (Pull, "code"): f"p.code IN {_KEYS}",
    (Pull, "raceway"): "p.id IN (SELECT x.pull_id FROM raceways AS r JOIN pull_raceways AS x"
    f" ON x.raceway_id = r.id WHERE r.code IN {_KEYS})",
    (Conductor, "tag"): f"c.tag IN {_KEYS}",
    (Conductor, "circuit"): "c.id IN (SELECT x.conductor_id FROM circuits AS k"
    f" JOIN conductor_circuits AS x ON x.circuit_id = k.id WHERE k.code IN {_KEYS})",
    (Conductor, "pull"): f"c.pull_id IN (SELECT id FROM pulls WHERE code IN {_KEYS})",
    (Conductor, "enclosure"): "c.id IN (SELECT conductor_id FROM ends WHERE enclosure_id IN"
    f" {_BOXES})",
    (Conductor, "terminal"): "c.id IN (SELECT conductor_id FROM ends WHERE terminal_id IN"
    f" {_TERMINALS})",
    (Conductor, "follows"): f"c.follows_id IN (SELECT id FROM conductors WHERE tag IN {_KEYS})",
    (Instrument, "code"): f"i.code IN {_KEYS}",
    (Reading, "id"): f"r.id IN {_KEYS}",
    (Reading, "subject"): f"r.conductor_id IN (SELECT id FROM conductors WHERE tag IN {_KEYS})",
    (Reading, "device"): f"r.device_id IN {_DEVICES}",
    (Reading, "circuit"): f"r.circuit_id IN (SELECT id FROM circuits WHERE code IN {_KEYS})",
    (Reading, "supersedes"): f"r.supersedes IN {_KEYS}",
}


class StoredSource:
    """The records of an open registry."""

    def __init__(self, registry: Registry) -> None:
        self._registry = registry

    def facts(self) -> SiteFacts:
        """Return the record of the site itself."""
        row = self._registry.row("SELECT * FROM site WHERE one = 1") or {}
        row.pop("one", None)
        return SiteFacts(**row)

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> Iterable[tuple[int, R]]:
        """Return the records that stand in a relation to one of the keys, as a `Source` does."""
        where = {"keys": json.dumps(list(keys))}
        return numbered(self._registry, of, _WHERE[of, by], where)

    def every(self, of: type[R]) -> Iterable[tuple[int, R]]:
        """Return all records of a kind, each with its number in the order of the record."""
        return numbered(self._registry, of)

    def everything(self) -> SiteDocument:
        """Return all records, without the logs that only a dump has."""
        tables: dict[str, Any] = {
            table: tuple(map(itemgetter(1), numbered(self._registry, of)))
            for of, table in TABLES.items()
        }
        return SiteDocument(site=self.facts(), **tables)

    def labels(self, tags: Collection[str]) -> Mapping[tuple[str, str], EndLabel]:
        """Return what the logs of labels hold of the ends of conductors, by tag and side."""
        return label_log.labels(self._registry, tags)


def site_of(registry: Registry) -> Site:
    """Return the site that a registry describes, as it is now."""
    return Site(StoredSource(registry), judge_of)


def judge_of(site: Site) -> Knowledge:
    """Return what follows from the record of a site."""
    from wiretrack.readings.judging import Judge  # what only looks a record up needn't load it

    return Judge(site)
