# SPDX-License-Identifier: MIT
"""What a word names, and all that the registry says about it; one way for each face."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import fields
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NamedTuple

from wiretrack.electrical.resistance import expected_of
from wiretrack.late import cached_property, dataclass
from wiretrack.model.circuits import as_json
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    Enclosure,
    Pull,
    Raceway,
    Reading,
    readings_of,
)
from wiretrack.model.entity import Point
from wiretrack.readings import reading_json
from wiretrack.tasks.change.retired import ABANDONED, is_in_place, retirement

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.electrical.resistance import Expected
    from wiretrack.model.entities import ConductorEnd
    from wiretrack.model.entity import Entity
    from wiretrack.model.parts import Device
    from wiretrack.tasks.change.retired import Retirement
    from wiretrack.tasks.test.absorption import TimedRatio

Json = dict[str, object]


class _Shown:
    """What is shown of one entity, the first of its fields."""

    @property
    def _entity(self) -> Any:
        return next(iter(vars(self).values()))

    @property
    def code(self) -> str:
        """What it is called."""
        return str(getattr(self._entity, "tag", None) or self._entity.code)

    @cached_property
    def noted(self) -> list[Entity]:
        """What notes on it may be of."""
        return [self._entity]


@dataclass(frozen=True)
class ConductorRecord(_Shown):
    """One conductor, with what follows from its record."""

    conductor: Conductor

    @cached_property
    def retired(self) -> Retirement | None:
        """When and why it was retired, and what is in its place."""
        return retirement(self.conductor)

    @cached_property
    def earlier(self) -> list[ConductorRecord]:
        """Those that it came from, the latest first; their readings are judged as theirs."""
        return [ConductorRecord(old) for old in self.conductor.earlier]

    @cached_property
    def expected(self) -> Expected | None:
        """What it should read at 20 °C; `None` where a fact or a table row lacks."""
        return expected_of(self.conductor)

    @cached_property
    def absorption(self) -> list[TimedRatio]:
        """The ratios of its timed insulation readings."""
        from wiretrack.tasks.test.absorption import absorption

        return absorption(r for r in self.conductor.readings if r.superseded_by is None)

    def as_json(self) -> Json:
        """Return the record as scripts read it."""
        c, expected = self.conductor, self.expected
        return {
            "tag": c.tag,
            "circuit": as_json(c.circuits),
            **{name: getattr(c, name) for name in _OF_A_CONDUCTOR},
            "retired": self.retired,
            "follows": c.follows,
            "earlier": [_earlier(old) for old in self.earlier],
            "ends": [_row(end, _OF_ITS_END) for end in c.sides],
            "route": c.route.raceways,
            "readings": [reading_json(r) | {"owed_again": r.is_stale} for r in c.readings],
            "absorption": self.absorption,
            "expected_ohms": expected and expected.ohms,
            "expected_at_c": expected and expected.at_c,
            "expected_source": expected and expected.source,
            **noted_json(*self.noted),
        }


_OF_A_CONDUCTOR = (
    "function", "size", "colour", "length_m", "metal", "insulation", "strands", "cable", "core",
    "pull", "note",
)  # fmt: skip


# What a row of each sort says: the attribute, by its path, of each key.
_OF_ITS_END = {
    "enclosure": "here.enclosure", "terminal": "here.terminal", "state": "here.state",
    "labelled": "label.holds", "end": "side", "mark": "here.mark",
    "reidentified": "here.reidentified", "label_printed_at": "label.printed_at",
    "label_placed_at": "label.placed_at", "label_waits": "label.waits",
    "identified": "is_identified", "label_untrue": "label.untrue",
}  # fmt: skip
_OF_AN_EARLIER = {
    "tag": "tag", "size": "size", "length_m": "length_m", "from": "from_end.place",
    "to": "to_end.place",
}  # fmt: skip
_IN_A_LIST = {
    "tag": "tag", "circuit": "circuit", "function": "function", "size": "size", "colour": "colour",
    "core": "core", "from": "from_end.place", "to": "to_end.place", "retired_at": "retired_at",
    "retired_because": "retired_because",
}  # fmt: skip
_LANDED = {
    "terminal": "here.terminal", "tag": "conductor.tag", "circuit": "conductor.circuit",
    "function": "conductor.function", "state": "here.state", "leads_to": "there.place",
}  # fmt: skip
_OF_A_RACEWAY = {"code": "code", "from": "from_enclosure", "to": "to_enclosure"}


def _row(thing: object, paths: Mapping[str, str]) -> Json:
    return {key: attrgetter(path)(thing) for key, path in paths.items()}


def _earlier(old: ConductorRecord) -> Json:
    readings = [reading_json(reading) | {"owed_again": False} for reading in old.conductor.readings]
    return {**_row(old.conductor, _OF_AN_EARLIER), "retired": old.retired, "readings": readings}


def _line(c: Conductor) -> Json:
    mark, states = c.to_end.mark or c.from_end.mark, [c.from_end.state, c.to_end.state]
    return {**_row(c, _IN_A_LIST), "mark": mark, "states": states}


def noted_json(*things: Entity) -> Json:
    """Return what is noted of records, and attached to them, as scripts read it."""
    notes = [note for thing in things for note in thing.notes]
    attachments = [each for thing in things for each in thing.attachments]
    return {
        "notes": [{name: getattr(n, name) for name in _OF_A_NOTE} for n in notes],
        "attachments": [{name: getattr(a, name) for name in _OF_A_FILE} for a in attachments],
    }


_OF_A_NOTE = ("id", "at", "by", "text", "what", "of")
_OF_A_FILE = ("id", "name", "type", "sha256", "at", "by", "what", "of")


class _Holder(_Shown):
    """Something that conductors belong to, those that are part of the work apart from others."""

    @property
    def found(self) -> Iterable[Conductor]:
        raise NotImplementedError

    @cached_property
    def conductors(self) -> list[Conductor]:
        """The conductors in use."""
        return [c for c in self.found if c.retired_at is None]

    @cached_property
    def retired(self) -> list[Conductor]:
        """Those that are retired."""
        return [c for c in self.found if c.retired_at is not None]

    def _lines(self) -> Json:
        return {
            "conductors": [_line(c) for c in self.conductors],
            "retired": [_line(c) for c in self.retired],
        }


@dataclass(frozen=True)
class CircuitRecord(_Holder):
    """One circuit with its conductors."""

    circuit: Circuit

    @property
    def found(self) -> Iterable[Conductor]:
        """Its conductors, retired ones too."""
        return self.circuit.conductors

    @cached_property
    def readings(self) -> list[Reading]:
        """What was read of the circuit itself."""
        return readings_of([self.circuit])

    def as_json(self) -> Json:
        """Return the record as scripts read it."""
        readings = [reading_json(reading) for reading in self.readings]
        own = {**_fields(self.circuit), **self._lines(), "readings": readings}
        return own | noted_json(*self.noted)


@dataclass(frozen=True)
class RacewayRecord(_Holder):
    """One raceway with what lies in it."""

    raceway: Raceway

    @property
    def found(self) -> Iterable[Conductor]:
        """The conductors that lie in it, abandoned ones too."""
        return filter(is_in_place, self.raceway.conductors)

    def as_json(self) -> Json:
        """Return the record as scripts read it."""
        record = _fields(self.raceway)
        ends = {"from": record.pop("from_enclosure"), "to": record.pop("to_enclosure")}
        return {**record, **ends, **self._lines(), **noted_json(*self.noted)}


@dataclass(frozen=True)
class PullRecord(_Holder):
    """One pull with its conductors."""

    pull: Pull

    @property
    def found(self) -> Iterable[Conductor]:
        """Its conductors, retired ones too."""
        return self.pull.conductors

    def as_json(self) -> Json:
        """Return the record as scripts read it."""
        boxes = self.pull.route.boxes
        own = {"code": self.pull.code, "path": self.pull.path, "enclosures": boxes}
        return {**own, **self._lines(), **noted_json(*self.noted)}


class OnTerminal(NamedTuple):
    """The ends on a terminal, which may be none; those on no terminal have `None` there."""

    terminal: str | None
    ends: list[ConductorEnd]


@dataclass(frozen=True)
class EnclosureRecord(_Shown):
    """One enclosure with what is in it."""

    enclosure: Enclosure

    @cached_property
    def abandoned(self) -> list[Conductor]:
        """The abandoned conductors that have an end in it."""
        return [c for c in self.enclosure.conductors if c.retired_because == ABANDONED]

    @cached_property
    def devices(self) -> list[tuple[Device, list[Reading]]]:
        """Its devices, each with what was read of it."""
        found = self.enclosure.devices
        places = [Point(device.enclosure, device.code) for device in found]
        self.enclosure.site.find(Reading, "device", places)  # at once
        return [(device, readings_of([device])) for device in found]

    @cached_property
    def noted(self) -> list[Entity]:
        """What notes on it may be of: itself, its devices and its terminals."""
        box = self.enclosure
        found: list[Entity] = [box, *box.devices, *box.terminals]
        box.site.load_notes(str(getattr(one, "id", "")) for one in found)
        return found

    @cached_property
    def terminals(self) -> list[OnTerminal]:
        """Each terminal as the record orders them, then the ends on none, if there are any."""
        on: defaultdict[str | None, list[ConductorEnd]] = defaultdict(list)
        for end in self.enclosure.ends:
            on[end.here.terminal].append(end)
        rows = [OnTerminal(each.code, on[each.code]) for each in self.enclosure.terminals]
        return rows + ([OnTerminal(None, on[None])] if on[None] else [])

    def as_json(self) -> Json:
        """Return the record as scripts read it."""
        return {
            **_fields(self.enclosure),
            "ends": [_row(end, _LANDED) for end in self.enclosure.ends],
            "abandoned": [_line(c) for c in self.abandoned],
            "raceways": [_row(raceway, _OF_A_RACEWAY) for raceway in self.enclosure.raceways],
            "devices": [
                {name: getattr(device, name) for name in _OF_A_DEVICE}
                | {"readings": [reading_json(reading) for reading in readings]}
                for device, readings in self.devices
            ],
            **noted_json(*self.noted),
        }


_OF_A_DEVICE = ("code", "kind", "closed", "rating_a", "termination_rating_c")


def _fields(record: Circuit | Enclosure | Raceway) -> Json:
    return {field.name: getattr(record, field.name) for field in fields(record)}


Record = ConductorRecord | CircuitRecord | EnclosureRecord | RacewayRecord | PullRecord
