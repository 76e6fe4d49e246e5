# SPDX-License-Identifier: MIT
"""The records of a site that lead to no others: its own facts, terminals, ends, instruments."""

from __future__ import annotations

from wiretrack.late import dataclass
from wiretrack.model import kinds as k
from wiretrack.model.entity import Entity, Subject
from wiretrack.model.fields import Kind, fact, need


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """The property, its rule set and the figures that rules need of the place."""

    code: str | None = fact("code", k.CODE, "A short name of the site.")
    name: str | None = fact("name", k.NAME, "What the site is called.")
    units: str | None = fact("units", k.UNIT_OF_LENGTH, "The unit that lengths are shown in.")
    rules: str | None = fact("rules", k.RULE_SET, "The rule set that its wiring is judged by.")
    edition: int | None = fact("edition", k.EDITION, "Goes with the rule set NEC.")
    base_address: str | None = fact(
        "base_address", k.BASE_ADDRESS, "The address that labels lead to."
    )
    ambient_max_c: float | None = fact(
        "ambient_max", k.TEMPERATURE, "The hottest air that conductors on the site lie in."
    )
    record_low_c: float | None = fact(
        "record_low", k.TEMPERATURE, "The lowest air temperature to be expected."
    )
    time_zone: str | None = fact("time_zone", k.TIME_ZONE, "Where its days are counted.")
    earthing: str | None = fact("earthing", k.EARTHING, "How its supply is earthed.")
    walk_time_s: float | None = fact(
        "walk_time", k.DURATION, "Ringing out: a walk between the boxes."
    )
    twist_time_s: float | None = fact(
        "twist_time", k.DURATION, "Ringing out: an end twisted on or taken out."
    )
    touch_time_s: float | None = fact("touch_time", k.DURATION, "Ringing out: a touch.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")


@dataclass(frozen=True, kw_only=True)
class Terminal(Entity):
    """A named connection point; its code is unique in its enclosure.

    A terminal named in a landing need not be listed.
    """

    enclosure: str = need("enclosure", k.CODE, "The enclosure that it is in.", refers="enclosures")
    code: str = need("code", k.CODE, "Its name, unique in its enclosure.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")


@dataclass(frozen=True, kw_only=True)
class End:
    """One of the two ends of a conductor."""

    enclosure: str = need("enclosure", k.CODE, "The enclosure that it is in.", refers="enclosures")
    terminal: str | None = fact(
        "terminal", k.CODE, "The terminal that it is landed on.", refers="terminals"
    )
    state: str | None = fact("state", k.END_STATE, "An end that is landed names its terminal.")
    mark: str | None = fact("mark", k.CODE, "The end mark on its tape.")
    crossed_at: str | None = fact(
        "crossed_at",
        k.DAY_OR_TIME,
        "When it was last found crossed with another end; what was read by its landing before is"
        " due again.",
    )
    reidentified: str | None = fact(
        "reidentified",
        k.COLOUR,
        "The colour of the tape or paint on this end, where the insulation has another.",
    )
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")

    @property
    def is_told_apart(self) -> bool:
        """Whether it is known from the others beside it: rung out, landed, or capped as a spare."""
        return self.terminal is not None or self.mark is not None or self.state == "capped"

    @property
    def place(self) -> str:
        """Where it is, as labels and tables write it: enclosure and terminal."""
        return f"{self.enclosure} {self.terminal}" if self.terminal else self.enclosure


END = Kind("an end", record=End)


@dataclass(frozen=True, kw_only=True)
class FarEnd:
    """An end not yet identified: the mark on its tape and the colour seen."""

    enclosure: str = need("enclosure", k.CODE, "The enclosure that it is in.", refers="enclosures")
    mark: str = need("mark", k.CODE, "The end mark on its tape.")
    colour: str | None = fact("colour", k.COLOUR, "The colour seen.")


@dataclass(frozen=True, kw_only=True)
class Instrument(Entity):
    """A meter."""

    code: str = need("code", k.CODE, "Its short name, unique on the site.")
    kind: str | None = fact("kind", k.INSTRUMENT_KIND, "What sort of meter it is.")
    name: str | None = fact("name", k.NAME, "What people call it.")
    accuracy: str | None = fact("accuracy", k.ACCURACY, "Its accuracy.")
    resolution: str | None = fact("resolution", k.RESOLUTION, "Its resolution.")
    serial: str | None = fact("serial", k.NAME, "The number on its housing.")
    calibrated_on: str | None = fact("calibrated_on", k.DATE, "When it was calibrated last.")
    range: str | None = fact("range", k.RANGE, "The highest value that it shows.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")


@dataclass(frozen=True, kw_only=True)
class Device(Entity):
    """Something with poles; each pole joins two terminals while the device is closed."""

    @property
    def subject(self) -> Subject:
        """What readings of it are of."""
        return Subject.of_device(self.enclosure, self.code)

    enclosure: str = need("enclosure", k.CODE, "The enclosure that it is in.", refers="enclosures")
    code: str = need("code", k.CODE, "Its name, unique in its enclosure.")
    kind: str | None = fact("kind", k.DEVICE_KIND, "What sort of device it is.")
    closed: bool | None = fact("closed", k.YES_OR_NO, "Whether its poles connect their terminals.")
    rating_a: float | None = fact("rating", k.CURRENT, "The current that it is rated for.")
    termination_rating_c: float | None = fact(
        "termination_rating",
        k.TEMPERATURE,
        "The temperature that its terminals are listed for, like 75 C.",
    )
    poles: tuple[tuple[str, str], ...] = fact(
        "poles", k.POLES, "The terminals that it connects.", default=()
    )
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")
