# SPDX-License-Identifier: MIT
"""A high resistance in a path: how much too much it reads, and the joints that may be to blame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.electrical.faults.excess import compared, contacts, excess
from wiretrack.electrical.faults.methods import METHODS
from wiretrack.errors import BadInputError
from wiretrack.model.circuits import together
from wiretrack.model.entities import Conductor
from wiretrack.store import records
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.trouble.fault_lines import line_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.electrical.faults.excess import Excess
    from wiretrack.electrical.faults.uncertainty import Input
    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.fault_lines import Temperatures, Traced

_ADVICE = {
    "high": "a joint or terminal on the way is bad, or the conductor is thinner or longer than "
    "recorded",
    "not proved": "within what length, temperature, wire and contacts explain: no bad joint is "
    "proved; compare with a like conductor beside it",
    "too low": "less than the conductor can have: a shorter path was measured, or its record is "
    "wrong",
}


def high_resistance(
    registry: Registry,
    traced: Traced,
    along: str,
    like: Sequence[str],
    temps: Temperatures,
    read: Callable[[str, str], Input],
) -> dict[str, Any]:
    """Return the excess of a path end to end, the heat it makes, and the joints to look at."""
    reading = read("reading", along)
    if like:
        others = [_like(registry, text, temps, read) for text in like]
        found = compared(traced.line, reading, others)
    else:
        found = excess(traced.line, reading, contacts(len(traced.tags) - 1))
    return {
        "kind": "high-resistance",
        "method": found.method,
        "distance_m": None,
        "uncertainty_m": None,
        "from": traced.line[0].from_box,
        "to": traced.line[-1].to_box,
        "raceway": None,
        "between": [traced.line[0].from_box, traced.line[-1].to_box],
        "excess_ohms": found.ohms.value,
        "excess_uncertainty_ohms": found.ohms.expanded,
        "expected_ohms": found.expected_ohm,
        "proved": found.word == "high",
        "advice": _ADVICE[found.word],
        "heat_w": _heat(registry, traced.circuits, found),
        "joints": _joints(registry, traced),
        "source": f"{METHODS[found.method]}; {'; '.join(traced.sources)}; {found.source}",
        "remarks": [],
    }


def _like(
    registry: Registry, text: str, temps: Temperatures, read: Callable[[str, str], Input]
) -> Any:
    word, equals, value = text.rpartition("=")
    if not equals:
        raise BadInputError(f"'{text}' is no tag with its reading. Write TAG=OHMS.")
    return line_of(registry, [word], temps).line, read(word, value)


def _heat(registry: Registry, circuits: tuple[str, ...], found: Excess) -> float | None:
    """Return the heat in W at the bad joint with the circuit's stated highest current."""
    current = together(records.circuits(registry, circuits)).max_current_a
    return None if current is None or found.word != "high" else found.heat_w(current)


def _joints(registry: Registry, traced: Traced) -> list[dict[str, Any]]:
    """Return the terminals on the way, in order, each once."""
    found: dict[tuple[str, str | None], dict[str, Any]] = {}
    site = site_of(registry)
    for tag in traced.tags:
        for end in site.one(Conductor, tag_of(registry, tag)).ends:
            key = (end.enclosure, end.terminal)
            found[key] = {"enclosure": key[0], "terminal": key[1], "state": end.state}
    order = [traced.line[0].from_box, *(section.to_box for section in traced.line)]
    return sorted(found.values(), key=lambda joint: order.index(joint["enclosure"]))
