# SPDX-License-Identifier: MIT
"""What a ring-out rests on, as it is stored: its boxes, ends and references, and the gear."""

from __future__ import annotations

from dataclasses import field, fields, replace
from typing import TYPE_CHECKING, Any, Self

from wiretrack.encoding import INLINE
from wiretrack.late import cached_property, dataclass
from wiretrack.model.tags import BODY_LENGTH
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd, Times

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from wiretrack.ringout.results import Match

NUMBER = "N"  # what a number in the near box begins with: N12; some tags do, too


@dataclass(frozen=True, kw_only=True)
class GearAsked:
    """Gear and crew as one asks for them: resistors as a list of values, the meter's code."""

    joins: str = "any"
    screen: str = "auto"
    check: str = "auto"
    resistors: str | None = None
    diode: bool = False
    tone: bool = False
    ohms: bool = False
    crew: int = 1
    instrument: str | None = None


GEAR = tuple(one.name for one in fields(GearAsked))
CHECK = {"check": "always"}  # what is said to check the matches of a finished ring-out


@dataclass(frozen=True, kw_only=True)
class Gear:
    """What there is to ring out with, and who: fields of `Bundle`, and the meter's code."""

    joins: str = "any"
    screen: str = "auto"
    check: str = "auto"
    resistors: tuple[float, ...] = ()
    diode: bool = False
    tone: bool = False
    ohms: bool = False
    crew: int = 1
    instrument: str | None = None

    @classmethod
    def of(cls, stored: Mapping[str, Any]) -> Self:
        """Return stored gear; what could not be asked for when it was stored is as by default."""
        known = {one.name: stored[one.name] for one in fields(cls) if one.name in stored}
        return cls(**known | {"resistors": tuple(stored["resistors"])})

    @property
    def asked(self) -> GearAsked:
        """The gear as one asks for it.

        >>> Gear(resistors=(100.0, 4700.0)).asked.resistors
        '100,4700'
        """
        typed = ",".join(f"{ohms:.15g}" for ohms in self.resistors)
        return GearAsked(**{**vars(self), "resistors": typed or None})

    @property
    def told(self) -> str:
        """The gear and crew as one tells it.

        >>> Gear(crew=2, diode=True, resistors=(100.0, 470.0)).told
        'a helper with a radio, resistors of 100, 470 Ω, a diode'
        """
        words = ["a helper with a radio" if self.crew == 2 else "alone"]
        if self.resistors:
            values = ", ".join(f"{ohms:g}" for ohms in self.resistors)
            words.append(f"resistors of {values} Ω")
        if self.diode:
            words.append("a diode")
        if self.tone:
            words.append("a tone generator")
        if self.ohms:
            words.append("ohms at each touch")
        if self.joins == "pairs":
            words.append("joins of two only")
        if self.screen == "none":
            words.append("no search for contacts")
        if self.screen == "first":
            words.append("a search for contacts first")
        if self.check != "auto":
            words.append(f"{'a' if self.check == 'always' else 'no'} check at the end")
        if self.instrument:
            words.append(f"instrument {self.instrument}")
        return ", ".join(words)


@dataclass(frozen=True)
class Earlier:
    """Gear that was used before, `until` a step."""

    gear: Gear = field(metadata={"json": INLINE})
    until: int


@dataclass(frozen=True, kw_only=True)
class Settings:
    """All that a ring-out rests on, as it is stored.

    `untagged` are the conductors of which nobody knows the near ends: those carry numbers, and a
    conductor is given to each pair once it is matched.
    """

    near_box: str
    far_box: str
    near: tuple[NearEnd, ...]
    far: tuple[FarEnd, ...]
    references: tuple[str, ...]
    start: str
    times: Times
    gear: Gear = field(metadata={"json": INLINE})
    earlier: tuple[Earlier, ...] = field(default=(), metadata={"blank": None})
    untagged: tuple[NearEnd, ...] = field(default=(), metadata={"blank": None})

    @classmethod
    def of(cls, stored: Mapping[str, Any]) -> Self:
        """Return the settings of a stored ring-out."""
        return cls(
            near_box=stored["near_box"],
            far_box=stored["far_box"],
            near=tuple(NearEnd(**end) for end in stored["near"]),
            far=tuple(FarEnd(**end) for end in stored["far"]),
            references=tuple(stored["references"]),
            start=stored["start"],
            times=Times(**stored["times"]),
            gear=Gear.of(stored),
            untagged=tuple(NearEnd(**end) for end in stored.get("untagged", ())),
            earlier=tuple(Earlier(Gear.of(one), one["until"]) for one in stored.get("earlier", ())),
        )

    @property
    def boxes(self) -> tuple[str, ...]:
        """The far boxes, in the order of the pull."""
        return tuple(dict.fromkeys(end.box or self.far_box for end in self.far))

    @property
    def far_boxes(self) -> str:
        """The far boxes as one writes them in a line."""
        return ", ".join(self.boxes)

    @cached_property
    def bundles(self) -> dict[str, Bundle]:
        """The bundle to ring out of each far box."""
        return {box: self._bundle(box) for box in self.boxes}

    def bundles_after(self, *, amended: bool) -> dict[str, Bundle]:
        """Return the bundles; where an answer was `amended`, all are checked at the end.

        Unless that is said to be left out.
        """
        wanted = amended and self.gear.check == "auto"
        said: dict[str, Any] = {"check": "led"} if wanted else {}
        return {box: replace(bundle, **said) for box, bundle in self.bundles.items()}

    def _bundle(self, box: str) -> Bundle:
        gear: dict[str, Any] = {k: v for k, v in vars(self.gear).items() if k != "instrument"}
        start: Any = self.start
        boxes = (self.near_box, box)
        start = "near" if box != self.far_box else start
        ends: dict[str, Any] = {
            place: tuple(end for end in ends if end.box in (None, box))
            for place, ends in (("near", self.near), ("far", self.far))
        } | {"references": self.references}
        return Bundle(**ends, start=start, times=self.times, boxes=boxes, **gear)

    @property
    def sought(self) -> tuple[str, ...]:
        """The tags of the conductors whose ends are to be found."""
        tagged = (end.name for end in self.near if end.name not in self.numbers)
        return (*tagged, *(end.name for end in self.untagged))

    @property
    def numbers(self) -> dict[str, NearEnd]:
        """The near ends that carry numbers, by these."""
        return {end.name: end for end in self.near if _is_number(end.name)}

    def given(self, matches: Iterable[Match]) -> list[Match]:
        """Return the matches with a tag given to each pair of numbers, as far as there is one.

        Conductors of one colour are alike, so each pair takes the next one of its colour.
        """
        free, found = list(self.untagged), []
        far, numbers = {end.name: end.colour for end in self.far}, self.numbers
        order = {end.name: number for number, end in enumerate(self.near)}
        for match in sorted(matches, key=lambda one: order[one.near]):
            if match.near in numbers:
                colour = numbers[match.near].colour or far[match.far]
                alike = (e for e in free if colour is None or e.colour in (colour, None))
                taken = next(alike, None)
                if taken is not None:
                    free.remove(taken)
                    match = replace(match, near=taken.name, near_mark=match.near)
            found.append(match)
        return found

    def asks_as(self, other: Settings) -> bool:
        """Return whether two ask for the same; ohms and times may have become known since."""
        return self._asked == other._asked

    @property
    def _asked(self) -> Settings:
        near = tuple(replace(end, expected_ohm=None) for end in self.near)
        return replace(self, near=near, times=Times(), earlier=())

    def has_ends_of(self, other: Settings) -> bool:
        """Return whether two are of the same ends, whatever is known of these."""
        return self._ends == other._ends

    @property
    def _ends(self) -> tuple[list[str], list[str]]:
        return [end.name for end in self.near], [end.name for end in self.far]

    def differing(self, other: Settings) -> str:
        """Return in words what two of the same ends differ in."""
        names = ("gear", "references", "start")
        found = [name for name in names if getattr(self, name) != getattr(other, name)]
        return " and ".join(found) or "colours"

    def turned_to(self, other: Settings, after: int) -> Settings:
        """Return the settings with what else there is in `other` from step `after` + 1 on."""
        earlier = (*self.earlier, Earlier(self.gear, after))
        return replace(other, start=self.start, earlier=earlier)

    @property
    def gear_used(self) -> list[str]:
        """Return which gear was used for which steps, a line each."""
        lines, first = [], 1
        for one in self.earlier:
            if one.until >= first:
                span = f"step {first}" if one.until == first else f"steps {first} to {one.until}"
                lines.append(f"{span}: {one.gear.told}")
            first = max(first, one.until + 1)
        now = self.gear.told
        return [*lines, f"from step {first} on: {now}"] if lines else [now]


def _is_number(name: str) -> bool:
    return name.startswith(NUMBER) and name[1:].isdigit() and len(name) <= BODY_LENGTH
