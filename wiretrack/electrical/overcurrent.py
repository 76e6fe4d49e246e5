# SPDX-License-Identifier: MIT
"""Which overcurrent device protects a circuit, and what the ends of its conductors are landed on.

The rating stated for the circuit counts first. Else it is that of the breaker or fuse that its line
conductors are landed on, directly or through a switch, contactor, splice or link in the same box.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from wiretrack.electrical.runs import Protection, Termination

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from wiretrack.model.entities import Circuit, Conductor
    from wiretrack.model.parts import Device, End

PROTECTING = ("breaker", "fuse")
_PASSED_THROUGH = ("disconnect", "contactor", "splice", "bus")
_NOT_PROTECTED = ("signal", "earthing")
LINES = ("L1", "L2", "L3", "L+", "L-")


class Landings:
    """The devices of a site by the terminals of their poles."""

    def __init__(self, devices: Iterable[Device]) -> None:
        self._at: defaultdict[tuple[str, str], list[Device]] = defaultdict(list)
        for device in devices:
            for code in dict.fromkeys(code for pole in device.poles for code in pole):
                self._at[device.enclosure, code].append(device)

    def terminations(self, conductor: Conductor) -> tuple[Termination, ...]:
        """Return what the ends of a conductor are landed on."""
        return tuple(
            Termination(f"{end.enclosure}/{end.terminal}", self._named(end))
            for end in (conductor.from_end, conductor.to_end)
            if end.terminal is not None
        )

    def _named(self, end: End) -> tuple[Device, ...]:
        """Return the devices at an end's terminal; the one that it is named after, if there."""
        found = self._at.get((end.enclosure, end.terminal or ""), [])
        own = [d for d in found if (end.terminal or "").startswith(f"{d.code}:")]
        return tuple(own or found)

    def protecting(self, end: End) -> list[Device]:
        """Return the breakers and fuses that an end is landed on or joined to within its box."""
        return [device for device, _ in self._poles(end)]

    def poles(self, conductor: Conductor) -> tuple[str, ...]:
        """Return the poles of breakers and fuses that a conductor's ends are joined to."""
        return tuple(
            f"{device.enclosure}/{device.code} pole {number}"
            for end in (conductor.from_end, conductor.to_end)
            for device, number in self._poles(end)
        )

    def _poles(self, end: End) -> list[tuple[Device, int]]:
        """Return the protecting poles that an end is joined to within its box.

        A terminal that several poles of one device share is where these are joined, behind them.
        """
        if end.terminal is None:
            return []
        queue, seen = [end.terminal], {end.terminal}
        found: list[tuple[Device, int]] = []
        while queue:
            here = queue.pop()
            devices = self._at.get((end.enclosure, here), [])
            stops = [device for device in devices if device.kind in PROTECTING]
            for device in stops:
                own = [number for number, pole in enumerate(device.poles, 1) if here in pole]
                found += [(device, own[0])] if len(own) == 1 else []
            if stops:
                continue
            for device in devices:
                if device.kind not in _PASSED_THROUGH:
                    continue
                there = {code for pole in device.poles if here in pole for code in pole} - seen
                seen |= there
                queue += sorted(there)
        return found


Rated = dict[str, tuple[float, str | None]]


def protection_of(
    circuit: Circuit, own: Sequence[Conductor], landings: Landings
) -> Protection | None:
    """Return the overcurrent device of a circuit, or None if no rating is known."""
    if circuit.system in _NOT_PROTECTED:
        return None
    lines = [conductor for conductor in own if conductor.function in LINES]
    first = _rated(landings, (conductor.from_end for conductor in lines))
    rated = first | _rated(landings, (conductor.to_end for conductor in lines))
    if circuit.overcurrent_a is not None:
        return _stated(circuit.overcurrent_a, rated, first)
    if not rated:
        return None
    ratings = [rating for rating, _ in rated.values()]
    kinds = {kind for _, kind in rated.values()}
    kind = kinds.pop() if len(kinds) == 1 else None
    return Protection(min(ratings), max(ratings), " or ".join(list(rated)[:3]), kind)


def _rated(landings: Landings, ends: Iterable[End]) -> Rated:
    return {
        f"{device.kind} {device.enclosure}/{device.code}": (device.rating_a, device.kind)
        for end in ends
        for device in landings.protecting(end)
        if device.rating_a is not None
    }


def _stated(rating_a: float, rated: Rated, first: Rated) -> Protection:
    """Return the stated device; what the circuit is landed on tells its kind.

    A device at the conductors' first end with another rating contradicts it. One at their second
    end may be another device further on.
    """
    same = [name for name, (rating, _) in rated.items() if rating == rating_a]
    if same:
        return Protection(rating_a, rating_a, same[0], rated[same[0]][1])
    clash = "; ".join(f"{name} is rated {rating:g} A" for name, (rating, _) in first.items())
    return Protection(rating_a, rating_a, "overcurrent device", None, clash)
