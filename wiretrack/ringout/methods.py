# SPDX-License-Identifier: MIT
"""The methods of the trade compared for one bundle: what each takes before it begins."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import lgamma, log
from typing import TYPE_CHECKING

from wiretrack.encoding import INLINE
from wiretrack.ringout.fitting import MOST_ROUNDS
from wiretrack.ringout.forecast import Forecast, forecast
from wiretrack.ringout.imagined import class_sizes
from wiretrack.ringout.ohms import usable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.ringout.bundle import Bundle

DIODE_NOTE = "Two wires that look the same stay unknown: a diode over them settles it in one walk."
ABOUT_NOTE = "~: scaled from a smaller bundle: within about 15 %."


@dataclass(frozen=True)
class Method:
    """One way to ring a bundle out: what it needs, why it takes what it takes, and that."""

    name: str = field(metadata={"json": "method"})
    needs: str
    why: str
    forecast: Forecast = field(metadata={"json": INLINE})


def information_bound(bundle: Bundle) -> float:
    """Return log2 of the number of arrangements: no plan needs fewer yes-or-no touches on average.

    Conductors of one colour, seen at both places, can change places with each other; those whose
    colour isn't seen at both can change places with all of those.

    >>> from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
    >>> near = tuple(NearEnd(name=f"T{i}") for i in range(4))
    >>> far = tuple(FarEnd(name=str(i)) for i in range(4))
    >>> round(information_bound(Bundle(near=near, far=far)), 3)
    4.585
    """
    return sum(lgamma(count + 1) for count in class_sizes(bundle)) / log(2)


def compare_methods(bundle: Bundle) -> list[Method]:
    """Return what each method takes for a bundle, the plainest first."""
    plain = replace(bundle, resistors=(), diode=False, crew=1, joins="any", screen="auto")
    alone = forecast(plain)
    return [
        Method("joins and walks", "the meter alone", _why_joins(alone), alone),
        *_with_diode(plain, alone),
        *_with_kit(replace(plain, resistors=bundle.resistors, start="far")),
        *_with_helper(replace(plain, crew=2)),
        *_with_less(plain),
    ]


def _why_joins(alone: Forecast) -> str:
    if not alone.whole:
        return "Joins look the same from both ends of two look-alikes."
    if alone.walks < 2:
        return "Colours and references tell all groups apart: the joins of one walk do."
    return "Joins here, then joins there: two walks match any number of wires but two."


def _with_diode(plain: Bundle, alone: Forecast) -> Iterator[Method]:
    """Yield the diode where it saves a walk, or does what joins can't."""
    found = forecast(replace(plain, diode=True)) if not alone.whole else alone
    if found.whole and not alone.whole:
        why = "It lets current through one way only: read both ways at both boxes."
        yield Method("diode", "a diode, a meter with a diode range", why, found)


def _with_kit(kitted: Bundle) -> Iterator[Method]:
    if not kitted.resistors:
        return
    values, largest = len(usable(kitted)), max(class_sizes(kitted))
    given = len(set(kitted.resistors))
    why = f"{values} of the {given} values can't be taken for each other; {largest} look alike."
    if values < 2 or values**MOST_ROUNDS < largest:
        why += " Too few to help."
    elif values < largest:
        why += " Each is used for several at a time, in two rounds."
    else:
        why += " One reading a conductor."
    needs = "the resistors given; begin at the far box"
    yield Method("resistor kit", needs, why, forecast(kitted))


def _with_helper(helped: Bundle) -> Iterator[Method]:
    why = "Joins as for one person; nobody walks to change them."
    yield Method(
        "helper with a radio", "somebody at the other box, two radios", why, forecast(helped)
    )


def _with_less(plain: Bundle) -> Iterator[Method]:
    pairs = forecast(replace(plain, joins="pairs"))
    why = "Pairs look like pairs: they are chained over both boxes, with more touches."
    yield Method("pairs only", "hands that twist two at a time", why, pairs)
    brief = forecast(replace(plain, screen="none"))
    why = "A short between two of them can go unnoticed, and swap a match."
    yield Method("no search for contacts", "an insulation test afterwards", why, brief)
