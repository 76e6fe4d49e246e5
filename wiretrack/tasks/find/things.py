# SPDX-License-Identifier: MIT
"""What has no page of its own: a device, a terminal, an instrument, the site; and what is noted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.late import dataclass
from wiretrack.model.entity import SITE
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import Device, Instrument, Terminal
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.find.records import noted_json

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

_THINGS: dict[str, type] = {"instrument": Instrument, "device": Device, "terminal": Terminal}


@dataclass(frozen=True)
class ThingRecord:
    """One of these, by its code; `fields` are those that are known, by their keys in a site file.

    `noted` is what has its notes.
    """

    what: str
    code: str
    fields: dict[str, tuple[str, object]]
    noted: list[Any]

    def as_json(self) -> dict[str, object]:
        """Return the record as scripts read it."""
        known = {key: value for key, (_, value) in self.fields.items()}
        return {"what": self.what, "of": self.code, **known, **noted_json(*self.noted)}


def thing(registry: Registry, what: str) -> ThingRecord:
    """Return the record of a device, a terminal, an instrument or ``site``."""
    named, site = resolve(registry, what, (*_THINGS, SITE)), site_of(registry)
    if named.what == SITE:
        return ThingRecord(SITE, SITE, _known(site.facts), [site])
    found: Any = site.one(_THINGS[named.what], named.point or named.code)
    return ThingRecord(named.what, named.code, _known(found), [found])


def _known(record: Any) -> dict[str, tuple[str, object]]:
    """Return the fields that are known: as people read them, and as they are."""
    of: type = type(record)
    found = {}
    for fact in flat_facts(of):
        value = getattr(record, fact.name)
        if value not in (None, ()):
            pairs = value if isinstance(value, tuple) else ()
            told = ", ".join(map("-".join, pairs)) or fact.kind.told(value)
            found[fact.key] = (told, value)
    return found
