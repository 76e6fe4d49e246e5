# SPDX-License-Identifier: MIT
"""The bundle to be rung out: the ends at both places, what is known of them, and the gear."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import field
from typing import TYPE_CHECKING, Literal

from wiretrack.errors import BundleError
from wiretrack.late import cached_property, dataclass
from wiretrack.ringout.masks import mask_of

if TYPE_CHECKING:
    from collections.abc import Iterator

Place = Literal["near", "far"]
RACEWAY = "raceway"
PLACES: tuple[Place, Place] = ("near", "far")
MAX_CONDUCTORS = 500


def other_place(place: Place) -> Place:
    """Return the place at the opposite end of the bundle."""
    return "far" if place == "near" else "near"


@dataclass(frozen=True)
class Times:
    """What work takes, in seconds: common practice, unless a site says otherwise.

    >>> Times(walk_s=240).told
    'a walk 240 s, an end twisted on or taken out 12 s, a touch 4 s'
    """

    walk_s: float = 180.0  # between the boxes
    twist_s: float = 12.0  # an end twisted on, or taken out
    touch_s: float = 4.0

    def of(self, walks: float, twists: float, touches: float) -> float:
        """Return how long so many of each take, in seconds."""
        return walks * self.walk_s + twists * self.twist_s + touches * self.touch_s

    @property
    def told(self) -> str:
        """The times as one tells them."""
        return (
            f"a walk {self.walk_s:g} s, an end twisted on or taken out {self.twist_s:g} s,"
            f" a touch {self.touch_s:g} s"
        )


@dataclass(frozen=True, kw_only=True)
class NearEnd:
    """An end at the near place, named by its conductor's tag.

    `box` is the far box that it leads to, where there are several; `goes_on_as` names the conductor
    that it goes on as from a box between.
    """

    name: str
    colour: str | None = None
    expected_ohm: float | None = None
    box: str | None = field(default=None, metadata={"blank": None})
    goes_on_as: str | None = field(default=None, metadata={"blank": None})
    absent: bool = field(default=False, metadata={"json": None})


@dataclass(frozen=True, kw_only=True)
class FarEnd:
    """An end at the far place, named by its end mark."""

    name: str
    colour: str | None = None
    box: str | None = field(default=None, metadata={"blank": None})  # of several far ones
    absent: bool = field(default=False, metadata={"json": None})


@dataclass(frozen=True, kw_only=True)
class Bundle:
    """Conductors that run from one place to another, and what there is to ring them out with.

    Parameters
    ----------
    near, far : tuple of NearEnd, tuple of FarEnd
        The ends. An unknown colour is `None`. Where there are fewer at one place, absent ones are
        added to it: ends that nobody can touch, as of a conductor that is broken there.
    references : tuple of str
        What is known at both places: ``"raceway"``, or tags of identified conductors that are
        not among `near`.
    start : {"near", "far"}
        Where the person with the meter stands first.
    joins : {"any", "pairs"}
        Whether more than two ends can be held together.
    screen : {"auto", "first", "none"}
        Search for conductors that touch each other: before the first join or in the midst,
        whichever takes fewer touches; always before the first join; or never. Without it a
        short can go unnoticed.
    crew : {1, 2}
        2: a helper with a radio makes the joins at the place where the meter isn't.
    resistors : tuple of float
        The resistor kit [Ω]; empty for none.
    check : {"auto", "led", "always", "never"}
        Twist and touch some of the matched wires once more at the end: where anything was not
        smooth, in any case, so that all is sure, or never.
    diode : bool
        A diode is at hand, to tell two look-alikes apart that joins can't.
    ohms : bool
        Ohms are read at each touch, so that sizes or lengths that differ tell look-alikes apart.
    tone : bool
        A tone generator is at hand, to make likely what nothing else tells.
    leads_ohm : float or None
        Leads' resistance, contained in every reading. [Ω]
    closed_below_ohm : float or None
        The highest reading taken as closed; `None` picks it from the expected resistances. [Ω]
    times : Times
        What walks, twists and touches take; plans take the least in all.
    boxes : tuple of str
        What the near and the far place are called.

    Raises
    ------
    BundleError
        If the ends, references or options can't be; the message names the value.
    """

    near: tuple[NearEnd, ...]
    far: tuple[FarEnd, ...]
    references: tuple[str, ...] = ()
    start: Place = "near"
    joins: Literal["any", "pairs"] = "any"
    screen: Literal["auto", "first", "none"] = "auto"
    check: Literal["auto", "led", "always", "never"] = "auto"
    crew: int = 1
    resistors: tuple[float, ...] = ()
    diode: bool = False
    tone: bool = False
    ohms: bool = False
    leads_ohm: float | None = None
    closed_below_ohm: float | None = None
    times: Times = Times()
    boxes: tuple[str, str] = field(default=("the near box", "the far box"), compare=False)

    def __post_init__(self) -> None:
        count = max(len(self.near), len(self.far))
        near = (NearEnd(name=f"absent {i}", absent=True) for i in range(len(self.near), count))
        far = (FarEnd(name=f"absent {i}", absent=True) for i in range(len(self.far), count))
        object.__setattr__(self, "near", (*self.near, *near))
        object.__setattr__(self, "far", (*self.far, *far))
        for is_wrong, what, allowed in _check(self):
            if is_wrong:
                raise BundleError(what, allowed)

    @cached_property
    def _names(self) -> dict[Place, tuple[str, ...]]:
        return {
            "near": tuple(end.name for end in self.near) + self.references,
            "far": tuple(end.name for end in self.far) + self.references,
        }

    @cached_property
    def _indices(self) -> dict[Place, dict[str, int]]:
        return {
            place: {
                name: index
                for index, name in enumerate(self._names[place])
                if not self.absent[place] >> index & 1
            }
            for place in PLACES
        }

    @cached_property
    def absent(self) -> dict[Place, int]:
        """The ends that are added to a place that has fewer, as bits."""
        ends: dict[Place, tuple[NearEnd | FarEnd, ...]] = {"near": self.near, "far": self.far}
        return {at: mask_of(i for i, e in enumerate(ends[at]) if e.absent) for at in PLACES}

    @property
    def size(self) -> int:
        """Return how many conductors there are, those that reach one place only included."""
        return len(self.near)

    @property
    def twist(self) -> float:
        """Return how many touches twisting an end takes; infinite where no bunch can be made."""
        return math.inf if self.joins == "pairs" else self.times.twist_s / self.times.touch_s

    @property
    def most_matches(self) -> int:
        """Return how many conductors can reach both places at most."""
        return self.size - sum(gone.bit_count() for gone in self.absent.values())

    def box(self, place: Place) -> str:
        """Return what a place is called."""
        return self.boxes[PLACES.index(place)]

    def names(self, place: Place) -> tuple[str, ...]:
        """Return all that can be touched at `place`: its ends in order, then the references."""
        return self._names[place]

    def index(self, place: Place, name: str) -> int:
        """Return the position of `name` in ``names(place)``.

        Raises
        ------
        BundleError
            If there is no such end at `place`.
        """
        found = self._indices[place].get(name)
        if found is None:
            known = ", ".join(list(self._indices[place])[:12])
            raise BundleError(f"There is no end '{name}' in {self.box(place)}", f"Known: {known}")
        return found

    @cached_property
    def expects_ohms(self) -> bool:
        """Return whether the resistance of any conductor is known from its length and size."""
        return any(end.expected_ohm is not None for end in self.near)

    @cached_property
    def colours_agree(self) -> bool:
        """Return whether the colours seen at the two places can belong to the same wires."""
        near, far = (Counter(end.colour for end in ends) for ends in (self.near, self.far))
        spare_near, spare_far = near.pop(None, 0), far.pop(None, 0)
        return sum((near - far).values()) <= spare_far and sum((far - near).values()) <= spare_near


def _check(bundle: Bundle) -> Iterator[tuple[bool, str, str]]:
    """Yield whether something is wrong, what, and what is allowed; the first one counts."""
    allowed = f"It must have 1 to {MAX_CONDUCTORS}"
    for place in PLACES:
        count = bundle.size - bundle.absent[place].bit_count()
        told = f"The bundle has {count} conductors in {bundle.box(place)}"
        yield not 1 <= count <= MAX_CONDUCTORS, told, allowed
    for end in bundle.near:
        yield _ohms(f"Expected resistance of {end.name}", end.expected_ohm)
    for place in PLACES:
        names = bundle.names(place)
        for name, count in Counter(names).items():
            told = f"'{name}' is named {count} times in {bundle.box(place)}"
            yield count > 1, told, "Give every end and every reference a name of its own"
            no_name = f"An end in {bundle.box(place)} has no name"
            yield not name.strip(), no_name, "Name it by its tag or end mark"
        told = f"An end in {bundle.box(place)} is called '{RACEWAY}'"
        is_raceway = RACEWAY in names[: bundle.size]
        yield is_raceway, told, "That word is the metal raceway; give it as a reference"
    for option, values in _OPTIONS.items():
        value = getattr(bundle, option)
        yield value not in values, f"{option} is '{value}'", f"It must be {_either(values)}"
    yield _ohms("Leads' resistance", bundle.leads_ohm)
    yield _ohms("The highest closed reading", bundle.closed_below_ohm)
    for ohms in bundle.resistors:
        is_wrong = not (math.isfinite(ohms) and ohms > 0)
        yield is_wrong, f"A resistor of the kit has {ohms:g} ohm", "It must be above 0"


_OPTIONS: dict[str, tuple[object, ...]] = {
    "start": PLACES,
    "joins": ("any", "pairs"),
    "screen": ("auto", "first", "none"),
    "check": ("auto", "led", "always", "never"),
    "crew": (1, 2),
}


def _either(values: tuple[object, ...]) -> str:
    return " or ".join(map(str, values))


def _ohms(what: str, ohms: float | None) -> tuple[bool, str, str]:
    is_wrong = ohms is not None and not (math.isfinite(ohms) and ohms >= 0)
    return is_wrong, f"{what} is {ohms or 0:g} ohm", "It must be 0 or above, or left unknown"
