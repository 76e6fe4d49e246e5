# SPDX-License-Identifier: MIT
"""What every step of a ring-out says of itself, to programs, commands and pages."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Self

from wiretrack.errors import StepError
from wiretrack.ringout.answers import LIKE_DONE, Answer, parse_done, typed_done
from wiretrack.ringout.bundle import RACEWAY, Place

if TYPE_CHECKING:
    from wiretrack.ringout.facts import Facts

Naming = Callable[[str], str]


@dataclass(frozen=True)
class Names:
    """What places and ends are called where a ring-out is done: boxes, and ends with colours."""

    boxes: Mapping[str, str]
    colours: Mapping[str, str | None]

    def end(self, name: str) -> str:
        """Return an end as one says it in a sentence."""
        return "the raceway" if name == RACEWAY else self.coloured(name)

    def coloured(self, name: str) -> str:
        """Return an end with its colour, as far as that is known."""
        colour = self.colours.get(name)
        return f"{name} ({colour})" if colour else name

    def short(self, name: str) -> str:
        """Return an end as a phone shows it: its name, then its colour."""
        colour = self.colours.get(name)
        return f"{name} {colour}" if colour else name


@dataclass(frozen=True)
class Button:
    """What one tap answers: as it is typed, and the words on the button."""

    typed: str
    words: str


DONE = Button("done", "Done")


@dataclass(frozen=True, kw_only=True)
class Prompt:
    """How a step is put to a person.

    `danger` is read first. `title` is the step in the fewest words, below `where` and the place.
    Its lines say the rest, set as `shape` says, after the whole sentence if `is_told`. `buttons`
    answer it, `put_off` where it can't be done, and `number` is what may be typed instead. `keys`
    tells people at a terminal what to type; Enter alone will do where `enter_does`.
    """

    title: str
    shape: str
    where: str = "In"
    danger: str = ""
    is_told: bool = False
    buttons: tuple[Button, ...] = (DONE,)
    put_off: tuple[Button, ...] = ()
    number: str = ""
    keys: str = "Enter when done"
    enter_does: bool = True


class Action(ABC):
    """A step that asks for something to be done at a place, and is answered when it is."""

    kind: ClassVar[str]
    at: Place
    like: ClassVar[str] = LIKE_DONE
    is_touch: ClassVar[bool] = False
    connects: ClassVar[bool] = False  # whether it holds ends together
    has_lines: ClassVar[bool] = False  # whether the sentence is whole only with the lines
    is_diode: ClassVar[bool] = False

    @property
    @abstractmethod
    def prompt(self) -> Prompt:
        """Return how it is put to a person."""

    @property
    def place(self) -> Place:
        """Return where one is when it is done."""
        return self.at

    def told(self, names: Names) -> str:
        """Return the step in a sentence."""
        return f"In {names.boxes[self.at]}: {self.doing(names)}"

    def doing(self, names: Names) -> str:
        """Return what is to be done at the place."""
        raise NotImplementedError

    def lines(self, named: Naming) -> list[str]:
        """Return what to do end by end, a line each, with ends as `named` writes them."""
        return []

    def hints(self, *, helped: bool) -> tuple[str, ...]:
        """Return how to do it, where that isn't plain; `helped` is by a second person."""
        return ()

    @abstractmethod
    def as_json(self) -> dict[str, Any]:
        """Return the step as the protocol writes it."""

    @classmethod
    @abstractmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Return the step of its protocol form."""

    @abstractmethod
    def carry_out(self, facts: Facts, answer: Answer) -> None:
        """Note in the facts that it was done, and what was read."""

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
        return self.parse(self._typed(text))

    def _parse(self, answer: Mapping[str, Any]) -> Answer:
        return parse_done(answer)

    def _typed(self, text: str) -> dict[str, Any]:
        return typed_done(text)
