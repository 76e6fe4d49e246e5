# SPDX-License-Identifier: MIT
"""How a step of a ring-out is put to people: names, sentences, buttons and keys."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from wiretrack.late import dataclass
from wiretrack.ringout.bundle import RACEWAY

Naming = Callable[[str], str]


@dataclass(frozen=True)
class Names:
    """What places and ends are called where a ring-out is done.

    `boxes` names the places. `known` is what is known of an end, as one says it: "PV-A L+, red".
    """

    boxes: Mapping[str, str]
    known: Mapping[str, str]

    def end(self, name: str) -> str:
        """Return an end as one says it in a sentence."""
        return "the raceway" if name == RACEWAY else self.full(name)

    def full(self, name: str) -> str:
        """Return an end with what is known of it."""
        known = self.known.get(name)
        return f"{name} ({known})" if known else name


class Aloud(Names):
    """Names as one reads them aloud, as short as they stay clear."""

    def full(self, name: str) -> str:
        """Return a mark with its colour; another end by what only it is, or its last four letters.

        >>> known = {"0AZ-EMTB": "PV-A L+, red", "7G1-99ZS": "spare", "M0H-TA7K": "spare"}
        >>> Aloud({}, known).full("0AZ-EMTB"), Aloud({}, known).full("7G1-99ZS")
        ('PV-A L plus, red', '9 9 Z S')
        """
        known = _POLE.sub(lambda pole: _POLES[pole[0]], self.known.get(name, ""))
        if name.isdecimal():
            return f"{name}, {known}," if known else name
        alone = list(self.known.values()).count(self.known.get(name, "")) == 1
        return known if known and alone else " ".join(name[-4:])


_POLE = re.compile(r"(?<=L)[+-]")
_POLES = {"+": " plus", "-": " minus"}


@dataclass(frozen=True)
class Button:
    """What one tap answers: as it is typed, and the words on the button."""

    typed: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Prompt:
    """How a step is put to a person.

    `danger` is read first. `title` is the step in the fewest words, below the place.
    Its lines say the rest, set as `shape` says, after the whole sentence if `is_told`. `buttons`
    answer it, `put_off` where it can't be done, and `number` is what may be typed instead. `keys`
    tells people at a terminal what to type; Enter alone will do where `enter_does`.
    """

    title: str
    shape: str
    danger: str = ""
    is_told: bool = False
    buttons: tuple[Button, ...] = (Button("done", "Done"),)
    put_off: tuple[Button, ...] = ()
    number: str = ""
    keys: str = "Enter when done"
    enter_does: bool = True


DIODE_HINTS = (
    "Any rectifier diode does (1N4007, say); the band is its cathode.",
    "Set the meter to its diode range: an ohms range may be too weak to make a diode conduct."
    " Hold red as plus, black as minus, the same at both boxes (common practice).",
)
ALONE_HINT = "The touches at this box show whether it conducts, and which way round it is."
HELPER_HINT = "Look at the band twice: no reading can show the diode put on wrongly."
_PUT_OFF = (Button("live", "Voltage on it: stop"), Button("skip", "Can't reach it now: put off"))
TOUCH = Prompt(
    title="Touch",
    shape="probe",
    buttons=(Button("c", "closed"), Button("o", "open")),
    put_off=_PUT_OFF,
    number="the ohms",
    keys="c closed · o open · or the ohms · s skip",
    enter_does=False,
)
LISTEN = Prompt(
    title="Listen for the tone",
    shape="probe",
    buttons=(Button("l", "loud"), Button("f", "faint"), Button("n", "none")),
    keys="l loud · f faint · n none",
    enter_does=False,
)
DIODE_TOUCH = Prompt(
    title="Touch, on the diode range",
    shape="polar",
    buttons=(Button("c", "flows"), Button("o", "none")),
    put_off=_PUT_OFF,
    number="the volts shown",
    keys="c current flows · o none · or the volts shown · s skip",
    enter_does=False,
)
