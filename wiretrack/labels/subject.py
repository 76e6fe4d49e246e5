# SPDX-License-Identifier: MIT
"""What a label is about, in words, and the kinds of label that can be asked for.

A kind makes its subjects of the records of a site. One that a single form carries stands in the
file of that form; those of conductors' ends, which several forms carry, stand here.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, ClassVar, Literal, cast

from wiretrack.electrical.dimensions import MM_PER_IN, outside_of
from wiretrack.electrical.runs import Wire
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull
from wiretrack.model.labels import LabelFacts, label_facts
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.model.entities import ConductorEnd
    from wiretrack.model.site import Site


Side = Literal["from", "to"]
Contents = Literal["full", "short", "tag", "long"]
CONTENTS: tuple[Contents, ...] = ("full", "short", "tag", "long")


@dataclass(frozen=True, kw_only=True)
class Subject(ABC):
    """What one label is about; without a payload it has no code."""

    payload: str = ""
    end: Side | None = None

    @property
    @abstractmethod
    def name(self) -> str:
        """What the label is called when it is spoken of."""


@dataclass(frozen=True, kw_only=True)
class EndSubject(Subject):
    """Something with a legend, and perhaps a code, that may go round a conductor.

    `heading` says whether its name is to be read from afar.
    """

    heading: ClassVar[bool] = False
    outer_diameter_mm: float | None = None

    @abstractmethod
    def legend(self, contents: Contents) -> tuple[str | None, ...]:
        """Return the items of its legend, its name first; what is empty is left out."""


@dataclass(frozen=True, kw_only=True)
class LabelSubject(LabelFacts, EndSubject):
    """One end of a conductor; `this_place` is where its label goes, `other_place` the far end."""

    tag: str
    end: Side = "from"

    @property
    def name(self) -> str:
        """The tag as people write it."""
        return format_tag(self.tag)

    def legend(self, contents: Contents) -> tuple[str | None, ...]:
        """Return its tag, its circuit, this end, then the other end."""
        circuit = _joined(self.circuit, self.function)
        here, there = self.this_place, leading_to(self.other_place)
        choices: dict[Contents, tuple[str | None, ...]] = {
            "tag": (),
            "short": (circuit, here),
            "full": (circuit, here, there),
            "long": (
                circuit,
                self.title,
                here,
                there,
                _joined(self.size, self.colour),
                self.core,
            ),
        }
        return (self.name, *choices[contents])

    def said(self, contents: Contents = "full", *, text_only: bool = False) -> dict[str, str]:
        """Return what a label of these contents says of each fact, as the print log keeps it."""
        told = _TOLD[contents] if text_only else (*_TOLD[contents], "payload")
        said = {name: getattr(self, name) for name in told}
        return {name: text for name, text in said.items() if text or name != "core"}


# The facts that each choice of contents tells beside the tag.
_TOLD: dict[Contents, tuple[str, ...]] = {
    "tag": (),
    "short": ("circuit", "function", "this_place"),
    "full": ("circuit", "function", "this_place", "other_place"),
    "long": (
        "circuit", "function", "title", "this_place", "other_place", "size", "colour", "core",
    ),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PullNumber(EndSubject):
    """A temporary number, the same at both ends, put on a conductor before it is pulled."""

    heading = True
    number: str
    pull: str | None = None
    this_place: str | None = None
    other_place: str | None = None
    end: Side = "from"

    @property
    def name(self) -> str:
        """What the label is called when it is spoken of."""
        return f"pull number {self.number}"

    def legend(self, contents: Contents) -> tuple[str | None, ...]:
        """Return its number, its pull, this end, then the other end."""
        places = (self.pull, self.this_place, leading_to(self.other_place))
        return (self.number, *(() if contents == "tag" else places))


def leading_to(place: str | None) -> str:
    """Return a place as a legend points to it."""
    return f"→ {place}" if place else ""


def _joined(*parts: str | None) -> str:
    return " ".join(part for part in parts if part)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Of what labels are asked for: a record by its kind and code, or the whole site.

    `part` is what was written behind a box and a slash; pitch and texts are those of terminals.
    """

    site: Site
    what: str | None = None
    code: str = ""
    part: str | None = None
    pitch_mm: float | None = None
    terminals: tuple[str, ...] = ()

    @property
    def enclosure(self) -> Enclosure:
        """The box that is named."""
        return self.site.one(Enclosure, self.code)

    @property
    def conductors(self) -> list[Conductor]:
        """The conductors in use that are named, or that the named record holds."""
        if self.what is None:
            found = self.site.every(Conductor)
        elif self.what == "raceway":
            pulls = [pull.code for pull in self.site.at(Pull, "raceway", self.code)]
            found = self.site.find(Conductor, "pull", pulls)
        else:
            by = "tag" if self.what == "conductor" else self.what
            found = self.site.find(Conductor, by, [self.code])
        return [conductor for conductor in found if conductor.retired_at is None]

    @property
    def ends(self) -> list[ConductorEnd]:
        """Both ends of these conductors; where a box is named, those that lie in it."""
        box = self.code if self.what == "enclosure" else None
        ends = (end for conductor in self.conductors for end in conductor.sides)
        return [end for end in ends if box in (None, end.here.enclosure)]


class LabelKind(ABC):
    """One kind of label.

    `kind` is its name; `of` are the kinds of record that it is made of (`None`: whatever has a
    code). `of_conductors` says that it is made of conductors in use, `of_site` that nothing
    need be named, `of_parts` that a part of a box may be. `kept` says that it belongs to an end: it
    is noted, and can be due.
    """

    kind: ClassVar[str]
    of: ClassVar[tuple[str, ...] | None] = ("enclosure",)
    of_conductors: ClassVar[bool] = False
    of_site: ClassVar[bool] = False
    of_parts: ClassVar[bool] = False
    kept: ClassVar[bool] = False

    @abstractmethod
    def subjects(self, asked: Asked) -> Sequence[Subject]:
        """Return what the labels are about.

        Raises `BadInputError` if something needed isn't known.
        """


class ConductorLabels(LabelKind):
    """The label of a conductor at each of its ends."""

    kind = "conductor"
    of = None
    of_conductors = kept = True

    def subjects(self, asked: Asked) -> list[LabelSubject]:
        """Return the ends as their labels say them."""
        return label_subjects(asked.ends, asked.site, asked.site.facts.base_address)


class PullNumbers(LabelKind):
    """A number for each conductor, the same at both its ends."""

    kind = "pull-numbers"
    of = None
    of_conductors = True

    def subjects(self, asked: Asked) -> list[PullNumber]:
        """Return the numbers, counted from 1."""
        return [
            PullNumber(
                number=str(number),
                pull=conductor.pull,
                this_place=end.here.enclosure,
                other_place=end.there.enclosure,
                outer_diameter_mm=outer_diameter_mm(conductor),
                end=cast("Side", end.side),
            )
            for number, conductor in enumerate(asked.conductors, start=1)
            for end in conductor.sides
        ]


CONDUCTOR, PULL_NUMBERS = ConductorLabels(), PullNumbers()


def label_subjects(
    ends: Iterable[ConductorEnd], site: Site, base_address: str | None
) -> list[LabelSubject]:
    """Return the ends as their labels say them, whose codes lead to that address."""
    ends = list(ends)
    site.load(Circuit, "code", [code for end in ends for code in end.conductor.circuits])
    return [label_subject(end, base_address) for end in ends]


def label_subject(end: ConductorEnd, base_address: str | None = None) -> LabelSubject:
    """Return one end as its label says it."""
    return LabelSubject(
        **vars(label_facts(end, base_address)),
        tag=end.conductor.tag,
        outer_diameter_mm=outer_diameter_mm(end.conductor),
        end=cast("Side", end.side),
    )


def outer_diameter_mm(conductor: Conductor) -> float | None:
    """Return the outer diameter in mm: as recorded, else by NEC chapter 9 table 5; else `None`."""
    if conductor.outer_diameter_mm is not None:
        return conductor.outer_diameter_mm
    outside = outside_of(Wire(conductor, Circuit(code=conductor.circuit)))
    return outside.diameter_in * MM_PER_IN if outside else None


def natural(text: str) -> list[tuple[bool, int, str]]:
    """Return a key by which Q10 comes after Q9."""
    parts = re.split(r"(\d+)", text)
    return [(part.isdigit(), int(part) if part.isdigit() else 0, part) for part in parts]
