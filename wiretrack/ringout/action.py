# SPDX-License-Identifier: MIT
"""What every step of a ring-out has: a place, its words for people, and which answers it takes."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Any, ClassVar

from wiretrack.errors import StepError
from wiretrack.late import dataclass
from wiretrack.ringout.answers import LIKE_DONE, parse_done, typed_done

if TYPE_CHECKING:
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Place
    from wiretrack.ringout.prompts import Names, Naming, Prompt

Parts = tuple[tuple[tuple[str, str], ...], ...]


@dataclass(frozen=True)
class _OfBox:
    """`box` is the far box that a step is for, where a ring-out has several."""

    box: str | None = field(default=None, kw_only=True, metadata={"blank": None})


class Action(_OfBox, ABC):
    """A step that asks for something to be done at a place, and is answered when it is."""

    kind: str
    at: Place
    like: ClassVar[str] = LIKE_DONE
    is_touch: ClassVar[bool] = False
    connects: ClassVar[bool] = False  # whether it holds ends together
    has_lines: ClassVar[bool] = False  # whether the sentence is whole only with the lines
    is_diode: ClassVar[bool] = False
    can_be_corrected: ClassVar[bool] = False  # whether another answer can replace the first

    @property
    @abstractmethod
    def prompt(self) -> Prompt:
        """How it is put to a person."""

    @property
    def place(self) -> Place:
        """Where one is when it is done."""
        return self.at

    def told(self, names: Names) -> str:
        """Return the step in a sentence."""
        return f"In {self.where(names)}: {self._doing(names)}"

    def where(self, names: Names) -> str:
        """Return the box where one is when it is done."""
        return (self.box if self.place == "far" else None) or names.boxes[self.place]

    @property
    def parts(self) -> Parts:
        """The ends that it is about, those held or touched together in one group.

        Each has what goes on it: a lead, a resistor, a leg of the diode.
        """
        return ()

    @property
    def ends_named(self) -> set[str]:
        """Every end that it is about."""
        return {end for group in self.parts for end, _ in group}

    def lines(self, named: Naming) -> list[str]:
        """Return what to do end by end, a line each, with ends as `named` writes them."""
        return [f"{what} {named(end)}".lstrip() for group in self.parts for end, what in group]

    def _doing(self, names: Names) -> str:
        raise NotImplementedError

    def hints(self, *, helped: bool) -> tuple[str, ...]:
        """Return how to do it, where that isn't plain; `helped` is by a second person."""
        return ()

    def parse(self, answer: Mapping[str, Any]) -> Answer:
        """Return an answer of the protocol, checked.

        Raises
        ------
        StepError
            If the answer isn't one that this step can have.
        """
        if not isinstance(answer, Mapping):
            raise StepError(f"The answer {answer!r} is not an object", f"Write it like {self.like}")
        return self._parse(answer)

    def typed(self, text: str) -> Answer:
        """Return the answer that a person typed.

        Raises
        ------
        BadInputError
            If it isn't one that this step can have.
        """
        return self._typed(text)

    def as_done(self, answer: Answer) -> Action:
        """Return what was carried out, by the answer: another step than was asked for, or it."""
        return self

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_done(answer)

    def _typed(self, text: str) -> Answer:
        return typed_done(text)
