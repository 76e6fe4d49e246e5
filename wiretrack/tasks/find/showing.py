# SPDX-License-Identifier: MIT
"""The record of what a word or a picture names, as it is or as it stood at the end of a day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from wiretrack import days
from wiretrack.errors import BadInputError, Hint, NotFoundError, TagError
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, readings_of
from wiretrack.model.entity import SITE
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import Device, Instrument, Terminal
from wiretrack.model.tags import box_in, format_tag, last_part, normalise, read_aloud, read_payload
from wiretrack.model.wiring import Wiring
from wiretrack.readings.base import latest
from wiretrack.store.history import ids_called
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.find.records import (
    CircuitRecord,
    ConductorRecord,
    EnclosureRecord,
    PullRecord,
    RacewayRecord,
    noted_json,
)
from wiretrack.tasks.report.punchlist import open_points_of

if TYPE_CHECKING:
    from pathlib import Path as File

    from wiretrack.model.path import Path
    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.tasks.find.records import Record
    from wiretrack.tasks.report.punchlist import OpenPoint

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


T = TypeVar("T")
_SHOWN: dict[str, tuple[type, type]] = {
    "conductor": (Conductor, ConductorRecord),
    "circuit": (Circuit, CircuitRecord),
    "enclosure": (Enclosure, EnclosureRecord),
    "raceway": (Raceway, RacewayRecord),
    "pull": (Pull, PullRecord),
}


def show(registry: Registry, what: str) -> Record:
    """Return the record of what a word names."""
    named = resolve(registry, what)
    of, record = _SHOWN[named.what]
    shown: Record = record(site_of(registry).one(of, named.code))
    return shown


def show_any(registry: Registry, what: str) -> Record | ThingRecord:
    """Return `show`, or the record of a device, a terminal, an instrument or ``site``."""
    try:
        return show(registry, what)
    except NotFoundError as error:
        try:
            return thing(registry, what)
        except NotFoundError:
            raise error from None


def show_as(registry: Registry, kind: type[T], what: str) -> T:
    """Return `show` of something that must be of this kind."""
    record = show(registry, what)
    if not isinstance(record, kind):
        raise NotFoundError(kind.__name__.removesuffix("Record").lower(), what)
    return record


def show_conductor(registry: Registry, text: str) -> ConductorRecord:
    """Return the record of the conductor that `text` (a tag in any writing) names."""
    return ConductorRecord(_conductor(registry, site_of(registry), text))


def _conductor(registry: Registry, site: Site, text: str) -> Conductor:
    found = site.at(Conductor, "tag", normalise(text))
    return found[0] if found else site.one(Conductor, tag_of(registry, text))  # which says why not


@dataclass(frozen=True)
class ConductorPage:
    """A conductor's record, its path (`None` if it is retired), and what is open about it."""

    record: ConductorRecord
    path: Path | None
    points: list[OpenPoint]


def conductor_page(registry: Registry, text: str) -> ConductorPage:
    """Return what there is to show of a conductor, each fact of it asked of the registry once."""
    site = site_of(registry)
    conductor = _conductor(registry, site, text)
    family = [conductor]
    if conductor.circuits:
        family = site.find(Conductor, "circuit", conductor.circuits)
    in_service = {one.tag for one in family if one.retired_at is None}
    rested = [r for r in latest(readings_of(family)) if r.subject in in_service and not r.is_stale]
    from wiretrack.model.path import path_of

    wiring = Wiring(site)
    return ConductorPage(
        record=ConductorRecord(conductor),
        path=None if conductor.retired_at else path_of(wiring, wiring.link(conductor)),
        points=open_points_of(registry, conductor, rested),
    )


@dataclass(frozen=True)
class Scanned:
    """A code in a picture: the tag or box in it, and its record, `None` where this has none."""

    payload: str
    tag: str | None
    enclosure: str | None
    record: ConductorRecord | EnclosureRecord | None


def scan(registry: Registry, image: File | bytes) -> list[Scanned]:
    """Return each code in the picture once."""
    from wiretrack.labels.scan import read_codes  # only here are pictures read

    return [_scanned(registry, payload) for payload in dict.fromkeys(read_codes(image))]


def _scanned(registry: Registry, payload: str) -> Scanned:
    aloud = read_aloud(payload) if last_part(payload) else None
    tag, box = read_payload(payload) or aloud, box_in(payload)
    record: ConductorRecord | EnclosureRecord | None = None
    try:
        if tag:
            record = show_conductor(registry, payload if aloud else tag)
        elif box:
            code = resolve(registry, box, ("enclosure",)).code
            record = EnclosureRecord(site_of(registry).one(Enclosure, code))
    except (NotFoundError, TagError):
        record = None
    return Scanned(payload, format_tag(tag) if tag else None, box, record)


def as_of(registry: Registry, text: str) -> Registry:
    """Return the registry, to be read, as it stood at the end of a day that somebody typed."""
    from wiretrack.store.changelog import as_entered

    day = days.typed_day(text)
    if day > days.today():
        raise BadInputError(f"{day} lies in the future: its record isn't written yet.", value=text)
    found = as_entered(registry, lambda at: days.day(at) <= day.isoformat())
    if found is None:
        raise BadInputError(f"By the end of {day} this registry had not begun.", value=text)
    return found


def show_as_of(registry: Registry, past: Registry, what: str, text: str) -> Record:
    """Return the record of what a word named at the end of a day; `past` is that of `as_of`."""
    try:
        return show(past, what)
    except NotFoundError as error:
        ids_called(registry, what)  # what nothing is called at all is an error of its own
        near = f" Close to it: {', '.join(error.near)}." if error.near else ""
        day, hint = days.typed_day(text), Hint(job="history-of", about=what)
        why = f"Nothing was called '{what}' by the end of {day}.{near}"
        raise BadInputError(why, hint, value=what) from None
