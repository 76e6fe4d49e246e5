# SPDX-License-Identifier: MIT
"""What a label is about, in words: an end of a conductor, or what a form in `forms/` carries."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar, Literal

from wiretrack.model.labels import LabelFacts
from wiretrack.model.tags import format_tag

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
            "long": (circuit, self.title, here, there, _joined(self.size, self.colour)),
        }
        return (self.name, *choices[contents])

    def said(self, contents: Contents = "full", *, text_only: bool = False) -> dict[str, str]:
        """Return what a label of these contents says of each fact, as the print log keeps it."""
        told = _TOLD[contents] if text_only else (*_TOLD[contents], "payload")
        return {name: getattr(self, name) for name in told}


# The facts that each choice of contents tells beside the tag.
_TOLD: dict[Contents, tuple[str, ...]] = {
    "tag": (),
    "short": ("circuit", "function", "this_place"),
    "full": ("circuit", "function", "this_place", "other_place"),
    "long": (
        "circuit", "function", "title", "this_place", "other_place", "size", "colour",
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
