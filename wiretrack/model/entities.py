# SPDX-License-Identifier: MIT
"""The nouns of a site as plain records; quantities in the unit that the name ends with.

`None` means unknown, always. Codes name records in files and on the command line; an `id`
(UUID, text) stays unique when two registries meet and is made by the registry where missing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from wiretrack.model.entity import Entity
from wiretrack.model.routes import Route, route_of


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """One property, its rule set and the figures that rules need of the place."""

    code: str | None = None
    name: str | None = None
    units: str | None = None
    rules: str | None = None
    edition: int | None = None
    base_address: str | None = None
    ambient_max_c: float | None = None
    record_low_c: float | None = None
    time_zone: str | None = None
    earthing: str | None = None
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Enclosure(Entity):
    """Any box that conductors enter."""

    code: str
    kind: str | None = None
    name: str | None = None
    where: str | None = None
    wet: bool | None = None
    sunlight: bool | None = None
    indoors: bool | None = None
    marked: bool | None = None
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Terminal(Entity):
    """A named connection point inside an enclosure; `code` is unique there."""

    enclosure: str
    code: str
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Device(Entity):
    """Something with poles in an enclosure; each pole joins two terminals while it is closed."""

    enclosure: str
    code: str
    kind: str | None = None
    closed: bool | None = None
    rating_a: float | None = None
    termination_rating_c: float | None = None
    poles: tuple[tuple[str, str], ...] = ()
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Raceway(Entity):
    """One piece of pipe, trough or cable route between two enclosures."""

    code: str
    from_enclosure: str
    to_enclosure: str
    type: str | None = None
    trade_size: str | None = None
    length_m: float | None = None
    bends_deg: float | None = None
    metal: bool | None = None
    wet: bool | None = None
    sunlight: bool | None = None
    indoors: bool | None = None
    ambient_c: float | None = None
    walls_m: tuple[float, ...] = ()
    width_mm: float | None = None
    height_mm: float | None = None
    above_roof_m: float | None = None
    marked: bool | None = None
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Circuit(Entity):
    """An electrical circuit; the module fields serve PV circuits only.

    A circuit with `retired_at` (a day or a time) is kept, but no longer part of the work.
    """

    code: str
    title: str | None = None
    system: str | None = None
    supply: str | None = None
    earthing: str | None = None
    max_voltage_v: float | None = None
    max_current_a: float | None = None
    overcurrent_a: float | None = None
    solidly_earthed: bool | None = None
    continuous: bool | None = None
    motor: bool | None = None
    module_voc_v: float | None = None
    module_isc_a: float | None = None
    module_voc_pct_per_k: float | None = None
    module_vmp_v: float | None = None
    module_imp_a: float | None = None
    modules_in_series: int | None = None
    strings_in_parallel: int | None = None
    retired_at: str | None = None
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class FarEnd:
    """An end not yet identified: the mark on its tape and the colour seen."""

    enclosure: str
    mark: str
    colour: str | None = None


@dataclass(frozen=True, kw_only=True)
class Pull(Entity):
    """Conductors drawn in together along a path of raceways, first raceway first."""

    code: str
    path: tuple[str, ...] = ()
    far_ends: tuple[FarEnd, ...] = ()
    id: str | None = None

    @cached_property
    def raceways(self) -> tuple[Raceway, ...]:
        """The raceways of its path, first one first."""
        found = {raceway.code: raceway for raceway in self.site.find(Raceway, "code", self.path)}
        return tuple(found[code] for code in self.path)

    @property
    def route(self) -> Route:
        """Its path in walking order."""
        return route_of(self.raceways)


@dataclass(frozen=True, kw_only=True)
class End:
    """One of the two ends of a conductor.

    `crossed_at` (a day or a time) is when it was last found crossed with another end;
    `reidentified` is the colour of the tape or paint on it, where the insulation has another.
    """

    enclosure: str
    terminal: str | None = None
    state: str | None = None
    mark: str | None = None
    crossed_at: str | None = None
    reidentified: str | None = None
    id: str | None = None

    @property
    def place(self) -> str:
        """Where it is, as labels and tables write it: enclosure and terminal."""
        return f"{self.enclosure} {self.terminal}" if self.terminal else self.enclosure


@dataclass(frozen=True, kw_only=True)
class Conductor(Entity):
    """One physical wire; `tag` has seven characters and no hyphen.

    One with `retired_at` (a day or a time) is kept, but no longer part of the work; its ends are
    as they were last. `follows` is the tag of the conductor that it is a piece of or in the place
    of. Conductors of one function with different `parallel_set` share their circuit's current.
    """

    circuit: str
    function: str
    size: str
    from_end: End
    to_end: End
    tag: str | None = None
    core: str | None = None
    metal: str | None = None
    insulation: str | None = None
    strands: int | None = None
    colour: str | None = None
    pull: str | None = None
    length_m: float | None = None
    outer_diameter_mm: float | None = None
    parallel_set: int | None = None
    note: str | None = None
    retired_at: str | None = None
    retired_because: str | None = None
    follows: str | None = None
    id: str | None = None

    @property
    def ends(self) -> tuple[End, End]:
        """Both ends, the "from" end first."""
        return self.from_end, self.to_end

    @cached_property
    def route(self) -> Route:
        """The raceways that it runs through, from its "from" end on; none without a pull."""
        if self.pull is None:
            return Route()
        path = self.site.one(Pull, self.pull).raceways
        return route_of(path, self.from_end.enclosure, self.to_end.enclosure)


@dataclass(frozen=True, kw_only=True)
class Instrument(Entity):
    """A meter; accuracy as its manual gives it, e.g. ``0.5% + 2 digits``.

    `range` is the highest value that it shows, with its unit, e.g. ``2000 Mohm``.
    """

    code: str
    kind: str | None = None
    name: str | None = None
    accuracy: str | None = None
    resolution: str | None = None
    serial: str | None = None
    calibrated_on: str | None = None
    range: str | None = None
    id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Reading(Entity):
    """One value taken with an instrument, never changed; `value` as typed, with its number in SI.

    `number` is in `unit` (``ohm``, ``V``); where `over_range` is true it is the bound shown by the
    instrument, or `None` for a bare ``OL``. `after_s` is how long a test voltage was on;
    `cell_temp_c` is how warm the cells of a PV string were.
    """

    kind: str
    subject: str
    value: str
    number: float | None
    unit: str
    over_range: bool = False
    at: str | None = None
    instrument: str | None = None
    leads_ohm: float | None = None
    temp_c: float | None = None
    against: str | None = None
    test_voltage_v: float | None = None
    after_s: float | None = None
    cell_temp_c: float | None = None
    by: str | None = None
    note: str | None = None
    supersedes: str | None = None
    id: str | None = None


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
