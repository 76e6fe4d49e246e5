# SPDX-License-Identifier: MIT
"""The nouns of a site as plain records; quantities in the unit that the name ends with.

`None` means unknown, always. An `id` (UUID) is made by the registry where it is missing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from wiretrack.late import cached_property, dataclass
from wiretrack.model import kinds as k
from wiretrack.model.entity import Entity, Point, Subject
from wiretrack.model.fields import fact, need
from wiretrack.model.labels import label_of
from wiretrack.model.parts import END, Device, End, FarEnd, Terminal
from wiretrack.model.reading import Reading, readings_of
from wiretrack.model.routes import Leg, Route, route_of
from wiretrack.model.tags import NO_TAG, Tag
from wiretrack.model.words import SPARE

if TYPE_CHECKING:
    from wiretrack.model.entity import PlannedTest
    from wiretrack.model.labels import EndLabel

__all__ = [
    "Circuit", "Conductor", "ConductorEnd", "Enclosure", "Pull", "Raceway", "Reading",
    "readings_of",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Enclosure(Entity):
    """Any box that conductors enter."""

    code: str = need("code", k.CODE, "Its short name, unique on the site.")
    kind: str | None = fact("kind", k.ENCLOSURE_KIND, "What sort of box it is.")
    name: str | None = fact("name", k.NAME, "What people call it.")
    where: str | None = fact("where", k.NAME, "Where on the site it is.")
    wet: bool | None = fact("wet", k.YES_OR_NO, "Whether it is a wet location.")
    sunlight: bool | None = fact("sunlight", k.YES_OR_NO, "Whether the sun shines on it.")
    indoors: bool | None = fact("indoors", k.YES_OR_NO, "Whether it is inside a building.")
    marked: bool | None = fact("marked", k.YES_OR_NO, "Whether the required markings are on it.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def conductors(self) -> tuple[Conductor, ...]:
        """Those with an end in it, retired ones too."""
        return self.site.at(Conductor, "enclosure", self.code)

    @property
    def raceways(self) -> tuple[Raceway, ...]:
        """Those that end at it."""
        return self.site.at(Raceway, "enclosure", self.code)

    @property
    def devices(self) -> tuple[Device, ...]:
        """The devices in it."""
        return self.site.at(Device, "enclosure", self.code)

    @property
    def terminals(self) -> tuple[Terminal, ...]:
        """The terminals in it that are listed."""
        return self.site.at(Terminal, "enclosure", self.code)

    @cached_property
    def ends(self) -> tuple[ConductorEnd, ...]:
        """The ends of conductors in use in it, by terminal; those on none come last."""
        ends = (e for c in self.conductors for e in c.sides)
        here = [e for e in ends if e.here.enclosure == self.code and not e.conductor.retired_at]
        return tuple(sorted(here, key=lambda e: (e.here.terminal is None, e.here.terminal or "")))


@dataclass(frozen=True, kw_only=True)
class Raceway(Entity):
    """One piece of pipe, trough or cable route between two enclosures."""

    code: str = need("code", k.CODE, "Its short name, unique on the site.")
    from_enclosure: str = need("from", k.CODE, "The enclosure at one end.", refers="enclosures")
    to_enclosure: str = need("to", k.CODE, "The enclosure at the other end.", refers="enclosures")
    type: str | None = fact("type", k.RACEWAY_TYPE, "What it is made as.")
    trade_size: str | None = fact("trade_size", k.TRADE_SIZE, "Its trade size.")
    length_m: float | None = fact("length", k.LENGTH, "How long it is, from box to box.")
    bends_deg: float | None = fact("bends_deg", k.DEGREES, "The total of its bends.")
    metal: bool | None = fact("metal", k.YES_OR_NO, "Whether it is of metal.")
    wet: bool | None = fact("wet", k.YES_OR_NO, "Whether it is a wet location.")
    sunlight: bool | None = fact("sunlight", k.YES_OR_NO, "Whether the sun shines on it.")
    indoors: bool | None = fact("indoors", k.YES_OR_NO, "Whether it is inside a building.")
    ambient_c: float | None = fact("ambient", k.TEMPERATURE, "The hottest air around it.")
    walls_m: tuple[float, ...] = fact("walls", k.WALLS, "Where it goes through walls.", default=())
    width_mm: float | None = fact("width", k.SMALL_LENGTH, "Inside width of a wireway.")
    height_mm: float | None = fact("height", k.SMALL_LENGTH, "Inside height of a wireway.")
    above_roof_m: float | None = fact(
        "above_roof",
        k.HEIGHT,
        "How far above a roof in the sun its underside is, like 100 mm; 0 mm where it lies on it.",
    )
    marked: bool | None = fact("marked", k.YES_OR_NO, "Whether the required markings are on it.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def leg(self) -> Leg:
        """It as a way is walked, from its "from" end."""
        return Leg(self.code, self.from_enclosure, self.to_enclosure, self.length_m)

    @property
    def pulls(self) -> tuple[Pull, ...]:
        """The pulls through it."""
        return self.site.at(Pull, "raceway", self.code)

    @cached_property
    def conductors(self) -> tuple[Conductor, ...]:
        """Those of the pulls through it, retired ones too."""
        return tuple(self.site.find(Conductor, "pull", [pull.code for pull in self.pulls]))


@dataclass(frozen=True, kw_only=True)
class Circuit(Entity):
    """An electrical circuit."""

    code: str = need("code", k.CODE, "Its short name, unique on the site.")
    title: str | None = fact("title", k.NAME, "What it serves.")
    system: str | None = fact("system", k.SYSTEM, "What sort of circuit it is.")
    supply: str | None = fact("supply", k.SUPPLY, "Its nominal voltages.")
    earthing: str | None = fact(
        "earthing", k.EARTHING, "How its supply is earthed, where otherwise than the site's."
    )
    max_voltage_v: float | None = fact(
        "max_voltage",
        k.VOLTAGE,
        "AC: the nominal voltage, between lines where it has more than one.",
    )
    max_current_a: float | None = fact("max_current", k.CURRENT, "The current of its load.")
    overcurrent_a: float | None = fact("overcurrent", k.CURRENT, "Its overcurrent device's rating.")
    solidly_earthed: bool | None = fact(
        "solidly_earthed", k.YES_OR_NO, "Whether one of its conductors is earthed directly."
    )
    continuous: bool | None = fact(
        "continuous",
        k.YES_OR_NO,
        "Whether the load runs for 3 hours or more at its highest current.",
    )
    motor: bool | None = fact("motor", k.YES_OR_NO, "Whether the load is a motor.")
    module_voc_v: float | None = fact("module.voc", k.VOLTAGE, "Open-circuit voltage of a module.")
    module_isc_a: float | None = fact("module.isc", k.CURRENT, "Short-circuit current of a module.")
    module_voc_pct_per_k: float | None = fact(
        "module.voc_pct_per_k", k.COEFFICIENT, "Its change with temperature."
    )
    module_vmp_v: float | None = fact(
        "module.vmp", k.VOLTAGE, "Voltage of one module at its highest power."
    )
    module_imp_a: float | None = fact(
        "module.imp", k.CURRENT, "Current of one module at its highest power."
    )
    modules_in_series: int | None = fact("module.series", k.MODULES, "Modules in one string.")
    strings_in_parallel: int | None = fact("module.parallel", k.STRINGS, "Strings side by side.")
    retired_at: str | None = fact(
        "retired_at",
        k.DAY_OR_TIME,
        "When it was retired: kept, but no longer part of the work. All of its conductors are"
        " retired too.",
    )
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def conductors(self) -> tuple[Conductor, ...]:
        """Those that serve it, retired ones too."""
        return self.site.at(Conductor, "circuit", self.code)

    @property
    def in_service(self) -> list[Conductor]:
        """Those of its conductors that are part of the work."""
        return [c for c in self.conductors if c.retired_at is None]

    @property
    def subject(self) -> Subject:
        """What readings of it as a whole are of."""
        return Subject(self.code)

    @property
    def devices(self) -> list[Device]:
        """Those that its conductors in use are landed on."""
        places = [Point(e.enclosure, e.terminal) for c in self.in_service for e in c.ends
                  if e.terminal]  # fmt: skip
        return self.site.find(Device, "terminal", places)

    @property
    def measurable(self) -> list[Conductor | Device | Circuit]:
        """What a reading may be of: its conductors in use, its devices, and itself."""
        return [*self.in_service, *self.devices, self]

    @property
    def in_metal(self) -> bool | None:
        """Whether every raceway that it runs through is of metal; `None` if not known."""
        pulls = self.site.find(Pull, "code", [c.pull for c in self.in_service if c.pull])
        codes = [code for pull in pulls for code in pull.path]
        metal = [raceway.metal for raceway in self.site.find(Raceway, "code", codes)]
        return None if None in metal or not metal else all(metal)

    @property
    def readings(self) -> list[Reading]:
        """The readings of its conductors, its devices and itself, in order of time."""
        return readings_of([*self.conductors, *self.devices, self])

    @cached_property
    def owed(self) -> tuple[PlannedTest, ...]:
        """The readings that it needs and has none that passes, in working order."""
        return self.site.knowledge.owed(self)


@dataclass(frozen=True, kw_only=True)
class Pull(Entity):
    """Conductors drawn in together along a path of raceways."""

    code: str = need("code", k.CODE, "Its short name, unique on the site.")
    path: tuple[str, ...] = fact(
        "path", k.PATH, "Its raceways, first one first.", refers="raceways", default=()
    )
    far_ends: tuple[FarEnd, ...] = fact(
        "far_ends",
        k.listed("a list of far ends", FarEnd, 10000),
        "Ends that nobody has identified yet.",
        default=(),
    )
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def conductors(self) -> tuple[Conductor, ...]:
        """Those drawn in with it, retired ones too."""
        return self.site.at(Conductor, "pull", self.code)

    @cached_property
    def raceways(self) -> tuple[Raceway, ...]:
        """The raceways of its path, first one first."""
        found = {raceway.code: raceway for raceway in self.site.find(Raceway, "code", self.path)}
        return tuple(found[code] for code in self.path)

    @property
    def route(self) -> Route:
        """Its path in walking order."""
        return route_of([raceway.leg for raceway in self.raceways])


@dataclass(frozen=True, kw_only=True)
class Conductor(Entity):
    """One physical wire.

    Its tag has seven characters and no hyphen. Conductors of one function with different
    `parallel_set` share their circuit's current.
    """

    tag: Tag = fact("tag", k.TAG, "One is made where it is left out.", default=NO_TAG)
    circuits: tuple[str, ...] = fact(
        "circuit",
        k.CIRCUITS,
        "The circuit that it serves, or several that share it; left out for a spare.",
        refers="circuits",
        default=(),
    )
    function: str = need("function", k.FUNCTION, "What it is in its circuit.")
    size: str = need("size", k.SIZE, "Its cross-section.")
    metal: str | None = fact("metal", k.METAL, "What it is made of.")
    insulation: str | None = fact("insulation", k.INSULATION, "The type of its insulation.")
    strands: int | None = fact("strands", k.STRANDS, "How many strands it has.")
    cable: str | None = fact("cable", k.CODE, "The cable that it is a core of, by its code.")
    core: str | None = fact("core", k.CODE, "The number or letter of the core in its cable.")
    colour: str | None = fact("colour", k.COLOUR, "The colour of its insulation.")
    pull: str | None = fact("pull", k.CODE, "The pull that it was pulled in with.", refers="pulls")
    from_end: End = need("from", END, "Its end on the side of the supply.")
    to_end: End = need("to", END, "Its other end.")
    length_m: float | None = fact("length", k.LENGTH, "How long it is, from end to end.")
    outer_diameter_mm: float | None = fact(
        "outer_diameter", k.DIAMETER, "Over the insulation, like 4.2 mm."
    )
    parallel_set: int | None = fact("set", k.PARALLEL_SET, "The parallel set that it is of.")
    note: str | None = fact("note", k.NOTE, "What else is worth knowing.")
    retired_at: str | None = fact(
        "retired_at",
        k.DAY_OR_TIME,
        "When it was retired, or found so: kept, but no longer part of the work; its ends are as"
        " they were last.",
    )
    retired_because: str | None = fact("retired_because", k.RETIREMENT, "Why it was retired.")
    follows: Tag | None = fact(
        "follows",
        k.TAG,
        "The retired conductor that this one is a piece of, or replaces.",
        refers="conductors",
    )
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def ends(self) -> tuple[End, End]:
        """Both ends, the "from" end first."""
        return self.from_end, self.to_end

    @property
    def subject(self) -> str:
        """What readings of it are of."""
        return self.tag

    @property
    def between(self) -> frozenset[str]:
        """The boxes that it lies between."""
        return frozenset(end.enclosure for end in self.ends)

    @property
    def sides(self) -> tuple[ConductorEnd, ConductorEnd]:
        """Both ends with what is at the other one, the "from" end first."""
        here, there = self.ends
        return ConductorEnd(self, "from", here, there), ConductorEnd(self, "to", there, here)

    @cached_property
    def earlier(self) -> tuple[Conductor, ...]:
        """Those that it came from, one after another, the latest first."""
        found, here = list[Conductor](), self
        while here.follows is not None and all(here.follows != one.tag for one in found):
            here = self.site.one(Conductor, here.follows)
            found.append(here)
        return tuple(found)

    @property
    def followers(self) -> tuple[Conductor, ...]:
        """Those that are its pieces, or in its place; they may be retired too."""
        return self.site.at(Conductor, "follows", self.tag) if self.tag else ()

    @cached_property
    def in_its_place(self) -> tuple[Conductor, ...]:
        """Those in use that came of it, over however many changes."""
        found = ([c] if c.retired_at is None else c.in_its_place for c in self.followers)
        return tuple(c for some in found for c in some)

    @cached_property
    def labels(self) -> dict[str, EndLabel]:
        """The label of each end, by its side: printed, put on, and whether it is true."""
        return {end.side: label_of(end) for end in self.sides}

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """What was read of it, in order of time, superseded readings too."""
        return tuple(readings_of([self]))

    @property
    def owed(self) -> list[PlannedTest]:
        """Those of the readings due by its circuits that are of it."""
        found = (step for circuit in self.serves for step in circuit.owed)
        return list(dict.fromkeys(step for step in found if step.subject == self.tag))

    @property
    def serves(self) -> list[Circuit]:
        """The circuits that it serves."""
        return self.site.find(Circuit, "code", self.circuits)

    @property
    def circuit(self) -> str:
        """The circuits that it serves, as people write them: ``HOIST/PUMP``, or ``SPARE``."""
        return "/".join(self.circuits) or SPARE

    @cached_property
    def route(self) -> Route:
        """The raceways that it runs through, from its "from" end on; none without a pull."""
        pulls = self.site.at(Pull, "code", self.pull) if self.pull else ()
        path = [raceway.leg for pull in pulls for raceway in pull.raceways]
        return route_of(path, self.from_end.enclosure, self.to_end.enclosure)


class ConductorEnd(NamedTuple):
    """One end of a conductor, and what is at the other one."""

    conductor: Conductor
    side: str
    here: End
    there: End

    @property
    def label(self) -> EndLabel:
        """Its label: printed, put on, and whether it is true."""
        return self.conductor.labels[self.side]

    @property
    def is_identified(self) -> bool:
        """Whether it is known which end in its box it is; that of a near end tells its tag."""
        return self.here.is_told_apart or self.side == "from" or not self.conductor.pull
