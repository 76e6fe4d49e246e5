# SPDX-License-Identifier: MIT
"""The methods of the trade compared for one bundle: what each takes before it begins."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from math import lgamma, log
from typing import TYPE_CHECKING

from wiretrack.ringout.forecast import Forecast, forecast

if TYPE_CHECKING:
    from wiretrack.ringout.bundle import Bundle

DIODE_NOTE = (
    "A diode from one far end to the other tells two look-alikes apart without another walk:"
    " the meter's diode range conducts one way round only. Note which end has the band."
)


@dataclass(frozen=True)
class Method:
    """One way to ring a bundle out, and what it takes."""

    name: str
    needs: str
    forecast: Forecast


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
    seen = Counter(end.colour for end in bundle.near)
    if not bundle.colours_agree or None in seen or any(end.colour is None for end in bundle.far):
        seen = Counter({None: bundle.size})
    return sum(lgamma(count + 1) for count in seen.values()) / log(2)


def compare_methods(bundle: Bundle) -> list[Method]:
    """Return what each method takes that the bundle's gear and crew allow, the plainest first."""
    plain = replace(bundle, resistors=(), crew=1, joins="any", screen="auto")
    choices = [
        ("joins and walks", "nothing but the meter", plain),
        ("no search for contacts", "an insulation test afterwards", replace(plain, screen="none")),
        ("pairs only", "two hands that twist two at a time", replace(plain, joins="pairs")),
        ("helper with a radio", "somebody at the other box", replace(plain, crew=2)),
    ]
    if bundle.resistors:
        kit = replace(plain, resistors=bundle.resistors, start="far")
        choices.append(("resistor kit", "the resistors given; begin at the far box", kit))
    return [Method(name, needs, forecast(one)) for name, needs, one in choices]
