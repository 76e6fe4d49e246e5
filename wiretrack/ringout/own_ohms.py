# SPDX-License-Identifier: MIT
"""What the wires' own resistance says: sizes or lengths that differ tell look-alikes apart.

Of wires twisted together in the near box, each reading in the far box is the sum of two wires'
resistance, the leads' and a contact's. Every way to deal the wires to the ends is weighed by how
well it fits all readings (Bayes' rule, all ways alike beforehand). The wires of one pull share an
unknown factor, for their true length and temperature. Each has some per cent of its own.
"""

from __future__ import annotations

from itertools import combinations, permutations, product
from math import exp, log, sqrt
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits
from wiretrack.ringout.ohms import LEADS_OHM, METER_SHARE, PATH_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.candidates import Candidates, Contacts
    from wiretrack.ringout.stage import Stage

OWN_SHARE = 0.03  # common practice: how much one wire differs from others of its pull and size
TWIST_OHM = 0.05  # common practice: how much twists and contacts differ
TOLD = 0.999  # an end is told by ohms from here on
FEWEST, MOST = 3, 5  # ends twisted together: two read the same either way; more take long
_FACTORS = [1 + PATH_SHARE * step / 4 for step in range(-4, 5)]

Reading = tuple[int, int, float]  # two ends of a join, and the ohms read between them


def told(
    stage: Stage,
    found: Candidates,
    contacts: Contacts,
    expected: Sequence[float | None],
    leads_ohm: float | None,
) -> Iterator[tuple[int, int]]:
    """Yield the ends in the far box that the ohms of a stage tell, each with its near end.

    `expected` is what each near end's wire should have, as far as that is known. [Ω]
    """
    homes = stage.homes(found, contacts) if stage.at == "far" else None
    if homes is None or any(contacts.at("near")) or any(contacts.at("far")):
        return
    components, groups, domain = homes
    for component, home in zip(components, domain, strict=True):
        ends, wires = list(bits(component)), list(bits(groups[home.bit_length() - 1]))
        ohms = [expected[wire] if wire < len(expected) else None for wire in wires]
        known = [one for one in ohms if one]
        if home.bit_count() != 1 or len(ends) != len(wires) or len(known) != len(wires):
            continue
        readings = _readings(stage, ends)
        if FEWEST <= len(ends) <= MOST and len(readings) == len(ends) * (len(ends) - 1) // 2:
            ways = [
                way
                for way in permutations(range(len(wires)))
                if all(found.of["far"][e] >> wires[w] & 1 for e, w in zip(ends, way, strict=True))
            ]
            for place, wire in _sure(known, ways, readings, leads_ohm):
                yield ends[place], wires[wire]


def would_tell(ohms: list[float], leads_ohm: float | None) -> bool:
    """Return whether readings as expected, of every two wires, tell all wires apart."""
    if not FEWEST <= len(ohms) <= MOST:
        return False
    read_leads = LEADS_OHM / 2 if leads_ohm is None else leads_ohm
    places = range(len(ohms))
    readings = [(a, b, ohms[a] + ohms[b] + read_leads) for a, b in combinations(places, 2)]
    sure = list(_sure(ohms, list(permutations(places)), readings, leads_ohm))
    return sure == [(one, one) for one in places]


def unread(stage: Stage) -> tuple[int, int] | None:
    """Return the next two ends of one join, as far as is known, of which no ohms were read.

    `None` where an end of theirs was closed by ear: whoever does that reads no ohms.
    """
    touches = [touch for touch in stage.touches if touch.verdict == "closed"]
    if stage.at != "far" or any(touch.ohms is None for touch in touches):
        return None
    for component in stage.components():
        if FEWEST <= component.bit_count() <= MOST:
            for pair in combinations(bits(component), 2):
                if not stage.asked(*pair):
                    return pair
    return None


def _readings(stage: Stage, ends: list[int]) -> list[Reading]:
    return [
        (ends.index(pair[0]), ends.index(pair[1]), touches[-1].ohms)
        for pair, touches in stage.pairs.items()
        if pair[0] in ends and touches[-1].verdict == "closed" and touches[-1].ohms is not None
    ]


def _sure(
    ohms: list[float],
    ways: list[tuple[int, ...]],
    readings: list[Reading],
    leads_ohm: float | None,
) -> Iterator[tuple[int, int]]:
    weights = weigh(ohms, ways, readings, leads_ohm)
    whole = sum(weights)
    for place, wire in product(range(len(ohms)), repeat=2):
        share = sum(w for w, way in zip(weights, ways, strict=True) if way[place] == wire)
        if whole and share >= TOLD * whole:
            yield place, wire


def weigh(
    ohms: Sequence[float],
    ways: Sequence[tuple[int, ...]],
    readings: Sequence[Reading],
    leads_ohm: float | None,
) -> list[float]:
    """Return how well each way fits the readings, the best one as 1 or less.

    A way names for each end its wire, by its place in `ohms`.
    """
    leads = [leads_ohm] if leads_ohm is not None else [0.0, LEADS_OHM / 2, LEADS_OHM]
    worlds = list(product(_FACTORS, leads))
    fits = [[_log_fit(ohms, way, readings, *world) for world in worlds] for way in ways]
    best = max((one for row in fits for one in row), default=0.0)
    return [sum(exp(one - best) for one in row) / len(worlds) for row in fits]


def _log_fit(
    ohms: Sequence[float],
    way: tuple[int, ...],
    readings: Sequence[Reading],
    factor: float,
    leads_ohm: float,
) -> float:
    total = 0.0
    for one, other, read in readings:
        a, b = factor * ohms[way[one]], factor * ohms[way[other]]
        path = a + b + leads_ohm
        spread = sqrt((METER_SHARE * path) ** 2 + OWN_SHARE**2 * (a * a + b * b) + TWIST_OHM**2)
        total -= ((read - path) / spread) ** 2 / 2 + log(spread)
    return total
