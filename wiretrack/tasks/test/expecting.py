# SPDX-License-Identifier: MIT
"""The reading to hope for, and the reverse: how long a conductor is that reads so much."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wiretrack.electrical.metals import METALS
from wiretrack.electrical.quantities import (
    parse_length_m,
    parse_resistance,
    parse_resistance_ohm,
    parse_temperature,
)
from wiretrack.electrical.resistance import (
    REFERENCE_C,
    compare_length,
    expected_resistance,
    likely_length,
)
from wiretrack.errors import BadInputError
from wiretrack.tasks.change.retired import conductor_in_service

if TYPE_CHECKING:
    from wiretrack.electrical.resistance import Expected, LengthComparison, LikelyLength
    from wiretrack.store.store import Registry


COPPER_ASSUMED = "metal not stated, copper taken"
REFERENCE_ASSUMED = "temperature not stated, 20 °C of IEC 60228 taken"


def expect(
    size: str,
    length: str,
    *,
    temp: str | None = None,
    metal: str | None = None,
    strands: int | None = None,
) -> Expected:
    """Return what a meter should read along such a conductor, and out and back.

    What isn't stated and was taken is named in ``assumed`` and in ``source``.
    """
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    expected = expected_resistance(size, parse_length_m(length), temp_c, metal or "Cu", strands)
    notes = ((metal, COPPER_ASSUMED), (temp, REFERENCE_ASSUMED))
    taken = tuple(note for stated, note in notes if not stated)
    source = "; ".join((expected.source, *taken))
    return replace(expected, source=source, assumed=(*expected.assumed, *taken))


def length_from(
    size: str,
    ohms: str,
    *,
    temp: str | None = None,
    metal: str | None = None,
    strands: int | None = None,
    leads: str | None = None,
) -> LikelyLength:
    """Return the length that a measured resistance means, with its range."""
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    return likely_length(_less(ohms, leads), size, temp_c, metal or "Cu", strands)


def compare_with_route(
    registry: Registry, text: str, ohms: str, *, temp: str | None = None, leads: str | None = None
) -> LengthComparison:
    """Return whether a conductor that reads `ohms` can lie on the route that its record gives."""
    conductor = conductor_in_service(registry, text)
    tag = str(conductor.tag)
    if conductor.metal is None:
        raise BadInputError(f"The metal of {tag} is unknown. Record it: {' or '.join(METALS)}.")
    temp_c = parse_temperature(temp) if temp else REFERENCE_C
    likely = likely_length(
        _less(ohms, leads), conductor.size, temp_c, conductor.metal, conductor.strands
    )
    route_m = conductor.route.length_m if conductor.length_m is None else conductor.length_m
    if route_m is None:
        raise BadInputError(
            f"Neither {tag} nor every raceway of its route has a length. Record one of them."
        )
    return compare_length(likely, route_m, tag)


def _less(ohms: str, leads: str | None) -> float:
    measured = parse_resistance(ohms)
    if measured.number is None or measured.over_range:
        raise BadInputError(f"'{ohms}' is open, so it says nothing of a length. Give the ohms.")
    less = measured.number - (parse_resistance_ohm(leads) if leads else 0.0)
    if less <= 0:
        raise BadInputError(
            f"The leads ({leads}) exceed the reading ({ohms}). Read both again, leads first."
            if leads
            else f"A reading of {ohms} says nothing of a length. Read it again with a finer range."
        )
    return less
